"""The landing table as a code on the cover: what is written can be read back, and what had no room is said."""

from __future__ import annotations

import datetime

import pytest

from subbase.errors import InputError
from subbase.papers.landing_code import MOST_BYTES, MOST_CODES, landing_code, read_landing_code
from subbase.plan import Plan, make_plan
from subbase.survey import Survey, Unknown, read_survey
from tests.houses import NAMES, plan_of

DATE = datetime.date(2026, 3, 5)
PLANNED = tuple(name for name in NAMES if plan_of(name).verdict == "planned")


def wires_of(survey: Survey) -> set[tuple[str, str, str, str]]:
    """Return (cable, conductor, first end, second end) of a house, straight from the survey."""
    return {
        (cable, name, _told(wire.from_), _told(wire.to))
        for cable, item in survey.cables.items()
        for name, wire in item.conductors.items()
    }


def _told(end: str | Unknown) -> str:
    return "" if isinstance(end, Unknown) else end


@pytest.mark.parametrize("name", PLANNED)
def test_the_code_holds_every_landing_of_the_house(name: str) -> None:
    """Every conductor of every cable, and every jumper that is there, comes back as the plan leaves it."""
    plan = plan_of(name)
    assert plan.left is not None
    texts = landing_code(plan, date=DATE)
    assert all(len(text.encode()) <= MOST_BYTES for text in texts)
    found = read_landing_code(tuple(reversed(texts)))
    assert found.name == plan.survey.name
    assert found.date == DATE
    assert found.left_out == ()
    assert {(w.cable, w.conductor, w.first, w.second) for w in found.wires} == wires_of(plan.left)
    assert {cable[0]: cable[1:] for cable in found.cables} == {n: (c.from_, c.to) for n, c in plan.left.cables.items()}
    assert set(found.jumpers) == {j.between for j in plan.left.jumpers if j.present is True}


def house(conductors: int, cables: int, name: str = "wire") -> Plan:
    """Return the plan of a house with spare conductors by the dozen, in cables that the work does not touch."""
    spare = "".join(f"      '{name} {n}': loose\n" for n in range(conductors))
    more = "".join(
        f"  spare cable {n}:\n    from: hall\n    to: furnace\n    length: 30\n    gauge: 18\n    conductors:\n{spare}"
        for n in range(cables)
    )
    return make_plan(
        read_survey(
            (
                "survey: 1\nname: many wires\nequipment:\n  furnace: {kind: gas-furnace-1}\ncontrols:\n  hall:\n"
                "    old: {terminals: [R, W]}\n    new: {terminals: [R, C, W1], power: common, asleep_va: 0.6, awake_va: 3}\n"
                "cables:\n  wall:\n    from: hall\n    to: furnace\n    length: 30\n    gauge: 18\n    conductors:\n"
                "      red: R\n      white: W\n      blue: loose\n" + more
            ).encode()
        )
    )


def test_a_house_too_large_for_one_code_takes_several() -> None:
    """Each part fits a symbol and names its cable again, and together they hold all."""
    plan = house(20, 2)
    assert plan.left is not None
    texts = landing_code(plan, date=DATE)
    assert 1 < len(texts) <= MOST_CODES
    found = read_landing_code(texts)
    assert {(w.cable, w.conductor, w.first, w.second) for w in found.wires} == wires_of(plan.left)
    with pytest.raises(InputError, match="Code 2 is missing"):
        read_landing_code(texts[:1])


def test_what_has_no_room_is_named_and_the_cable_of_the_work_stays() -> None:
    """When even all codes are too few, whole cables that the work did not touch are left out, each by its name."""
    plan = house(30, 6)
    assert plan.left is not None
    found = read_landing_code(landing_code(plan, date=DATE))
    assert found.left_out
    assert "wall" not in found.left_out
    kept = {w.cable for w in found.wires}
    assert kept | set(found.left_out) == set(plan.left.cables)
    assert kept & set(found.left_out) == set()
    assert {(w.cable, w.conductor, w.first, w.second) for w in found.wires} == {
        wire for wire in wires_of(plan.left) if wire[0] in kept
    }


def test_signs_of_the_format_in_names_come_back() -> None:
    """Names that hold colons, arrows, percent signs or line ends are the same after reading."""
    plan = house(3, 1, name="a:b>c %3A #+ über")
    assert plan.left is not None
    found = read_landing_code(landing_code(plan, date=DATE))
    assert {(w.cable, w.conductor, w.first, w.second) for w in found.wires} == wires_of(plan.left)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("https://example.org", "no landing code"),
        ("subbase landings 1 x/1\nname;2026-03-05", "no landing code"),
        ("subbase landings 1 1/1\nname;yesterday", "date 'yesterday'"),
        ("subbase landings 1 1/1\nname;2026-03-05\n#wall:hall>furnace\nnonsense", "line 'nonsense'"),
    ],
)
def test_other_texts_are_refused(text: str, said: str) -> None:
    """A text that is no landing code, or a broken one, is refused with what is wrong."""
    with pytest.raises(InputError, match=said):
        read_landing_code([text])


def test_codes_of_two_packets_are_not_mixed() -> None:
    """Parts with different heads are refused."""
    texts = landing_code(house(20, 2), date=DATE)
    other = landing_code(house(20, 2), date=DATE + datetime.timedelta(days=1))
    with pytest.raises(InputError, match="different packets"):
        read_landing_code([texts[0], other[1]])


def test_a_stopped_plan_has_no_code() -> None:
    """Nothing that could be wired by is printed on a stop sheet."""
    assert landing_code(plan_of("10-stop-line-voltage"), date=DATE) == ()
