"""A survey that holds rooms: its packet says where the control goes."""

from __future__ import annotations

import datetime
from pathlib import Path

from subbase import load_survey, make_plan
from subbase.papers.packet import packet_data
from subbase.survey.rooms_reading import load_site

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_the_packet_has_the_place_of_the_control() -> None:
    """With rooms in the survey there are pages with a drawing to scale; without there are none."""
    plain = load_survey(EXAMPLES / "01-no-common-spare-blue.yaml")
    rooms = load_site(next(iter(sorted((EXAMPLES / "rooms").glob("*.yaml")))))
    date = datetime.date(2026, 3, 5)

    def headings(with_rooms: bool) -> list[str]:
        survey = plain.model_copy(update={"site": rooms.site, "place": rooms.place}) if with_rooms else plain
        pages = packet_data(make_plan(survey), date=date)["pages"]
        return [block["text"] for page in pages for block in page["blocks"] if block["kind"] == "heading"]

    assert "To scale" in headings(True)
    assert "To scale" not in headings(False)
