"""Every page of the app, each with the states in which it looks otherwise, for what holds of all of them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fastapi.routing import APIRoute

from subbase.web.app import ROUTERS
from tests.browser.conftest import Server
from tests.web_jobs import put_job

NOT_PAGES = frozenset(
    {
        "/static/{_version}/{name}", "/keeper.js", "/subbase.webmanifest", "/unsent/token", "/jobs/{job}/kept.json", "/jobs/{job}",
        "/jobs/{job}/papers/{name}", "/jobs/{job}/field-file", "/jobs/{job}/job-file", "/jobs/{job}/survey/survey.yaml",
        "/jobs/{job}/photos/{photo}.jpg", "/jobs/{job}/tune/schedule/{number}.ics", "/jobs/{job}/tune/settings.pdf",
    }
)  # fmt: skip
"""Files, data, and what only leads elsewhere."""
NEED_ACCOUNTS = frozenset(
    {"/sign-in", "/account", "/people", "/record", "/look/{token}", "/jobs/{job}/look", "/jobs/{job}/who"}
)
"""Pages of a server with accounts; they are looked at where that is tested."""
ONE, LARGEST, STOPPED, ASKING = (
    "01-no-common-spare-blue", "15-zone-panel-three-controls", "10-stop-line-voltage", "08-changeover-not-known",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """One page in one state."""

    name: str
    route: str
    path: str


def every_page(server: Server) -> list[Shown]:
    """Put a few jobs into the journal, and return every page of theirs and of the app."""
    one, stopped, asking = (put_job(server.journal, name) for name in (ONE, STOPPED, ASKING))
    empty = server.journal.create_job("House with nothing yet")
    of_one = [
        Shown(name, f"/jobs/{{job}}/{path.partition('?')[0]}", f"/jobs/{one}/{path}")
        for name, path in (
            ("survey", "survey"), ("survey-text", "survey/text"), ("plan", "plan"), ("work-begin", "work"),
            ("work-step", "work?step=look%2Fstop"), ("work-steps", "work/steps"), ("check", "check"),
            ("call", "check/call?of=hall%3A%20heat%201"), ("fault", "check/fault"), ("tune", "tune"), ("tune-year", "tune/year"), ("hand-over", "hand-over"),
            ("history", "history"), ("erase", "erase"), ("live", "plan/live"), ("rooms", "survey/rooms"), ("rooms-verdict", "survey/rooms/verdict"),
        )
    ]  # fmt: skip
    others = [
        Shown("plan-stopped", "/jobs/{job}/plan", f"/jobs/{stopped}/plan"),
        Shown("survey-stopped", "/jobs/{job}/survey", f"/jobs/{stopped}/survey"),
        Shown("plan-asking", "/jobs/{job}/plan", f"/jobs/{asking}/plan"),
        Shown("survey-empty", "/jobs/{job}/survey", f"/jobs/{empty}/survey"),
        Shown("work-empty", "/jobs/{job}/work", f"/jobs/{empty}/work"),
        Shown("not-there", "/jobs/{job}/plan", "/jobs/nothing/plan"),
        Shown("jobs", "/", "/"),
        Shown("jobs-none", "/", "/?search=no-such-name"),
        *(Shown(path.rpartition("/")[2], path, path) for path in ("/unsent", "/help/offline", "/help/not-kept")),
    ]
    return [*of_one, *others]


def routes() -> set[str]:
    """Return the route of every page that anybody can get."""
    found = [route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute)]
    pages = {route.path for route in found if "GET" in (route.methods or ()) and not route.path.startswith("/api/")}
    return pages - NOT_PAGES - NEED_ACCOUNTS


def slug(shown: Shown) -> str:
    """Return a page's name as part of a file name."""
    return re.sub(r"[^a-z0-9]+", "-", shown.name)
