"""Jobs behind the app's own pages, as a browser without scripts sees them: get a page, fill in its form, send it."""

from __future__ import annotations

import html
import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient
from httpx2 import Response

from subbase.journal import JobState
from subbase.journal.bodies import SurveyEdited
from subbase.journal.events import Entry, new_key
from subbase.journal.store import Journal
from subbase.web.app import create_app
from subbase.web.settings import Settings
from tests.houses import EXAMPLES
from tests.web_callers import at_home

ONE = "01-no-common-spare-blue"


def put_job(journal: Journal, name: str = ONE, text: str | None = None) -> str:
    """Return a new job with the survey of an example, or with this text."""
    job = journal.create_job(name)
    survey = (EXAMPLES / f"{name}.yaml").read_text("utf-8") if text is None else text
    edited = Entry(key=new_key(), made_at=datetime.now(tz=UTC), body=SurveyEdited(text=survey))
    journal.append(job, [edited])
    return job


@dataclass
class Visitor:
    """One job and whoever looks at it."""

    client: TestClient
    journal: Journal
    job: str

    @property
    def state(self) -> JobState:
        """Return the job as the journal has it."""
        return self.journal.state(self.job)

    def get(self, path: str) -> Response:
        """Return a page, looking again while it is being worked out."""
        answer = self.client.get(f"/jobs/{self.job}/{path}")
        while answer.status_code == 202:
            assert answer.headers["refresh"]
            answer = self.client.get(f"/jobs/{self.job}/{path}")
        return answer

    def post(self, path: str, fields: dict[str, Any] | None = None, *, key: str = "") -> Response:
        """Send a form and return the page that it leads to."""
        answer = self.client.post(f"/jobs/{self.job}/{path}", data={"key": key or str(uuid.uuid4()), **(fields or {})})
        while answer.status_code == 202:
            answer = self.client.get(answer.url)
        return answer

    def step(self, step: str, act: str = "done", **more: Any) -> Response:
        """Tell what came of a work step."""
        return self.post("work/result", {"step": step, "act": act, **more})

    def do_what_is_shown(self) -> str:
        """Do the step that the Work page shows, as it must be, and return its id; empty when there is none."""
        text = self.get("work").text
        match = re.search(r'<section class="step".*?name="step" value="([^"]+)"', text, re.DOTALL)
        if match is None:
            return ""
        step = html.unescape(match[1])
        fields = {"who": "A licensed person"} if 'name="who"' in text else {}
        must = re.search(r"It must read</span> <b>([^<]+)</b>", text)
        if must is None:
            answer = self.step(step, **fields)
        elif must[1] == "OL":
            answer = self.step(step, "ol", **fields)
        else:
            ends = [float(number) for number in re.findall(r"\d+\.?\d*", must[1])]
            value = sum(ends) / 2 if len(ends) > 1 else ends[0] + 1
            answer = self.step(step, "read", value=f"{value:.2f}", **fields)
        assert answer.status_code == 200, answer.text
        return step


@contextmanager
def answering(folder: Path) -> Iterator[tuple[TestClient, Journal]]:
    """Yield the app over a new journal; what it works out for one job it remembers for the next with the same survey."""
    app = create_app(Settings(journal=folder / "jobs.db"))
    journal = app.state.office.journal
    with at_home(app) as client:
        yield client, journal
    journal.close()


@contextmanager
def visiting(folder: Path, name: str = ONE, text: str | None = None) -> Iterator[Visitor]:
    """Yield the app over a new journal with one job."""
    with answering(folder) as (client, journal):
        yield Visitor(client, journal, put_job(journal, name, text))
