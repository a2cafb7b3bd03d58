"""The field file as text, and what it brings back."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from subbase.journal.bodies import NoteMade
from subbase.journal.events import new_key
from tests.houses import EXAMPLES
from tests.web_jobs import ONE, Visitor, visiting


def data_of(text: str) -> dict[str, Any]:
    """Return the data in a field file."""
    found: dict[str, Any] = json.loads(text.split('id="data">')[1].split("</script>", maxsplit=1)[0])
    return found


def bring_in(visitor: Visitor, data: Any) -> Response:
    """Send a file of entries."""
    raw = data if isinstance(data, bytes) else json.dumps(data).encode()
    client: TestClient = visitor.client
    return client.post(
        f"/jobs/{visitor.job}/entries-file", data={"key": new_key()}, files={"entries": ("saved.json", raw, "application/json")}
    )  # fmt: skip


def note(text: str, key: str = "") -> dict[str, Any]:
    """Return an entry that a phone might have made."""
    return {
        "key": key or new_key(), "made_at": "2026-03-05T12:00:00Z", "actor": "Anna", "device": "field file", "seen": 1,
        "body": {"kind": "note_made", "text": text},
    }  # fmt: skip


def test_the_file_holds_everything_and_asks_nobody(visitor: Visitor) -> None:
    """No address but that of namespaces, its script allowed by its hash alone, both drawings, every step."""
    answer = visitor.get("field-file")
    assert answer.headers["content-disposition"].startswith("attachment")
    text = answer.text
    addresses = set(re.findall(r'(?:src|href|action)="([^"]+)"', text)) | set(re.findall(r"url\(([^)]*)\)", text))
    assert {address for address in addresses if not address.startswith("#")} == set()
    script = text.rsplit("<script>", 1)[1].split("</script>")[0]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in text
    assert "default-src 'none'" in text
    assert text.count("<svg") >= 2
    data = data_of(text)
    assert text.count('<article class="step"') == len(data["steps"])
    assert len(data["checks"]) == 9


def test_a_name_cannot_break_out_of_the_file(tmp_path: Path) -> None:
    """Text of the survey is text, in the page and in the script's data."""
    nasty = "</script><script>alert(1)</script>"
    text = (EXAMPLES / f"{ONE}.yaml").read_text("utf-8")
    named = re.sub(r"(?m)^name:.*$", f"name: '{nasty}'", text)
    assert nasty in named
    with visiting(tmp_path, text=named) as visitor:
        assert nasty not in visitor.get("field-file").text


def test_the_file_begins_where_the_job_stands(visitor: Visitor) -> None:
    """Steps done and readings taken on the server are in the file."""
    visitor.post("work/day", {"season": "heating", "outdoor": "68"})
    visitor.step("look/stops")
    data = data_of(visitor.get("field-file").text)
    assert data["results"] == [{"step": "look/stops", "did": "done"}]
    assert data["seen"] == visitor.state.sequence


def test_entries_brought_in_twice_are_there_once(visitor: Visitor) -> None:
    """What a phone saved is taken in; again, it changes nothing and the page says so."""
    file = {
        "format": 1,
        "what": "subbase entries",
        "job": visitor.job,
        "entries": [note("Wet floor"), note("Two dogs")],
    }
    assert "2 entries brought in" in bring_in(visitor, file).text
    again = bring_in(visitor, file).text
    assert "0 entries brought in" in again
    assert "2 were here already" in again
    assert [record.body.text for record in visitor.state.notes] == ["Wet floor", "Two dogs"]
    assert visitor.state.notes[0].event.actor == "Anna"


def test_one_bad_entry_holds_up_no_other(visitor: Visitor) -> None:
    """An entry that cannot be read is named; the others are kept."""
    file = {"format": 1, "what": "subbase entries", "job": visitor.job, "entries": [{"key": "x"}, note("Kept")]}
    shown = bring_in(visitor, file).text
    assert "1 entry brought in" in shown
    assert "Refused:" in shown
    assert isinstance(visitor.state.notes[0].body, NoteMade)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no JSON"),
        (b"\xff\xfe{", "no JSON"),
        (b"[" * 100_000, "no JSON"),
        ([], "no file of entries"),
        ({"what": "subbase entries"}, "no file of entries"),
        (
            {"what": "subbase entries", "format": 2, "entries": [], "job": "x"},
            "a format that this version does not know",
        ),
        ({"what": "subbase entries", "format": 1, "entries": [], "job": "another"}, "belong to another job"),
    ],
)
def test_what_is_no_file_of_entries_is_refused(visitor: Visitor, data: Any, said: str) -> None:
    """A wrong file gets a sentence, and nothing is kept."""
    before = visitor.state.sequence
    answer = bring_in(visitor, data)
    assert answer.status_code == 422
    assert said in answer.text
    assert visitor.state.sequence == before


def test_the_whole_job_as_one_file_can_be_read_back(visitor: Visitor) -> None:
    """The job file that the page gives is one that 'subbase job import' takes."""
    from subbase.journal.bundle import read_bundle

    bundle = read_bundle(visitor.get("job-file").content)
    assert bundle.job == visitor.job
    assert len(bundle.events) == visitor.state.sequence


def test_there_is_no_field_file_without_a_plan(tmp_path: Path) -> None:
    """A job that cannot be planned has nothing to take along."""
    with visiting(tmp_path, text="survey: 1") as visitor:
        assert visitor.get("field-file").status_code == 404
