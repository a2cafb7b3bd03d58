"""The live drawing's page and its part of the field file: there without a script, and nothing in it is left to chance."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

from subbase.papers.live_calls import live_calls
from subbase.papers.rungs import ladder_of
from tests.houses import plan_of
from tests.web_jobs import visiting


def test_without_a_script_every_call_is_a_table(tmp_path: Path) -> None:
    """Each call of the house has its loads with the volts across them, as the circuit gives them, in the page itself."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.left is not None
    ladder = ladder_of(plan.left, plan.catalog)
    calls = live_calls(plan.left, plan.catalog, ladder)
    with visiting(tmp_path) as visitor:
        text = html.unescape(visitor.get("plan/live").text)
        assert visitor.get("plan").text.count("/plan/live") == 1
    for call in calls:
        table = text[text.index(f"<summary>{call.words}</summary>") :].split("</details>")[0]
        reading = call.reading("hall.R", ladder.supplies[0].common)
        assert reading is not None
        assert f"<td>hall R</td><td>{reading.nominal:.1f} V</td>" in table
        assert table.count("<td>ON</td>") == len(call.on)


def test_the_page_and_the_field_file_carry_the_same_data(tmp_path: Path) -> None:
    """What the script works on is whole in the one file, and holds no '<' that could end its element."""
    with visiting(tmp_path) as visitor:
        found = [
            re.findall(
                r'<script type="application/json" id="live-data">(.*?)</script>', visitor.get(path).text, re.DOTALL
            )
            for path in ("plan/live", "field-file")
        ]
    (page,), (file,) = found
    assert page == file
    assert "<" not in page
    assert {"points", "calls", "words"} <= json.loads(page).keys()


def test_a_house_without_a_plan_leads_back_to_the_plan(tmp_path: Path) -> None:
    """Where the plan stops or asks there is nothing to draw as left: the plan's page says why."""
    with visiting(tmp_path, "10-stop-line-voltage") as visitor:
        answer = visitor.get("plan/live")
        assert answer.url.path.endswith("/plan")
        assert "Stop" in answer.text
