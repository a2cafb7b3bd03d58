"""The API as a program uses it: jobs, entries, surveys, photos, whole jobs; one shape of error, pages, keys, marks."""

from __future__ import annotations

import io
import json
import re
import uuid
from typing import Any

import pytest
import yaml
from fastapi.testclient import TestClient
from httpx2 import Response
from PIL import Image

from subbase.journal.store import Journal
from subbase.web.api_problem import PROBLEMS, type_of
from tests.houses import EXAMPLES
from tests.journal_entries import entry
from tests.web_jobs import ONE, put_job

ROOT = "/api/v1"
YAML = {"Content-Type": "application/yaml"}
ZIP = {"Content-Type": "application/zip"}
SURVEY = (EXAMPLES / f"{ONE}.yaml").read_text("utf-8")


class Desk:
    """A program at the API, and one job."""

    def __init__(self, client: TestClient, journal: Journal) -> None:
        self.client, self.journal, self.job = client, journal, put_job(journal)

    def get(self, path: str, **more: Any) -> Response:
        """Read something of the job, asking again while it is being worked out."""
        answer = self.client.get(f"{ROOT}/jobs/{self.job}/{path}", **more)
        while answer.status_code == 202:
            assert answer.headers["retry-after"] == "1"
            assert answer.json()["working"] is True
            answer = self.client.get(answer.json()["again"], **more)
        return answer

    def send(self, *entries: Any) -> Response:
        """Add entries to the job."""
        return self.client.post(f"{ROOT}/jobs/{self.job}/entries", json={"entries": list(entries)})

    def note(self, number: int, text: str = "seen") -> dict[str, Any]:
        """Return an entry that may be sent; the same for the same number."""
        made: dict[str, Any] = entry(number, {"kind": "note_made", "text": text}).model_dump(mode="json")
        return made


@pytest.fixture
def desk(app: tuple[TestClient, Journal]) -> Desk:
    """The API with a new job of the first example."""
    return Desk(*app)


def problem(answer: Response, status: int) -> dict[str, Any]:
    """Return a problem document, looked at."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    told: dict[str, Any] = answer.json()
    assert set(told) == {"type", "title", "status", "detail", "faults"}
    assert told["status"] == status
    assert told["type"] == type_of(status)
    assert told["title"]
    for fault in told["faults"]:
        assert set(fault) == {"file", "line", "column", "field", "message"}
    return told


# Jobs.


def test_a_job_that_is_begun_twice_with_one_id_is_one_job(desk: Desk) -> None:
    """The second request answers 200 instead of 201, with the same job."""
    new = {"name": "Hill Road 7", "id": str(uuid.uuid4())}
    first, again = (desk.client.post(f"{ROOT}/jobs", json=new) for _time in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.headers["location"] == f"{ROOT}/jobs/{new['id']}"
    assert first.json() == again.json() == desk.client.get(first.headers["location"]).json()
    assert desk.journal.job(new["id"]).events == 1


def test_a_list_is_paged_to_its_end_without_a_job_lost_or_shown_twice(desk: Desk) -> None:
    """Following 'next' gives every job once, in the order of the pages, though a job is changed on the way."""
    made = [desk.journal.create_job(f"Paged {number}") for number in range(7)]
    found, address = [], f"{ROOT}/jobs?limit=3&search=paged"
    while address:
        told = desk.client.get(address).json()
        found += [job["id"] for job in told["jobs"]]
        address = told["next"]
        desk.journal.append(made[-1], [entry(len(found), {"kind": "note_made", "text": "changed"})])
    assert found == made[::-1]


@pytest.mark.parametrize(
    "cursor", ["x", "AAAA", "MjAyNg", "%00", "é", "9999-12-31T23:59:59+00:00", "MDAwMS0wMS0wMVQwMDowMCswMDowMCBh"]
)
def test_a_cursor_that_is_none_is_a_fault_of_the_field(desk: Desk, cursor: str) -> None:
    """No made-up cursor breaks anything; one that names a place gives what comes after it."""
    answer = desk.client.get(f"{ROOT}/jobs", params={"cursor": cursor})
    if answer.status_code != 200:
        assert problem(answer, 422)["faults"][0]["field"] == "cursor"


# Entries.


def test_entries_are_answered_one_by_one(desk: Desk) -> None:
    """Kept, already there, another content under the same key, and one that cannot be read: none holds up another."""
    assert desk.send(desk.note(1)).json()["results"][0]["result"] == "kept"
    bad = desk.note(9) | {"body": {"kind": "note_made", "text": 5}}
    told = desk.send(desk.note(1), desk.note(1, "other"), bad, 7, desk.note(2)).json()
    assert [item["result"] for item in told["results"]] == ["already", "refused", "refused", "refused", "kept"]
    assert [item["sequence"] for item in told["results"]] == [3, None, None, None, 4]
    assert all(bool(item["reason"]) == (item["result"] == "refused") for item in told["results"])
    assert told["sequence"] == desk.journal.job(desk.job).events == 4


def test_events_are_read_on_from_where_one_stopped(desk: Desk) -> None:
    """Pages since a sequence number join without a gap, and end."""
    desk.send(*(desk.note(number) for number in range(5)))
    found, address = [], f"{ROOT}/jobs/{desk.job}/entries?limit=2"
    while address:
        told = desk.client.get(address).json()
        found += [event["sequence"] for event in told["events"]]
        address = told["next"]
    assert found == list(range(1, 8))
    assert desk.client.get(f"{ROOT}/jobs/{desk.job}/entries?after=7").json()["events"] == []


@pytest.mark.parametrize("body", [b"{", b"[]", b"{}", b'{"entries": []}', b'{"entries": 5}', b"\xff", b"[" * 100_000])
def test_a_body_that_is_no_list_of_entries_is_refused_whole(desk: Desk, body: bytes) -> None:
    """Cut-off JSON, JSON of another shape and JSON a hundred thousand lists deep are one clear sentence each."""
    answer = desk.client.post(
        f"{ROOT}/jobs/{desk.job}/entries", content=body, headers={"Content-Type": "application/json"}
    )
    problem(answer, answer.status_code)
    assert answer.status_code in (400, 422)
    assert desk.journal.job(desk.job).events == 2


def test_the_state_says_who_and_when_and_is_sent_once(desk: Desk) -> None:
    """What follows from the events bears them; whoever has it already gets 304 until something happens."""
    desk.send(desk.note(3, "Blue is loose."))
    answer = desk.get("state")
    assert [note["body"]["text"] for note in answer.json()["notes"]] == ["Blue is loose."]
    known = {"If-None-Match": answer.headers["etag"]}
    assert desk.get("state", headers=known).status_code == 304
    assert desk.get("state", headers={"If-None-Match": '"other", ' + answer.headers["etag"]}).status_code == 304
    desk.send(desk.note(4))
    assert desk.get("state", headers=known).status_code == 200


# The survey.


def test_a_survey_is_put_as_yaml_or_json_and_read_back(desk: Desk) -> None:
    """The text is kept as it was typed; the same text again is no further event."""
    text = SURVEY.replace("name:", "notes: changed\nname:", 1)
    for _time in range(2):
        told = desk.client.put(f"{ROOT}/jobs/{desk.job}/survey", content=text, headers=YAML).json()
    assert (told["text"], told["readable"], told["sequence"]) == (text, True, 3)
    plain = yaml.safe_load(text)
    again = desk.client.put(f"{ROOT}/jobs/{desk.job}/survey", json=plain).json()
    assert again["survey"] == told["survey"]
    assert json.loads(desk.get("survey.yaml").text) == plain


def test_a_survey_as_it_was_read_can_be_put_back(desk: Desk) -> None:
    """What the API gives under 'survey' is in a file's own words: sent back as JSON it is read as the same survey."""
    read = desk.get("survey").json()["survey"]
    answer = desk.client.put(f"{ROOT}/jobs/{desk.job}/survey", json=read)
    assert answer.status_code == 200, answer.text
    assert answer.json()["survey"] == read


def test_a_survey_that_cannot_be_read_is_refused_with_every_fault(desk: Desk) -> None:
    """Line, field and message of each; kept as typed only when that is asked for, and then there is no plan."""
    bad = SURVEY.replace("survey: 1", "survey: 1\ncolour: red", 1)
    answer = desk.client.put(f"{ROOT}/jobs/{desk.job}/survey", content=bad, headers=YAML)
    (fault,) = problem(answer, 422)["faults"]
    assert (fault["line"], fault["field"]) == (bad[: bad.index("colour")].count("\n") + 1, "colour")
    assert desk.journal.job(desk.job).events == 2
    kept = desk.client.put(f"{ROOT}/jobs/{desk.job}/survey?as_typed=true", content=bad, headers=YAML).json()
    assert (kept["readable"], kept["survey"], len(kept["faults"])) == (False, None, 1)
    for path in ("plan", "checks", "work", "verdicts", "diagnosis", "papers", "papers/packet.pdf"):
        assert problem(desk.get(path), 409)["faults"] == kept["faults"], path


def test_two_edits_of_one_survey_come_together_or_are_told_apart(desk: Desk) -> None:
    """With 'base' both are kept; with If-Match the later one is refused."""
    first = desk.get("survey").json()
    one = SURVEY.replace("name:", "notes: one\nname:", 1)
    desk.client.put(f"{ROOT}/jobs/{desk.job}/survey", content=one, headers=YAML)
    two = SURVEY.replace("place:", "wishes: []\nplace:", 1) if "\nplace:" in SURVEY else SURVEY + "\nsigns: []\n"
    refused = desk.client.put(
        f"{ROOT}/jobs/{desk.job}/survey", content=two, headers={**YAML, "If-Match": f'"{first["sha256"]}"'}
    )
    problem(refused, 412)
    merged = desk.client.put(f"{ROOT}/jobs/{desk.job}/survey?base={first['sha256']}", content=two, headers=YAML).json()
    assert merged["survey"]["notes"] == "one"
    assert merged["conflicts"] == []


# What follows from it.


def test_readings_that_are_sent_are_judged_and_searched(desk: Desk) -> None:
    """A program takes the sheet, sends one reading that is far off, and finds it failing, weighed, and a next test."""
    sheet = desk.get("checks").json()
    check = next(item for item in sheet["checks"] if item["unit"] == "ohm" and item["high"])
    body = {
        "kind": "reading_taken", "between": check["between"], "unit": "ohm", "value": None, "check": check["id"],
        "clip": check["clip"], "survey": sheet["survey"], "mark": sheet["mark"],
    }  # fmt: skip
    assert desk.send(desk.note(1) | {"body": body}).json()["results"][0]["result"] == "kept"
    report = desk.get("verdicts").json()
    (verdict,) = report["verdicts"]
    assert (verdict["check"], verdict["verdict"], report["proved"]) == (check["id"], "fail", False)
    assert verdict["explained_by"]
    work = desk.get("work").json()
    assert {step["state"]["status"] for step in work["steps"]} == {"open", "blocked"}
    assert work["mark"] == sheet["mark"]
    found = desk.get("diagnosis").json()
    assert found["next"]["action"] in ("probe", "repair")
    assert 0.5 < sum(cause["probability"] for cause in found["causes"]) + found["none_of_these"] < 1.01
    test = found["next"]["test"]
    if test is not None:
        answer = {"kind": "test_answered", "entry": test["entry"], "survey": found["survey"], "mark": found["mark"]}
        assert desk.send(desk.note(2) | {"body": answer}).json()["results"][0]["result"] == "kept"


def test_rooms_are_judged_where_there_are_any(app: tuple[TestClient, Journal]) -> None:
    """Places come best first; a house without rooms has no verdict."""
    desk = Desk(*app)
    problem(desk.get("site"), 409)
    rooms = next((EXAMPLES / "rooms").glob("01*.yaml")).read_text("utf-8")
    desk.job = put_job(desk.journal, "Rooms", rooms)
    told = desk.get("site").json()
    assert told["outcome"] in ("place", "elsewhere", "none", "question")
    assert told["places"]


# Files.


def _picture() -> bytes:
    held = io.BytesIO()
    exif = Image.Exif()
    exif[0x010E] = "12 Secret Street"
    Image.new("RGB", (80, 60), "red").save(held, "JPEG", exif=exif)
    return held.getvalue()


def test_a_photo_is_sent_listed_and_read_without_what_it_hid(desk: Desk) -> None:
    """The picture comes back clean; sent again with its key it is there once."""
    headers = {"Content-Type": "image/jpeg", "Idempotency-Key": str(uuid.uuid4())}
    address = f"{ROOT}/jobs/{desk.job}/photos?shows=hall&shows=hall.R&caption=before"
    sent = [desk.client.post(address, content=_picture(), headers=headers) for _time in range(2)]
    assert [answer.status_code for answer in sent] == [201, 201]
    (photo,) = desk.get("photos").json()["photos"]
    assert (photo["shows"], photo["caption"], photo["key"]) == (
        ["hall", "hall.R"],
        "before",
        headers["Idempotency-Key"],
    )
    for suffix in ("", "?small=true"):
        answer = desk.client.get(photo["href"] + suffix)
        assert answer.headers["content-type"] == "image/jpeg"
        assert b"Secret" not in answer.content
        again = desk.client.get(photo["href"] + suffix, headers={"If-None-Match": answer.headers["etag"]})
        assert again.status_code == 304
    problem(desk.client.post(address, content=b"no picture", headers=headers), 422)
    problem(desk.client.post(address, content=b"GIF89a", headers={"Content-Type": "image/gif"}), 415)


def test_papers_are_listed_and_read(desk: Desk) -> None:
    """Every paper that the list names can be read, with the kind that the list says."""
    papers = desk.get("papers").json()["papers"]
    assert {"packet.pdf", "landings.csv"} <= {paper["name"] for paper in papers}
    for paper in papers:
        if paper["name"] != "packet.pdf":
            answer = desk.client.get(paper["href"])
            assert answer.headers["content-type"] == paper["media_type"]
            assert answer.content
    problem(desk.get("papers/passwd"), 404)


def test_a_job_goes_out_and_comes_in_as_one_file(desk: Desk) -> None:
    """The same file changes nothing; a file with more events is refused, then added to."""
    before = desk.get("export").content
    desk.journal.forget_job(desk.job)
    told = desk.client.post(f"{ROOT}/import", content=before, headers=ZIP).json()
    assert told == {"job": desk.job, "name": ONE, "new_job": True, "events": 2, "photos": 0}
    desk.send(desk.note(1))
    more = desk.get("export").content
    assert desk.client.post(f"{ROOT}/import", content=more, headers=ZIP).json()["events"] == 0
    desk.journal.forget_job(desk.job)
    desk.client.post(f"{ROOT}/import", content=before, headers=ZIP)
    problem(desk.client.post(f"{ROOT}/import", content=more, headers=ZIP), 409)
    assert desk.client.post(f"{ROOT}/import?add=true", content=more, headers=ZIP).json()["events"] == 1
    problem(desk.client.post(f"{ROOT}/import", content=more[:-40], headers=ZIP), 422)


def test_kinds_of_equipment_can_be_looked_up(desk: Desk) -> None:
    """Each kind of the list is there with its parts and their sources."""
    kinds = desk.client.get(f"{ROOT}/kinds").json()["kinds"]
    assert len(kinds) > 20
    one = desk.client.get(kinds[0]["href"]).json()
    assert one["kind"] == kinds[0]["kind"]
    assert all(part["source"] for part in one["part"])
    problem(desk.client.get(f"{ROOT}/kinds/no-such-kind"), 404)


# One shape of error.


def test_whatever_goes_wrong_under_api_is_a_problem_document(desk: Desk) -> None:
    """No address, no job, a method that is not known, a field that does not fit, too much, a foreign host or site."""
    client, jobs = desk.client, f"{ROOT}/jobs"
    problem(client.get("/api"), 404)
    problem(client.get(f"{ROOT}/nothing"), 404)
    problem(client.get(f"{jobs}/{uuid.uuid4()}"), 404)
    allowed = client.delete(jobs)
    problem(allowed, 405)
    assert allowed.headers["allow"] == "GET, POST"
    (fault,) = problem(client.get(f"{jobs}?limit=0"), 422)["faults"]
    assert (fault["field"], fault["message"]) == ("limit", "Expected a number not below 1.")
    problem(client.post(jobs, content=b"{", headers={"Content-Type": "application/json"}), 422)
    problem(client.post(jobs, json={"name": "x\x00"}), 422)
    problem(client.post(f"{ROOT}/import", content=b"x" * 26_000_001, headers=ZIP), 413)
    problem(client.get(jobs, headers={"Host": "elsewhere.example"}), 421)
    problem(client.post(jobs, json={"name": "x"}, headers={"Origin": "https://elsewhere.example"}), 403)
    problem(client.post(jobs, json={"name": "x"}, headers={"X-Form-Token": "old"}), 403)


def test_a_program_on_this_machine_needs_no_token_and_a_browser_does(desk: Desk) -> None:
    """Where nobody signs in, curl may write; whatever bears the marks of a browser, or a form's kind of body, may not."""
    client = TestClient(desk.client.app, base_url=str(desk.client.base_url))
    jobs, told, own = f"{ROOT}/jobs", {"name": "Hill Road 7"}, str(client.base_url)
    assert client.post(jobs, json=told).status_code == 201
    for headers in ({"Origin": own}, {"Sec-Fetch-Site": "same-origin"}, {"Cookie": "language=en"}):
        problem(client.post(jobs, json=told, headers=headers), 403)
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"):
        assert client.post(jobs, content=json.dumps(told), headers={"Content-Type": kind}).status_code in (400, 403)
    assert client.post("/jobs", json=told).status_code == 403


def test_a_body_that_never_ends_is_cut_off(desk: Desk) -> None:
    """A body without a stated length is counted as it comes."""
    chunks = (b"x" * 1_000_000 for _chunk in range(30))
    problem(desk.client.post(f"{ROOT}/import", content=chunks, headers=ZIP), 413)


def test_what_breaks_inside_is_told_by_a_number_alone(
    app: tuple[TestClient, Journal], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """An error that nobody thought of is a problem document with the number that is in the log, and nothing of the error."""
    desk = Desk(*app)

    def broken(*_args: object) -> None:
        raise RuntimeError("secret inside")

    monkeypatch.setattr(desk.journal, "events", broken)
    told = problem(desk.get("entries"), 500)
    number = re.search(r"[0-9a-f]{8}", told["detail"])
    assert number is not None
    assert number[0] in caplog.text
    assert "secret" not in json.dumps(told)


def test_the_docs_page_tells_every_problem_and_asks_nobody_else(desk: Desk) -> None:
    """Each problem's type leads to its row; nothing on the page is loaded from elsewhere."""
    text = desk.client.get(f"{ROOT}/docs").text
    for status in PROBLEMS:
        assert f'id="{type_of(status).partition("#")[2]}"' in text
    assert not re.search(r'(src|href)="(https?:)?//', text)
    schema = desk.client.get(f"{ROOT}/openapi.json").json()
    for path in schema["paths"]:
        assert f"<code>{path}</code>" in text
