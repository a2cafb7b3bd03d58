"""What ``subbase tune`` works out: the settings of every control and, where the house is known, its year."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from subbase.comfort.answers import Answers, Units, read_answers
from subbase.comfort.equipment_settings import tuning
from subbase.comfort.house_facts import facts_of
from subbase.comfort.learn import CannotTell, Learnt
from subbase.comfort.log_reading import HouseLog, read_log
from subbase.comfort.made_weather import made_weather
from subbase.comfort.served import Wired
from subbase.comfort.setting_records import Facts, Tuning
from subbase.comfort.study import Place, Study, house_of, learn_from, place_of, study
from subbase.comfort.weather import read_epw
from subbase.comfort.wired import wired_of
from subbase.errors import Fault, InputError
from subbase.words import _

if TYPE_CHECKING:
    from subbase.plan import Plan


@dataclass(frozen=True, slots=True, eq=False)
class Done:
    """One control worked out."""

    tuning: Tuning
    found: Study | None
    learnt: Learnt | CannotTell | None


@dataclass(frozen=True, slots=True, eq=False)
class Worked:
    """All controls of a house."""

    units: Units
    done: tuple[Done, ...]


def work_out(made: Plan, facts: Facts, asked: Mapping[str, Any]) -> Worked:
    """Return settings and, where ``know`` tells the floor area, the year of each control.

    Raises
    ------
    InputError
        An answer, the weather or the log cannot be read.
    """
    units: Units = asked["units"] or made.survey.units
    answers = _answers(asked["know"], units)
    log = read_log(asked["log"]) if asked["log"] is not None else None
    place = None
    if answers is not None:
        if asked["weather"] is not None:
            place = place_of(read_epw(asked["weather"]))
        else:
            place = place_of(made_weather(answers.winter, answers.summer, answers.latitude), made_up=True)
    elif asked["weather"] is not None:
        message = _("Weather tells nothing without the house; add --know area=1900.")
        raise InputError((Fault(message, "weather"),))
    kept: dict[Wired, Study] = {}
    known = units, answers, place, log
    return Worked(units, tuple(_done(made, number, facts, known, kept) for number in range(len(made.controls))))


def _done(
    made: Plan,
    number: int,
    facts: Facts,
    known: tuple[Units, Answers | None, Place | None, HouseLog | None],
    kept: dict[Wired, Study],
) -> Done:
    """Return one control worked out; ``kept`` holds the years of those before it, for controls that drive the same."""
    units, answers, place, log = known
    item = made.controls[number]
    assert made.left is not None  # a plan that is there to be worked from leaves a house
    calls = set(item.wanted) - set(item.chosen.lost)
    first = tuning(made.left, made.catalog, item.control, calls, facts, units)
    learnt = learn_from(log, answers, first.heat) if log is not None else None
    if answers is None or place is None:
        return Done(first, None, learnt)
    house = house_of(answers, place, learnt)
    facts = facts_of(answers, house, facts)
    settled = tuning(made.left, made.catalog, item.control, calls, facts, units)
    wired = wired_of(settled)
    if wired not in kept:
        kept[wired] = study(item.control, answers, house, place, wired)
    return Done(settled, replace(kept[wired], control=item.control, controls=len(made.controls)), learnt)


def _answers(know: tuple[str, ...], units: Units) -> Answers | None:
    if not know:
        return None
    given = {}
    for text in know:
        key, equals, value = text.partition("=")
        if not equals:
            message = _("{text!r} must be written as KEY=VALUE, such as area=1900.").format(text=text[:60])
            raise InputError((Fault(message, "know"),))
        given[key.strip()] = value
    return read_answers(given, units)
