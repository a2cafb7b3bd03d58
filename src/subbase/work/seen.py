"""What was seen, heard and felt in the calls, judged: air and water, and the steps of each sequence with their times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.survey import Survey
from subbase.wiring import State, build_house
from subbase.words import _
from subbase.work.air_and_water import LEAST_MINUTES, Direction, Units, direction, judge_air, judge_water, way_seen
from subbase.work.call_sequences import CallSequence, Judged, judge_step
from subbase.work.calls import solved_calls
from subbase.work.explanations import MOST_EXPLANATIONS, Explanation, SlipCause
from subbase.work.outcomes import Outcome
from subbase.work.slips import Slip
from subbase.work.taken import AirTaken, SequenceSeen, WaterTaken


@dataclass(frozen=True, slots=True)
class SeenVerdict:
    """One thing seen, heard or felt in a call, and what is said of it."""

    call: str
    what: str
    line: int
    judged: Judged
    explained_by: tuple[Explanation, ...] = ()
    more: int = 0
    """How many further explanations there are."""
    label: str = ""
    """Of a step: its name in files, in English."""


def air_verdicts(
    left: Survey, catalog: Catalog, taken: Sequence[AirTaken], possible: Sequence[Outcome]
) -> Iterator[SeenVerdict]:
    """Yield what was taken of the air, judged; a failure names the possible slips that send the air that way."""
    units = Units(us=left.units == "us")
    house = build_house(left, catalog)
    for item in taken:
        if way_seen(item.air) is None and item.air.minutes is None:
            continue  # listed, and nothing taken
        good = next(iter(solved_calls(house, [item.state])))
        judged = judge_air(house, good.coils_in, item.state, item.air, units)
        way = way_seen(item.air)
        found: tuple[Explanation, ...] = ()
        if judged.mark == "fail" and way is not None and way != direction(house, good.coils_in):
            giving = [outcome for outcome in possible if _way_with(outcome.slip, catalog, item.state) == way]
            # The setting is looked at without a tool, so it comes first though it is not the worst.
            giving.sort(key=lambda outcome: outcome.slip.kind != "changeover set wrong")
            found = tuple(SlipCause(outcome, catalog).explanation() for outcome in giving)
        words = item.state.words(name_controls=len(left.controls) > 1)
        more = len(found[MOST_EXPLANATIONS:])
        yield SeenVerdict(words, _("air"), item.line, judged, found[:MOST_EXPLANATIONS], more)


def water_verdicts(left: Survey, taken: Sequence[WaterTaken]) -> Iterator[SeenVerdict]:
    """Yield what was taken of the water, judged."""
    units = Units(us=left.units == "us")
    for item in taken:
        if (item.water.return_c, item.water.supply_c, item.water.minutes) == (None, None, None):
            continue
        words = item.state.words(name_controls=len(left.controls) > 1)
        yield SeenVerdict(words, _("water"), item.line, judge_water(item.water, units))


def air_excludes(left: Survey, catalog: Catalog, taken: Sequence[AirTaken], slip: Slip) -> bool:
    """Return whether air that went the way it must speaks against a slip, with which it would go the other way."""
    house = build_house(left, catalog)
    for item in taken:
        way = way_seen(item.air)
        if way not in ("warm", "cold") or item.air.minutes is None or item.air.minutes < LEAST_MINUTES:
            continue
        good = next(iter(solved_calls(house, [item.state])))
        if direction(house, good.coils_in) == way and _way_with(slip, catalog, item.state) in {"warm", "cold"} - {way}:
            return True
    return False


def _way_with(slip: Slip, catalog: Catalog, state: State) -> Direction:
    """Return which way the air goes in a call with a slip."""
    house = build_house(slip.survey, catalog)
    solved = next(iter(solved_calls(house, [state], dict(slip.settings))))
    return direction(house, solved.coils_in)


def step_verdicts(seen: Sequence[SequenceSeen], expected: Sequence[CallSequence]) -> Iterator[SeenVerdict]:
    """Yield each step seen, judged; then what its order tells."""
    by_state = {sequence.state: sequence for sequence in expected}
    for item in seen:
        sequence = by_state.get(item.state)
        if sequence is None:
            continue
        came: dict[str, float | None] = {}
        for step in item.steps:
            wanted = sequence.step(step.label)
            if wanted is None or not step.known:
                continue
            if not wanted.ends:
                came.update(dict.fromkeys(wanted.things, step.at_s))
            yield SeenVerdict(
                sequence.words, wanted.words, step.line, judge_step(wanted, step.at_s), label=wanted.label
            )
        things = {thing for step in sequence.steps for thing in step.things}
        for judged in _order(came, things):
            yield SeenVerdict(sequence.words, _("order of the steps"), item.line, judged)


def _order(came: dict[str, float | None], things: Set[str]) -> Iterator[Judged]:
    """Yield what may not be: a flame without its inducer, strips without their fan."""
    for first, then, why in (
        ("inducer", "burner", _("The burner lit without the inducer: switch it off and call a licensed hand.")),
        ("fan", "strip", _("The strips are on and the fan is not: switch them off before they overheat.")),
    ):
        if first in things and first in came and came[first] is None and came.get(then) is not None:
            yield Judged("fail", why, source=_("the catalogue's cautions"), stop=True)
    inducer, burner = came.get("inducer"), came.get("burner")
    if inducer is not None and burner is not None and burner < inducer:
        text = _("The burner lit before the inducer ran: switch it off and call a licensed hand.")
        yield Judged("fail", text, source=_("the catalogue's cautions"), stop=True)


__all__ = ["SeenVerdict", "air_excludes", "air_verdicts", "step_verdicts", "water_verdicts"]
