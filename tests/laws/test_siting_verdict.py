"""Laws of the verdict: order, what is said to be without sun is without it, and each rule where it belongs."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from subbase.siting.apertures import apertures, spot_on
from subbase.siting.sun_hours import minutes_a_year
from subbase.siting.verdict import Place, SiteVerdict, judge_site
from subbase.survey.model import Place as Where
from subbase.survey.rooms import Site
from subbase.survey.rooms_reading import SiteFile, load_site
from tests.houses import EXAMPLES

FILES = tuple(sorted((EXAMPLES / "rooms").glob("*.yaml")))
OUTCOMES = dict(zip((path.stem for path in FILES), ("place", "elsewhere", "none", "question"), strict=True))


@cache
def verdict_of(name: str) -> SiteVerdict:
    """Return the verdict on an example."""
    return judge_site(load_site(EXAMPLES / "rooms" / f"{name}.yaml"))


@pytest.mark.parametrize("name", OUTCOMES)
def test_the_examples_come_out_as_they_were_made_to(name: str) -> None:
    """One house has a good place, one has another than those named, one has none, one lacks its north."""
    assert verdict_of(name).outcome == OUTCOMES[name]
    assert (verdict_of(name).best is None) == (OUTCOMES[name] == "none")


@pytest.mark.parametrize("name", OUTCOMES)
def test_places_stand_in_order_and_bear_reasons_with_sources(name: str) -> None:
    """Nothing ruled out stands before something that is not; every place has reasons, every reason a source."""
    verdict = verdict_of(name)
    ruled = [place.ruled_out for place in verdict.places]
    assert ruled == sorted(ruled)
    assert not any(place.ruled_out for place in verdict.searched)
    for place in (*verdict.places, *verdict.searched):
        assert place.findings
        assert all(finding.source and finding.text[-1] == "." for finding in place.findings)


@pytest.mark.parametrize("name", OUTCOMES)
def test_the_nearest_place_without_sun_has_none_and_nearer_ones_have(name: str) -> None:
    """Where the verdict points along a wall there is no sun, and an inch nearer there is."""
    verdict = verdict_of(name)
    if verdict.sky is None:
        return
    moved = 0
    for place in verdict.places:
        along = place.shaded_along_m
        if along is None or place.sun is None or place.sun.hours == 0.0:
            continue
        room = verdict.house.site.rooms[place.room]
        wall = room.wall(place.candidate.wall)
        step = 0.025 if place.candidate.along_m > along else -0.025
        seen = [apertures(room, spot_on(wall, u, place.height_m)) for u in (along, along + step)]
        there, nearer = minutes_a_year(seen, verdict.sky)
        assert there == 0
        assert nearer > 0
        moved += 1
    assert moved == {"01-hall-between-two-rooms": 1}.get(name, 0)


def test_the_order_of_the_file_changes_nothing() -> None:
    """Rooms and places in the opposite order give the same ranking."""
    house = load_site(FILES[0])
    rooms = {
        name: room.model_copy(update={"candidates": dict(reversed(room.candidates.items()))})
        for name, room in reversed(house.site.rooms.items())
    }
    turned = house.model_copy(update={"site": house.site.model_copy(update={"rooms": rooms})})
    assert [p.name for p in judge_site(turned).places] == [p.name for p in verdict_of(FILES[0].stem).places]


def one_place(room: dict[str, Any], candidate: dict[str, Any], **site: Any) -> Place:
    """Return the verdict on one place in a room 4 m by 4 m."""
    rooms = {"room": {"size": (4, 4), "height": 2.5, "outside": (), **room, "candidates": {"here": candidate}}}
    found = Site.model_validate({"rooms": rooms, "north": 0, "reach": "usual", **site})
    return judge_site(SiteFile(name="x", place=Where(latitude_deg=40, longitude_deg=0), site=found)).places[0]


MIDDLE = {"wall": "top", "along": 2.0, "height": 1.4}


@pytest.mark.parametrize(
    ("room", "weight", "said"),
    [
        ({}, "for", "Inside wall"),
        ({"outside": ("top",)}, "rules out", "On an outside wall"),
        ({"outside": None}, "note", "not known"),
        ({"walls": {"top": {"behind": "unheated"}}}, "against", "unheated space"),
        ({"things": [{"kind": "radiator", "wall": "top", "along": 1.8, "width": 0.6}]}, "rules out", "Above the radiator"),
        ({"things": [{"kind": "lamp", "at": (2, 3.7), "height": 1.4}]}, "rules out", "Lamp, 11 in away"),
        ({"things": [{"kind": "lamp", "at": (2, 3.2), "height": 1.4}]}, "against", "Lamp, "),
        ({"things": [{"kind": "hot pipe", "wall": "top", "along": 2.2}]}, "rules out", "A hot pipe in the wall"),
        ({"things": [{"kind": "flue", "wall": "top", "along": 2.5}]}, "against", "A flue in the wall"),
        ({"things": [{"kind": "return", "wall": "left", "along": 2.5}]}, "for", "Near the return"),
        ({"doors": [{"wall": "top", "along": 2.2, "width": 0.8, "swing": "out", "outside": True}]}, "rules out", "outside door"),
        ({"doors": [{"wall": "top", "along": 2.5, "width": 0.8, "swing": "in, hinged left"}]}, "rules out", "door's leaf"),
        ({"doors": [{"wall": "top", "along": 2.5, "width": 0.8}]}, "against", "which way the door swings"),
        ({"furniture": [{"at": (1.5, 3.5), "size": (1, 0.5), "height": 1.8}]}, "rules out", "Behind the furniture"),
    ],
)  # fmt: skip
def test_each_rule_says_what_it_is_made_to_say(room: dict[str, Any], weight: str, said: str) -> None:
    """A thing near the place brings its reason with its weight."""
    assert any(f.weight == weight and said in f.text for f in one_place(room, MIDDLE).findings)


def test_a_leaf_hinged_on_the_far_side_or_opening_out_says_nothing() -> None:
    """The same door hinged away from the place, or opening out, does not come before it."""
    for swing in ("in, hinged right", "out"):
        door = {"wall": "top", "along": 2.5, "width": 0.8, "swing": swing}
        assert not any("leaf" in f.text for f in one_place({"doors": [door]}, MIDDLE).findings)


def test_a_wall_hides_what_stands_round_the_corner() -> None:
    """In a bent room a lamp within a metre, but round the corner, does not count."""
    bent = {"size": None, "corners": ((0, 0), (0, 4), (2, 4), (2, 2), (4, 2), (4, 0))}
    lamp = {"kind": "lamp", "at": (2.4, 1.9), "height": 1.4}
    near = {"wall": "3", "along": 1.7, "height": 1.4}
    assert not any("Lamp" in f.text for f in one_place({**bent, "things": [lamp]}, near).findings)
    lamp = {**lamp, "at": (1.4, 2.2)}
    assert any("Lamp" in f.text for f in one_place({**bent, "things": [lamp]}, near).findings)


def test_the_drill_is_stopped_before_what_runs_in_the_wall() -> None:
    """A power cable in the same stud bay stops the drill, one a metre on does not."""
    for along, stop in ((2.2, True), (3.2, False)):
        place = one_place({"things": [{"kind": "power cable", "wall": "top", "along": along}]}, MIDDLE)
        assert any(step.startswith("Stop:") for step in place.fish) == stop


def test_without_a_told_height_the_place_serves_both() -> None:
    """With no height in the file the place is judged at 48 in, unless nobody who sits must reach it."""
    bare = {"wall": "top", "along": 2.0}
    assert one_place({}, bare, reach="unknown").height_m == pytest.approx(48 * 0.0254)
    assert one_place({}, bare).height_m == pytest.approx(56 * 0.0254)
