"""The office's pages: accounts, who sees a job, links for owners, and the record of who saw what."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from httpx2 import Response

from subbase.journal import accounts as who
from subbase.journal.accounts import Account
from subbase.web.people import LINES
from tests.web_callers import PASSWORD, Firm, firm
from tests.web_jobs import put_job


@pytest.fixture
def people(tmp_path: Path) -> Iterator[Firm]:
    """The app with accounts."""
    with firm(tmp_path) as found:
        yield found


def _once(answer: Response) -> str:
    """Return what a page shows this once."""
    found = re.search(r'<code class="once">([^<]+)</code>', answer.text)
    assert found is not None, answer.text
    assert answer.headers["cache-control"] == "no-store"
    return found[1]


def _said(people: Firm) -> list[tuple[str, str]]:
    return [(line.who, line.what) for line in reversed(who.recorded(people.journal))]


def _of(people: Firm, name: str) -> Account:
    return next(item for item in who.accounts(people.journal) if item.name == name)


def test_the_office_adds_somebody(people: Firm) -> None:
    """A new person gets a first password, which is shown once, works once, and leads to choosing another."""
    ann = people.signed_in("ann")
    password = _once(ann.post("/people", {"name": "dee", "role": "installer"}, page="/people"))
    assert password not in ann.get("/people").text
    dee = people.browser()
    assert dee.sign_in("dee", password).headers["location"] == "/account"
    assert "Choose a password of your own" in dee.get("/account").text
    assert ann.post("/people", {"name": "dee", "role": "installer"}, page="/people").status_code == 422
    assert ann.post("/people", {"name": "eve", "role": "owner of all"}, page="/people").status_code == 422


def test_a_forgotten_password_is_replaced(people: Firm) -> None:
    """A new first password ends whatever was open with the old one."""
    ann, bo = people.signed_in("ann"), people.signed_in("bo")
    password = _once(ann.post("/people/password", {"account": people.people["bo"].id}, page="/people"))
    assert bo.get("/").status_code == 303
    assert people.browser().sign_in("bo").status_code == 401
    assert people.browser().sign_in("bo", password).status_code == 303


def test_a_closed_account_is_out_at_once(people: Firm) -> None:
    """Closing ends every session; opening again lets the same password in. One's own account stays."""
    ann, bo = people.signed_in("ann"), people.signed_in("bo")
    ann.post("/people/active", {"account": people.people["bo"].id, "active": "no"}, page="/people")
    assert bo.get("/").status_code == 303
    assert people.browser().sign_in("bo").status_code == 401
    ann.post("/people/active", {"account": people.people["bo"].id, "active": "yes"}, page="/people")
    assert people.browser().sign_in("bo").status_code == 303
    mine = ann.post("/people/active", {"account": people.people["ann"].id, "active": "no"}, page="/people")
    assert mine.status_code == 422
    assert _of(people, "ann").active
    assert ann.post("/people/active", {"account": "made-up", "active": "no"}, page="/people").status_code == 404


def _job_of_bo(people: Firm) -> str:
    job = put_job(people.journal)
    who.give_job(people.journal, job, people.people["bo"].id)
    return job


def test_a_job_is_given_and_taken(people: Firm) -> None:
    """An installer may give their job to another; only the office takes it back."""
    job, bo, cy = _job_of_bo(people), people.signed_in("bo"), people.signed_in("cy")
    here, fields = f"/jobs/{job}/who", {"account": people.people["cy"].id}
    assert cy.get(here).status_code == 404
    bo.post(f"{here}/give", fields)
    assert cy.get(here).status_code == 200
    assert bo.post(f"{here}/take", fields).status_code == 404
    assert cy.get(here).status_code == 200
    people.signed_in("ann").post(f"{here}/take", fields)
    assert cy.get(here).status_code == 404
    assert bo.post(f"{here}/give", {"account": "made-up"}).status_code == 404


def test_a_link_is_made_shown_once_and_taken_back(people: Firm) -> None:
    """The owner reads with it until it is taken back, from whichever browser."""
    job, bo = _job_of_bo(people), people.signed_in("bo")
    link = _once(bo.post(f"/jobs/{job}/who/links", {"days": "30"}))
    token = link.rpartition("/")[2]
    assert link == f"http://127.0.0.1:8024/look/{token}"
    assert len(token) >= 43
    owner = people.browser("198.51.100.3")
    assert owner.get(f"/look/{token}").headers["location"] == f"/jobs/{job}/look"
    page = owner.get(f"/jobs/{job}/look").text
    assert "packet.pdf" in page
    assert f"/jobs/{job}/survey" not in page
    assert owner.get(f"/jobs/{job}/papers/packet.pdf").content.startswith(b"%PDF")
    assert owner.get(f"/jobs/{job}/hand-over").status_code == 404
    (share,) = who.shares(people.journal, job)
    bo.post(f"/jobs/{job}/who/links/end", {"link": share.id})
    assert owner.get(f"/jobs/{job}/papers/packet.pdf").status_code == 303
    assert bo.post(f"/jobs/{job}/who/links", {"days": "100000"}).status_code == 422


def test_an_installer_with_a_link_keeps_what_is_theirs(people: Firm) -> None:
    """Somebody signed in who opens an owner's link sees that job to read, and their own jobs as before."""
    job, cy = _job_of_bo(people), people.signed_in("cy")
    token = who.make_share(people.journal, job, "bo")
    cy.get(f"/look/{token}")
    assert cy.get(f"/jobs/{job}/look").status_code == 200
    assert cy.get("/").status_code == 200
    for page in ("survey", "job-file", "who", "history", "field-file"):
        assert cy.get(f"/jobs/{job}/{page}").status_code == 404, page
    assert cy.post(f"/jobs/{job}/who/give", {"account": people.people["cy"].id}).status_code == 404


def test_who_saw_what_is_on_record(people: Firm) -> None:
    """The record names person, kind of page and job; the same page again within a while is not written twice."""
    job, bo = _job_of_bo(people), people.signed_in("bo")
    for _ in range(2):
        bo.get(f"/jobs/{job}/survey")
    bo.get(f"/jobs/{job}/papers/landings.csv")
    bo.post(f"/jobs/{job}/survey/text", {"text": "survey: 1\n"})
    token = who.make_share(people.journal, job, "bo")
    owner = people.browser()
    owner.get(f"/look/{token}")
    owner.get(f"/jobs/{job}/look")
    link = f"link {who.shares(people.journal, job)[0].id[:8]}"
    people.signed_in("cy").get(f"/jobs/{job}/survey")
    assert _said(people) == [
        ("bo", "signed in"),
        ("bo", "saw survey"),
        ("bo", "saw papers/landings.csv"),
        ("bo", "sent survey/text"),
        (link, "opened a link"),
        (link, "saw look"),
        ("cy", "signed in"),
    ]
    assert {line.address for line in who.recorded(people.journal)} == {"203.0.113.0/24"}


def test_the_record_is_read_by_pages(people: Firm) -> None:
    """The office reads it, the newest first, page by page, all of it or of one job."""
    job, ann = _job_of_bo(people), people.signed_in("ann")
    for at in range(LINES + 5):
        who.record(people.journal, "bo", f"number {at}", job=job if at % 2 else "job-deleted")
    first = ann.get("/record").text
    assert f"number {LINES + 4}" in first
    assert "number 4<" not in first
    older = re.search(r'href="(/record\?before=\d+)"', first)
    assert older is not None
    rest = ann.get(older[1]).text
    assert "number 4<" in rest
    assert "signed in" in rest
    assert "deleted" in rest
    only = ann.get(f"/record?job={job}").text
    assert "number 1<" in only
    assert "number 2<" not in only


def test_nothing_secret_is_on_record_or_in_the_log(people: Firm, caplog: pytest.LogCaptureFixture) -> None:
    """Passwords, also one typed as a name, tokens and cookies are in no line of the record and no line of the log."""
    caplog.set_level("DEBUG")
    job, bo = _job_of_bo(people), people.signed_in("bo")
    stranger = people.browser()
    stranger.sign_in("my secret as a name", "my secret as a password")
    script = _once(bo.post("/account/tokens", {"name": "night run", "days": "7"}))
    link = _once(bo.post(f"/jobs/{job}/who/links", {"days": "30"})).rpartition("/")[2]
    people.browser().get(f"/look/{link}")
    first = _once(people.signed_in("ann").post("/people/password", {"account": people.people["cy"].id}, page="/people"))
    fields = {"current": PASSWORD, "new": "eight wet conductors", "again": "eight wet conductors"}
    bo.post("/account/password", fields)
    cookies = [cookie.value or "" for browser in (bo, stranger) for cookie in browser.client.cookies.jar]
    logged = [record.getMessage() for record in caplog.records if not record.name.startswith("httpx2")]
    written = str([*who.recorded(people.journal), *logged])
    assert ("?", "sign-in refused") in _said(people)
    for secret in (PASSWORD, "my secret", script, link, first, "eight wet conductors", *cookies):
        assert secret
        assert secret not in written


def test_trouble_with_a_link_does_not_log_it(
    people: Firm, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When something breaks while a link is opened, the log names the page and not the link."""

    def broken(*_: object) -> None:
        raise RuntimeError("broken")

    monkeypatch.setattr(who, "share_of", broken)
    answer = people.browser().get("/look/a-very-secret-token")
    assert answer.status_code == 500
    logged = [record.getMessage() for record in caplog.records if record.name == "subbase.web"]
    assert any("/look/..." in line for line in logged)
    assert "a-very-secret-token" not in str(logged)
    assert "broken" not in answer.text


def test_a_name_with_script_in_it_is_a_name(people: Firm) -> None:
    """What people call themselves, their tokens and their jobs is shown as text on every page that shows it."""
    bad = "<script>alert(1)</script>"
    ann = people.signed_in("ann")
    ann.post("/people", {"name": bad, "role": "installer"}, page="/people")
    ann.post("/account/tokens", {"name": bad, "days": "7"})
    job = put_job(people.journal)
    who.give_job(people.journal, job, _of(people, bad).id)
    who.record(people.journal, bad, bad, job=job)
    for path in ("/people", "/account", "/record", f"/jobs/{job}/who"):
        text = ann.get(path).text
        assert bad not in text
        assert "&lt;script&gt;" in text


def test_pages_say_when_a_connection_is_open_to_others(people: Firm) -> None:
    """Without TLS the sign-in warns whoever is not at this machine itself."""
    assert "not encrypted" in people.browser("192.168.1.9").get("/sign-in").text
    assert "not encrypted" not in people.browser("127.0.0.1").get("/sign-in").text


def test_a_full_office_disk_keeps_nobody_from_the_job(people: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the record cannot be written the page is shown all the same, and the log says so."""
    from subbase.journal.trouble import JournalFull

    job, bo = _job_of_bo(people), people.signed_in("bo")

    def full(*_: object, **__: object) -> None:
        raise JournalFull("The disk is full.")

    monkeypatch.setattr(who, "record", full)
    assert bo.get(f"/jobs/{job}/survey").status_code == 200


def test_every_page_fits_a_phone_without_network_weight(people: Firm) -> None:
    """Each of these pages is under 100 kB."""
    job, ann = _job_of_bo(people), people.signed_in("ann")
    for path in ("/people", "/account", "/record", f"/jobs/{job}/who", f"/jobs/{job}/look"):
        assert len(ann.get(path).content) < 100_000
