"""The Tune stage on a page: settings with reasons, five minutes of questions, the year, files."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from subbase.papers.tune_charts import DARK
from subbase.web.looks import static_files
from subbase.web.stage_hand_over import record_and_work
from tests.comfort_cases import CHICAGO
from tests.web_jobs import Visitor, visiting

STRIPS = "12-heat-pump-with-strips"
ANSWERS = {"area": "1900", "built": "1985", "asleep": "22:30-06:30", "away": "08:00-17:00"}


@pytest.fixture(scope="module")
def visitor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    """Yield a job with a heat pump."""
    with visiting(tmp_path_factory.mktemp("tune"), STRIPS) as found:
        yield found


def send_file(visitor: Visitor, path: str, name: str, raw: bytes) -> str:
    """Send a file by the form of a page and return the page that follows."""
    text = visitor.get("tune").text
    form = re.search(rf'action="(/jobs/[^"]+/{path})">.*?name="key" value="([^"]+)"', text, re.DOTALL)
    assert form is not None
    answer = visitor.client.post(form[1], data={"key": form[2]}, files={"file": (name, raw)})
    while answer.status_code == 202:
        answer = visitor.client.get(answer.url)
    return answer.text


def test_settings_stand_there_with_reason_and_source(visitor: Visitor) -> None:
    """Before anything is answered: every setting, why, and by what source."""
    text = visitor.get("tune").text
    assert "energised in cooling (O)" in text
    assert "Emergency heat" in text
    assert "10 CFR 460.202" in text
    assert "With the floor area alone there is a first answer" in text


def test_bad_answers_come_back_with_what_is_wrong(visitor: Visitor) -> None:
    """Nothing is kept; what was typed stays in the fields, and each fault stands at its field."""
    before = visitor.state.sequence
    answer = visitor.post("tune/answers", {**ANSWERS, "area": "big", "heat_to": "200"})
    assert answer.status_code == 422
    assert "&#39;big&#39; is no number" in answer.text
    assert 'value="200"' in answer.text
    assert 'href="#q-heat_to"' in answer.text
    assert visitor.state.sequence == before


def test_answers_lead_to_the_year(visitor: Visitor) -> None:
    """Kept in the journal, run, and shown: week, schedules side by side, charts, words for the owner."""
    answer = visitor.post("tune/answers", ANSWERS)
    assert answer.status_code == 200
    assert answer.url.path.endswith("/tune/year")
    kept = visitor.state.settings[("", "house answers")].body.value
    assert isinstance(kept, dict)
    assert kept["built"] == 1985
    text = answer.text
    for words in ("The week of hall", "cheapest found", "held day and night", "Hours of strips", "Advised:", "made up"):
        assert words in text
    # Four charts, each for the desk and for the phone.
    assert text.count("<svg") == 8
    assert "style=" not in text
    assert "Reckoned for houses like yours" in text
    assert 'value="1985"' in visitor.get("tune").text


def test_the_week_is_handed_out_as_a_calendar(visitor: Visitor) -> None:
    """iCalendar text with a name; another number is refused in words."""
    answer = visitor.client.get(f"/jobs/{visitor.job}/tune/schedule/1.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    assert "schedule-1-hall.ics" in answer.headers["content-disposition"]
    assert answer.text.startswith("BEGIN:VCALENDAR")
    assert visitor.client.get(f"/jobs/{visitor.job}/tune/schedule/9.ics").status_code == 422


def test_all_of_it_is_handed_out_on_paper(visitor: Visitor) -> None:
    """A PDF of settings, schedule, year and charts."""
    answer = visitor.client.get(f"/jobs/{visitor.job}/tune/settings.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")


def test_weather_is_taken_from_a_file_and_bad_files_are_refused(visitor: Visitor) -> None:
    """An EPW year replaces the made-up one; anything else is refused, and nothing is kept of it."""
    before = visitor.state.sequence
    assert "must begin with LOCATION" in send_file(visitor, "tune/weather", "x.epw", b"nothing")
    assert "must name one column" in send_file(visitor, "tune/log", "x.csv", b"a,b\n1,2\n")
    assert visitor.state.sequence == before
    send_file(visitor, "tune/weather", "chicago.epw", CHICAGO.read_bytes())
    assert "From a file: Chicago" in visitor.get("tune").text
    assert "Chicago" in visitor.get("tune/year").text


def test_a_stopped_job_has_nothing_to_tune(tmp_path: Path) -> None:
    """The page says so, and its year leads back."""
    with visiting(tmp_path, "10-stop-line-voltage") as found:
        assert "Stop" in found.get("tune").text
        assert found.get("tune/year").url.path.endswith("/tune")


def test_the_style_sheet_knows_every_colour_of_the_charts() -> None:
    """Each colour on paper has its colour in the dark, the same as in charts that stand alone."""
    css = static_files()["tune.css"].decode()
    for light, dark in DARK.items():
        assert f'.chart [fill="{light}"]' in css
        assert f'.chart [stroke="{light}"]' in css
        assert dark in css or light in ("#111111", "#555555", "#ffffff")


def test_the_packet_prints_what_the_house_settled(visitor: Visitor) -> None:
    """Once the house is described, the papers hold its settings; before, they ask."""
    data = {**ANSWERS, "capacity": "20000,28000,36000", "power": "2600,2950,3100"}
    visitor.post("tune/answers", data)
    view = visitor.client.app.state.office.job(visitor.job)  # type: ignore[attr-defined]
    record, _work = record_and_work(view, visitor.client.app.state.office)  # type: ignore[attr-defined]
    assert record is not None
    (found,) = record.tunings
    lockout = found.of("auxiliary_lockout")
    assert lockout is not None
    assert lockout.number is not None
    assert lockout.number < 35.0
    assert not lockout.ask
