"""What stops a job before anything is planned: every sign, every kind of circuit, every reading that no 24 V supply gives."""

from __future__ import annotations

from typing import get_args

import pytest

from subbase.catalog import load_catalog
from subbase.plan import make_plan
from subbase.plan.screen import LEAST_V, MILLIVOLT_V, MOST_V, screen
from subbase.survey import Reading, Survey, Unknown
from subbase.survey.model import Sign
from tests.houses import survey_of

HOUSE = survey_of("01-no-common-spare-blue")
SAYS = {
    "thick conductors": "line voltage", "wire nuts on two thick conductors": "110 V or more", "120 or 240 marking": "110 V or more",
    "two thin conductors under one volt": "self-generating", "numbered data terminals": "serial data line",
    "scorched insulation": "scorched", "water in the wall box": "water",
}  # fmt: skip


def with_old(**changes: object) -> Survey:
    """Return the house with its old control described otherwise."""
    hall = HOUSE.controls["hall"]
    old = hall.old.model_copy(update=changes)
    return HOUSE.model_copy(update={"controls": {"hall": hall.model_copy(update={"old": old})}})


def read_at(volts: float | None, *between: str) -> Survey:
    """Return the house with one reading alone."""
    reading = HOUSE.readings[0].model_copy(update={"volts": volts, "between": between or ("hall.R", "hall.C")})
    assert isinstance(reading, Reading)
    return HOUSE.model_copy(update={"readings": (reading,)})


def test_a_plain_house_is_not_stopped() -> None:
    """Nothing is said where nothing is wrong."""
    assert screen(HOUSE) == ()


@pytest.mark.parametrize("sign", get_args(Sign))
def test_every_sign_stops_the_job_in_its_own_words(sign: str) -> None:
    """Each says what it is a mark of, and what to do instead of going on; no plan is made."""
    (stop,) = screen(HOUSE.model_copy(update={"signs": (sign,)}))
    assert SAYS[sign] in stop.seen
    assert stop.instead.startswith("Stop")
    plan = make_plan(HOUSE.model_copy(update={"signs": (sign,)}), load_catalog())
    assert (plan.verdict, plan.left) == ("stopped", None)


@pytest.mark.parametrize(
    ("wiring", "said"),
    [
        ("line voltage", "110 V or more"), ("millivolt", "self-generating"), ("serial data", "serial data line"),
        (Unknown(unknown=True), "not known what kind"),
    ],
)  # fmt: skip
def test_every_circuit_but_24_v_stops_the_job(wiring: object, said: str) -> None:
    """Line voltage, millivolts, data, and what nobody has found out."""
    (stop,) = screen(with_old(wiring=wiring))
    assert said in stop.seen
    assert stop.instead.startswith("Stop")


def test_without_a_control_to_replace_there_is_nothing_to_plan() -> None:
    """The survey is asked for the new profile."""
    hall = HOUSE.controls["hall"].model_copy(update={"new": None})
    (stop,) = screen(HOUSE.model_copy(update={"controls": {"hall": hall}}))
    assert "No control in this survey is to be replaced" in stop.seen


@pytest.mark.parametrize(
    ("volts", "stops"),
    [
        (MOST_V + 0.1, True), (MOST_V, False), (27.0, False), (LEAST_V, False), (LEAST_V - 0.1, True), (MILLIVOLT_V + 0.1, True),
        (MILLIVOLT_V, False), (0.0, False), (None, False),
    ],
)  # fmt: skip
def test_volts_at_the_wall_that_no_24_v_supply_gives_stop_the_job(volts: float | None, stops: bool) -> None:
    """Between supply and common: over 32 V, or a supply that something pulls down; nothing at all may be a dead fuse."""
    found = screen(read_at(volts))
    assert bool(found) == stops
    assert all("hall, R to C" in stop.seen for stop in found)


def test_low_volts_elsewhere_are_no_low_supply() -> None:
    """From R to a call 5 V may leak; over 32 V anywhere at the wall is line voltage; what is read elsewhere is not judged here."""
    assert screen(read_at(5.0, "hall.R", "hall.G")) == ()
    assert len(screen(read_at(120.0, "hall.R", "hall.G"))) == 1
    assert screen(read_at(120.0, "furnace.R", "furnace.C")) == ()
    assert screen(read_at(120.0, "hall.R", "furnace.C")) == ()


def test_the_same_reason_is_told_once() -> None:
    """Two signs of line voltage and a profile that says so are one sentence, and each other sign is one more."""
    both = with_old(wiring="line voltage").model_copy(
        update={"signs": ("120 or 240 marking", "wire nuts on two thick conductors", "water in the wall box")}
    )
    assert len(screen(both)) == 2
