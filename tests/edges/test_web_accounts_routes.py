"""Every route there is, walked: who gets in, who does not, and that a job of others looks like no job at all."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from fastapi.routing import APIRoute, APIRouter
from httpx2 import Response

from subbase.journal import accounts as who
from subbase.journal.events import new_key
from subbase.journal.tokens import make_token
from subbase.web.app import ROUTERS
from subbase.web.callers import READER_ROUTES, SAFE
from subbase.web.gate import OPEN_ROUTES
from tests.journal_entries import photo
from tests.web_callers import Browser, Firm, firm, form_token
from tests.web_jobs import put_job


@dataclass(frozen=True, slots=True)
class Way:
    """One route with one method."""

    method: str
    path: str

    def to(self, job: str, picture: str) -> str:
        """Return its address for a job."""
        given = {"job": job, "name": "packet.pdf", "photo": picture, "_version": "x", "token": "made-up"}
        return re.sub(r"{(\w+)(:\w+)?}", lambda match: given.get(match[1], "made-up"), self.path)


def _ways(routers: tuple[APIRouter, ...]) -> list[Way]:
    found = []
    for router in routers:
        for route in router.routes:
            assert isinstance(route, APIRoute), f"{route} is no plain route: the gate may not stand before it"
            found += [Way(method, route.path) for method in sorted(route.methods or ())]
    return found


WAYS = _ways(ROUTERS)
OF_A_JOB = [way for way in WAYS if "{job}" in way.path]


@dataclass
class House:
    """A firm with one job of Bo's, and one of Cy's."""

    firm: Firm
    job: str
    other: str
    photo: str


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """The app with accounts and two jobs."""
    with firm(tmp_path_factory.mktemp("firm")) as found:
        goes = found.app.state.goes
        ticks = iter(range(0, 10**9, 1000))
        goes.clock = lambda: float(next(ticks))
        jobs = [put_job(found.journal), put_job(found.journal)]
        for job, name in zip(jobs, ("bo", "cy"), strict=True):
            who.give_job(found.journal, job, found.people[name].id)
        yield House(found, jobs[0], jobs[1], found.journal.put_photo(jobs[0], photo()))


def _ask(browser: Browser, way: Way, address: str, token: str = "") -> Response:
    headers = {"X-Form-Token": token} if token else {}
    return browser.client.request(way.method, address, headers=headers, follow_redirects=False)


def _told(answer: Response, job: str) -> tuple[int, str, list[tuple[str, str]]]:
    headers = [(name, value) for name, value in answer.headers.items() if name not in ("date", "content-length")]
    return answer.status_code, answer.text.replace(job, "JOB"), sorted(headers)


def test_every_route_is_behind_the_gate(house: House) -> None:
    """The app has no route but those that are walked here."""
    kinds = {type(route).__name__ for route in house.firm.app.routes}
    inside = [route.path for route in house.firm.app.routes if isinstance(route, APIRoute)]
    assert kinds <= {"_IncludedRouter", "APIRoute"}
    assert set(inside) <= {way.path for way in WAYS}
    assert len(OF_A_JOB) > 25
    assert {way.path for way in WAYS} >= OPEN_ROUTES | READER_ROUTES


def test_strangers_see_the_sign_in_and_nothing_else(house: House) -> None:
    """Whoever has not signed in is sent to the sign-in, or told that they are signed out; no page of a job is shown."""
    browser = house.firm.browser()
    token = form_token(browser.client, "/sign-in")
    for way in WAYS:
        if way.path in OPEN_ROUTES:
            continue
        answer = _ask(browser, way, way.to(house.job, house.photo), token)
        if way.method in SAFE and not way.path.startswith("/api/"):
            assert answer.status_code == 303, way
            assert answer.headers["location"].startswith("/sign-in?next="), way
        else:
            assert answer.status_code == 401, way
    assert house.firm.journal.job(house.job).events == 2


def test_a_job_of_others_is_no_job(house: House) -> None:
    """Cy gets the very same answer for Bo's job as for one that does not exist, on every route and with every method."""
    cy, none = house.firm.signed_in("cy"), new_key()
    token = form_token(cy.client, "/account")
    for way in OF_A_JOB:
        told = [_told(_ask(cy, way, way.to(job, house.photo), token), job) for job in (house.job, none)]
        assert told[0] == told[1], way
        assert told[0][0] == 404, way
    assert house.firm.journal.job(house.job).events == 2


def test_a_token_of_others_opens_no_job(house: House) -> None:
    """A script of Cy's gets no further than Cy does."""
    client, none = house.firm.browser().client, new_key()
    client.headers["Authorization"] = f"Bearer {make_token(house.firm.journal, house.firm.people['cy'].id, 'script')}"
    for way in OF_A_JOB:
        answers = [
            client.request(way.method, way.to(job, house.photo), follow_redirects=False) for job in (house.job, none)
        ]
        assert _told(answers[0], house.job) == _told(answers[1], none), way
        assert answers[0].status_code == 404, way


def test_their_own_job_is_there(house: House) -> None:
    """What is refused to Cy is shown to Bo and to the office: the walk above knocked at real doors."""
    for name in ("bo", "ann"):
        browser = house.firm.signed_in(name)
        for way in OF_A_JOB:
            if way.method == "GET":
                answer = browser.get(way.to(house.job, house.photo))
                while answer.status_code == 202:
                    answer = browser.get(way.to(house.job, house.photo))
                # No rooms are drawn in this house, so there is no verdict on them.
                good = (409,) if way.path.endswith("/site") else (200, 303, 422)
                if name == "bo" and way.path.endswith("/erase"):
                    good = (404,)  # An installer finishes jobs; only the office erases them.
                assert answer.status_code in good, (way, answer.text)
    assert browser.get("/jobs/" + house.other).status_code == 303


def test_an_owner_s_link_reads_one_job_and_no_more(house: House) -> None:
    """The link opens what was handed over and the papers of its job; every other route of any job is not there."""
    token = who.make_share(house.firm.journal, house.job, "Bo")
    owner = house.firm.browser()
    answer = owner.get(f"/look/{token}")
    assert answer.headers["location"] == f"/jobs/{house.job}/look"
    assert answer.headers["referrer-policy"] == "no-referrer"
    form = form_token(owner.client, "/sign-in")
    for way in WAYS:
        if way.path in OPEN_ROUTES:
            continue
        mine = _ask(owner, way, way.to(house.job, house.photo), form)
        if way.path in READER_ROUTES and way.method == "GET":
            assert mine.status_code == 200, way
            assert "<form" not in mine.text
        elif "{job}" in way.path:
            assert mine.status_code == 404, way
        else:
            assert mine.status_code in (303, 401), way
        if "{job}" in way.path:
            assert _ask(owner, way, way.to(house.other, house.photo), form).status_code == 404, way
    (share,) = who.shares(house.firm.journal, house.job)
    who.end_share(house.firm.journal, house.job, share.id)
    assert owner.get(f"/jobs/{house.job}/look").status_code == 303
    assert owner.get(f"/look/{token}").status_code == 404


def test_no_form_is_taken_without_its_token(house: House) -> None:
    """Every route that changes something refuses a form of Bo's browser that bears no token, a wrong one, or another's."""
    bo, cy = house.firm.signed_in("bo"), house.firm.signed_in("cy")
    before = house.firm.journal.job(house.job).events
    other = form_token(cy.client, "/account")
    for way in WAYS:
        if way.method in SAFE:
            continue
        for token in ("", "made-up", other):
            answer = _ask(bo, way, way.to(house.job, house.photo), token)
            assert answer.status_code == 403, (way, token)
    assert house.firm.journal.job(house.job).events == before


def test_what_only_the_office_sees_is_not_there_for_others(house: House) -> None:
    """People and record are pages of the office; a script's token reaches no page about people at all."""
    bo = house.firm.signed_in("bo")
    token = form_token(bo.client, "/account")
    client = house.firm.browser().client
    client.headers["Authorization"] = f"Bearer {make_token(house.firm.journal, house.firm.people['ann'].id, 'script')}"
    for way in WAYS:
        if way.path.startswith(("/people", "/record")):
            assert _ask(bo, way, way.path, token).status_code in (404, 422), way
            assert client.request(way.method, way.path, follow_redirects=False).status_code in (404, 422), way
    fields = {"name": "eve", "role": "office"}
    assert client.post("/people", data=fields).status_code == 404
    assert bo.post("/people", fields).status_code == 404
    assert client.get("/account").status_code == 404
    assert "eve" not in [item.name for item in who.accounts(house.firm.journal)]


def test_a_list_shows_the_jobs_that_are_theirs(house: House) -> None:
    """Installers find their own jobs in the list, the office all; what somebody begins is theirs."""
    bo, ann = house.firm.signed_in("bo"), house.firm.signed_in("ann")
    assert house.job in bo.get("/").text
    assert house.other not in bo.get("/").text
    assert house.other in ann.get("/").text
    made = bo.post("/jobs", {"name": "Walnut Row 9"}, page="/").headers["location"]
    assert bo.get(made).status_code == 200
    assert house.firm.signed_in("cy").get(made).status_code == 404
    assert house.firm.journal.events(made.split("/")[2])[0].actor == "bo"


def test_beginning_a_job_under_another_s_id_takes_nothing(house: House) -> None:
    """A form whose key is the id of somebody else's job leads to a page that is not there."""
    cy = house.firm.signed_in("cy")
    answer = cy.post("/jobs", {"name": "Mine", "key": house.job}, page="/")
    assert cy.get(answer.headers["location"]).status_code == 404
    assert house.firm.journal.state(house.job).name != "Mine"


def test_a_script_s_token_works_until_it_is_taken_back(house: House) -> None:
    """A token needs no form token, keeps entries under its person's name, and ends when it is taken back or the account is closed."""
    dee = who.add_account(house.firm.journal, "dee", "installer", "eight wet conductors")
    browser = house.firm.browser()
    browser.sign_in("dee", "eight wet conductors")
    text = browser.post("/account/tokens", {"name": "night run", "days": "7"}).text
    token = re.search(r"subbase-[\w-]{43}", text)
    assert token is not None
    assert token[0] not in browser.get("/account").text
    client = house.firm.browser().client
    client.headers["Authorization"] = f"Bearer {token[0]}"
    made = client.post("/jobs", data={"name": "Made by night"}, follow_redirects=False)
    assert made.status_code == 303
    assert house.firm.journal.events(made.headers["location"].split("/")[2])[0].actor == "dee"
    who.set_active(house.firm.journal, dee.id, False)
    answer = client.get("/", follow_redirects=False)
    assert (answer.status_code, answer.headers["www-authenticate"]) == (401, "Bearer")
    client.headers["Authorization"] = "Bearer made-up"
    assert client.get("/", follow_redirects=False).status_code == 401
