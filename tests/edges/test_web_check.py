"""The Check stage and the search for a fault without scripts."""

from __future__ import annotations

import html
import re
import uuid

import pytest
from httpx2 import Response

from subbase.journal.bodies import HandedOver, ReadingTaken, TestAnswered
from tests.web_jobs import Visitor


def lines(visitor: Visitor) -> dict[str, tuple[str, str]]:
    """Return words of a line of the sheet -> (its id, what it must read)."""
    text = visitor.get("check").text
    found = re.findall(r'id="c-(\w+)".*?class="ends">\d+\. ([^<]+)</p>.*?<b>([^<]+)</b>', text, re.DOTALL)
    return {html.unescape(words): (name, must) for name, words, must in found}


def good_value(must: str) -> str:
    """Return a reading as it must be."""
    ends = [float(number) for number in re.findall(r"\d+\.?\d*", must)]
    return "OL" if must == "OL" else str(sum(ends) / 2 if len(ends) > 1 else ends[0] + 1)


def read(visitor: Visitor, *but: tuple[str, str]) -> str:
    """Fill in the whole sheet as it must be, save for a few lines, and return the page that follows."""
    wrong = dict(but)
    fields = {f"v-{name}": wrong.get(words, good_value(must)) for words, (name, must) in lines(visitor).items()}
    return visitor.post("check/readings", {name: value for name, value in fields.items() if value}).text


def test_a_sheet_filled_in_as_it_must_be_proves_the_house(visitor: Visitor) -> None:
    """Every reading within its bounds: the page says that the wiring is proved."""
    assert "Not proved yet: 0 of 9" in visitor.get("check").text
    assert ">Proved<" in read(visitor)
    assert sum(isinstance(line.event.body, ReadingTaken) for line in visitor.state.history) == 9


def test_readings_come_in_any_order_and_are_judged_at_once(visitor: Visitor) -> None:
    """One reading alone is judged and kept with its call, its bounds and the wiring it belongs to."""
    name, _ = lines(visitor)["hall.R to hall.C, at fan"]
    shown = visitor.post("check/readings", {f"v-{name}": "26,4"}).text
    assert "26.4 V: passes." in shown
    body = visitor.state.readings[0].body
    assert (body.between, body.call, body.control, body.unit, body.value) == (
        ("hall.R", "hall.C"),
        "fan",
        "hall",
        "V",
        26.4,
    )
    assert body.low is not None
    assert body.high is not None
    assert body.low < 26.4 < body.high


def test_the_ol_button_reads_an_open_circuit(visitor: Visitor) -> None:
    """OL is pressed, not typed; the journal keeps it as null ohms."""
    name, must = lines(visitor)["hall.W1 to hall.R"]
    assert must.endswith("to OL")
    assert "OL: passes." in visitor.post("check/readings", {"ol": name}).text
    assert visitor.state.readings[0].body.value is None


def test_what_cannot_be_read_is_shown_again_and_nothing_is_kept(visitor: Visitor) -> None:
    """A slip in one line keeps all lines out of the journal, and every entry in its field."""
    found = lines(visitor)
    good, bad = found["hall.R to hall.C, at fan"][0], found["hall.R to hall.C, at heat 1"][0]
    answer = visitor.post("check/readings", {f"v-{good}": "26.4", f"v-{bad}": "26..1"})
    assert answer.status_code == 422
    assert "Nothing was kept" in answer.text
    assert 'value="26.4"' in answer.text
    assert 'value="26..1" aria-invalid="true"' in answer.text
    assert not visitor.state.readings


def test_the_same_form_sent_twice_is_one_reading(visitor: Visitor) -> None:
    """A phone that sends again adds nothing."""
    name, _ = lines(visitor)["hall.R to hall.C, at fan"]
    key = str(uuid.uuid4())
    for _ in range(2):
        visitor.post("check/readings", {f"v-{name}": "26.4"}, key=key)
    assert len(visitor.state.readings) == 1


def test_a_reading_taken_again_counts_in_place_of_the_first(visitor: Visitor) -> None:
    """The later reading of a line is judged; both stay in the journal."""
    name, _ = lines(visitor)["hall.R to hall.C, at fan"]
    visitor.post("check/readings", {f"v-{name}": "12"})
    assert f'name="v-{name}"' not in visitor.get("check").text
    assert f'name="v-{name}"' in visitor.get(f"check?again={name}").text
    shown = visitor.post("check/readings", {f"v-{name}": "26.4"}).text
    assert "26.4 V: passes." in shown
    assert "fails" not in shown
    assert len(visitor.state.readings) == 2


def test_line_voltage_on_a_terminal_stops_everything(visitor: Visitor) -> None:
    """More volts than any 24 V winding gives: power off, in a banner, and on the papers of handing over."""
    name, _ = lines(visitor)["hall.R to hall.C, at fan"]
    assert "Power off now" in visitor.post("check/readings", {f"v-{name}": "118"}).text
    assert "Power off: a reading says that the house is not safe." in visitor.get("hand-over").text


def test_a_failing_reading_opens_the_search_with_what_was_read(visitor: Visitor) -> None:
    """No volts at the furnace's Y on a heat call: the page names landings that give it, and the search knows every reading."""
    shown = read(visitor, ("furnace.Y to furnace.R, at heat 1", "0.1"))
    assert "reading fails" in shown
    assert f'href="/jobs/{visitor.job}/check/fault"' in shown
    fault = visitor.get("check/fault").text
    known = fault.split("What is known")[1]
    assert known.count("<li>") == 9
    assert "with heat 1 called: <b>0.1 V</b>" in known
    shares = [int(share) for share in re.findall(r'class="share">(\d+) %', fault)]
    assert shares
    assert max(shares) <= 100


def test_answers_lead_to_a_repair_and_then_to_fresh_checks(visitor: Visitor) -> None:
    """Test after test is answered as a house with a dead transformer would; the repair ends it and voids the old readings."""
    read(visitor, *((words, "0") for words in lines(visitor) if words.startswith("hall.R to hall.C")))
    for _ in range(14):
        page = visitor.get("check/fault").text
        if '<p class="line">Repair</p>' in page:
            break
        test = html.unescape(page.split('name="test" value="')[1].split('"')[0])
        kind = page.split('name="kind" value="')[1].split('"')[0]
        answer = {"display": "dark", "acts": "no", "runs": "no", "air": "still", "lamp": "dark"}.get(kind, "unknown")
        if kind == "volts":
            visitor.post("check/fault/answer", {"test": test, "kind": kind, "value": "0"})
        else:
            visitor.post("check/fault/answer", {"test": test, "kind": kind, "answer": answer})
    else:
        pytest.fail("no repair after fourteen tests")
    assert "<dt>Proof</dt>" in page
    assert visitor.state.answers
    shown = visitor.post("check/fault/repaired", {"what": "New transformer"}).text
    assert "9 readings were taken before wires were touched again" in shown
    assert "Not proved yet: 0 of 9" in shown
    assert "Nothing yet: no check was read" in visitor.get("check/fault").text


def test_a_repair_that_left_something_wrong_goes_on_with_what_was_read(visitor: Visitor) -> None:
    """The first cause is put right, the search goes on without it, and the checks are to be made again."""
    read(visitor, *((words, "0") for words in lines(visitor) if words.startswith("hall.R to hall.C")))
    for _ in range(14):
        page = visitor.get("check/fault").text
        if '<p class="line">Repair</p>' in page:
            break
        test = html.unescape(page.split('name="test" value="')[1].split('"')[0])
        kind = page.split('name="kind" value="')[1].split('"')[0]
        answer = {"display": "dark", "acts": "no", "runs": "no", "air": "still", "lamp": "dark"}.get(kind, "unknown")
        field = "value" if kind == "volts" else "answer"
        visitor.post("check/fault/answer", {"test": test, "kind": kind, field: "0" if kind == "volts" else answer})
    else:
        pytest.fail("no repair after fourteen tests")
    causes = html.unescape(page.split('name="causes" value="')[1].split('"')[0])
    likeliest = page.split('<ol class="causes">')[1].split("<svg")[0]
    shown = visitor.post("check/fault/repaired", {"what": "New one", "causes": causes, "still": "wrong"}).text
    assert shown.split('<ol class="causes">')[1].split("<svg")[0] != likeliest
    assert "Repaired, and something was still wrong" in shown
    assert "<b>0 V</b> (before the repair)" in shown
    assert visitor.state.answers[-1].body.entry == {"repaired": causes.splitlines()}
    assert "readings were taken before wires were touched again" in visitor.get("check").text


def test_do_not_know_is_an_answer_and_the_test_is_not_asked_again(visitor: Visitor) -> None:
    """'Don't know' is kept, and another test comes."""
    page = visitor.get("check/fault").text
    test = html.unescape(page.split('name="test" value="')[1].split('"')[0])
    kind = page.split('name="kind" value="')[1].split('"')[0]
    after = visitor.post("check/fault/answer", {"test": test, "kind": kind, "answer": "unknown"}).text
    assert html.unescape(after.split('name="test" value="')[1].split('"')[0]) != test
    assert isinstance(visitor.state.answers[0].body, TestAnswered)
    assert "<b>not known</b>" in after


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"test": "{", "kind": "volts", "value": "3"},
        {"test": '{"volts": "unknown", "between": ["hall.R", "nowhere.C"]}', "kind": "volts", "value": "3"},
        {"test": '{"volts": "unknown", "between": ["hall.R", "hall.C"]}', "kind": "volts", "value": "-3"},
        {"test": '{"volts": "unknown", "between": ["hall.R", "hall.C"]}', "kind": "volts", "value": ""},
        {"test": '{"display": "unknown", "control": "hall"}', "kind": "display", "answer": "purple"},
        {"test": "[]", "kind": "display", "answer": "on"},
    ],
)
def test_an_answer_that_fits_no_test_is_refused(visitor: Visitor, fields: dict[str, str]) -> None:
    """Whatever is sent, the answer is a sentence, and nothing is kept."""
    answer = visitor.post("check/fault/answer", fields)
    assert answer.status_code == 422
    assert "Not taken" in answer.text
    assert not visitor.state.answers


HEAT = "check/call?of=hall%3A%20heat%201"


def seen(visitor: Visitor, **told: str) -> Response:
    """Tell what was seen in the heating call, by the beginnings of its lines."""
    page = visitor.get(HEAT).text
    fields = {"of": "hall: heat 1"}
    for begins, value in told.items():
        name = re.search(rf'name="v-(\w+)" aria-label="{begins.replace("_", " ")}', page)
        assert name is not None, begins
        fields[f"v-{name[1]}"] = value
    return visitor.post("check/call", fields)


def test_what_is_seen_in_a_call_is_judged(visitor: Visitor) -> None:
    """Steps with their seconds and the air's temperatures: each is held against the catalogue's times and the equipment."""
    shown = seen(
        visitor, the_inducer="3", the_gas_valve="40", Air_at_the_return="68", Air_at_a_supply="115", Minutes="12"
    ).text
    assert shown.lower().count(">passes.<") + shown.count("s: passes.") == 3
    told = {record.body.between[1]: record.body.value for record in visitor.state.readings}
    assert told["return"] == pytest.approx(20.0)
    assert told["minutes"] == 720.0


def test_cold_air_in_a_heating_call_fails(visitor: Visitor) -> None:
    """Air that goes the wrong way is told on the call's page and on the sheet."""
    seen(visitor, Air_at_the_return="70", Air_at_a_supply="52", Minutes="12")
    assert "Seen otherwise than it must be" in visitor.get("check").text
    assert "Fails: heat 1, air" in visitor.get("hand-over").text


def test_a_burner_without_its_inducer_stops_everything(visitor: Visitor) -> None:
    """A flame while the inducer never ran: power off."""
    assert "Power off now" in seen(visitor, the_inducer="never", the_gas_valve="30").text


def test_a_time_that_cannot_be_is_refused(visitor: Visitor) -> None:
    """What cannot be read is shown again, and nothing is kept."""
    answer = seen(visitor, the_inducer="-3", Air_at_the_return="900")
    assert answer.status_code == 422
    assert "0 s to two hours" in answer.text
    assert "no temperature" in answer.text
    assert not visitor.state.readings
    assert visitor.get("check/call?of=nothing").status_code == 404


def test_handing_over_keeps_the_papers_checksums(visitor: Visitor) -> None:
    """What was left, to whom, and with which papers is an event; a later change of the job is said."""
    read(visitor, ("furnace.Y to furnace.R, at heat 1", "0.1"))
    page = visitor.get("hand-over").text
    assert "Fails: furnace.Y to furnace.R, 0.1 V" in page
    assert "1 outside of what it must be" in page
    shown = visitor.post("hand-over", {"to": "The owner", "note": "Cooling is not tested."}).text
    assert "to The owner" in shown
    assert "Cooling is not tested." in shown
    body = visitor.state.handovers[0].body
    assert isinstance(body, HandedOver)
    assert "packet.pdf" in body.papers
    visitor.post("work/day", {"season": "heating"})
    assert "The job has changed since" in visitor.get("hand-over").text


def test_tune_shows_how_the_control_is_set_for_its_equipment(visitor: Visitor) -> None:
    """The settings of the plan stand there, and every link leads somewhere."""
    text = visitor.get("tune").text
    assert "Set hall" in text
    for path in set(re.findall(r'href="(/jobs/[^"#]+)"', text)):
        answer = visitor.client.get(path)
        while answer.status_code == 202:
            answer = visitor.client.get(path)
        assert answer.status_code == 200, path
