"""Before anything is moved: look, tell, control off, lock out, prove dead, photograph and label.

The order of proving (instrument on a known live source, every pair and each to ground, instrument again) is that of
NFPA 70E 120.5(7) (2018, 2021), 120.6(7) (2024).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

from subbase.circuit import settle, solve
from subbase.errors import Chatter
from subbase.names import landing_words
from subbase.survey import NOWHERE, Unknown, split_terminal
from subbase.wiring import build_house, single_calls
from subbase.words import _, mark
from subbase.work.step_job import COMPRESSOR_LEAST_C, PRACTICE, Job, degrees, last_of
from subbase.work.steps import Expected, Step

LIVE_DEAD_LIVE = mark("NFPA 70E 120.5(7) (2018, 2021), 120.6(7) (2024)")
LOCK_OUT = mark("OSHA 29 CFR 1910.333(b) and 1910.147, from memory; local rules decide")
TRY_OUT = mark("OSHA 29 CFR 1910.147(d)(6), from memory")
DEAD_MOST_V = 1.0
"""A terminal pair that reads less than this on a low-impedance meter is taken to be dead (judgement)."""
LIVE_LEAST_V = 10.0
"""Pairs that stand above this at rest as found are the ones that would show a live supply (judgement)."""
RECEPTACLE_V = (108.0, 132.0)
"""120 V ±10 % (judgement), for houses in US units; elsewhere the source's own volts."""
CAPACITOR_S = 300
"""Wait before a case with a motor capacitor is opened [s] (common practice, no source)."""


def look_steps(job: Job) -> Iterator[Step]:
    """Yield what is looked for before anything is touched."""
    yield Step(
        "look/stops", "look", "look", _("Look for what stops the job"), "house", _("the wall and the equipment"),
        _("These are no 24 V circuits, or no safe ones."),
        lines=(
            _("No thick conductors, no 120 or 240 marking at the wall."),
            _("Not two thin conductors that show under one volt."),
            _("No numbered or lettered data terminals."),
            _("No scorched insulation, no water, no smell of burning."),
            _("Equipment, cables and terminals are as the survey says."),
        ),
        otherwise=_("Stop. Close up, leave it locked out, and go by the survey's stop page. Mend the survey where it is wrong."),
        source=PRACTICE,
    )  # fmt: skip
    burning = [place for place in job.found.equipment if any(c.startswith("Gas:") for c in job.cautions_of(place))]
    if burning:
        yield Step(
            "look/gas", "look", "look", _("Smell for gas at {burning}").format(burning=', '.join(burning)), job.site(burning[0]),
            job.where(burning[0]), _("Gas burns at the first spark of a switch."),
            otherwise=_("Touch no switch, no lamp, no phone. Get everybody out. Call the gas supplier from outside."),
            caution=job.cautions_at(burning[0]), source=PRACTICE,
        )  # fmt: skip
    if job.compressor_may_run is None and _cooling_compressor(job):
        yield Step(
            "look/outdoor temperature", "look", "read", _("Read the outdoor temperature in the shade"), "house", _("outdoors"),
            _("A compressor that runs in the cold only for a test can be harmed by liquid."),
            expected=Expected(
                COMPRESSOR_LEAST_C, float("inf"), "degC",
                if_low=_("too cold to run the compressor only to test it"),
            ),
            otherwise=_("Below {compressor_least_c}: make these steps again with the temperature given. Cooling is then checked without running the compressor.").format(compressor_least_c=degrees(COMPRESSOR_LEAST_C, job.left.units)),
            source=PRACTICE,
        )  # fmt: skip


def _cooling_compressor(job: Job) -> bool:
    return any(
        job.runs_compressor(state) and any(call.startswith("cool") for __, calls in state.calls for call in calls)
        for state in single_calls(job.left, job.plan.catalog)
    )


def tell_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield what the household is told."""
    minutes = sum(item.chosen.minutes for item in job.plan.controls)
    lines = [
        _("No heating, cooling or fan for about {minutes} minutes.").format(minutes=minutes),
        _("Nobody touches a breaker, a disconnect or a control with my tag on it."),
        _("Children and pets stay away from the open equipment."),
        _("Ask what else is on these breakers: medical equipment, a freezer, a sump pump."),
    ]
    if job.season == "heating" or (job.outdoor_c is not None and job.outdoor_c < 0):
        lines.append(_("It is cold: if the job cannot be ended today, heat must work again by tonight."))
    if job.season == "cooling" or job.warm:
        lines.append(_("It is hot: see to infants, the old and the sick while cooling is off."))
    yield Step(
        "tell/household", "tell", "do", _("Tell the household"), "house", _("with the people of the house"),
        _("Somebody who finds the heat off goes and switches it on."), lines=tuple(lines), after=gate,
        otherwise=_("If the house cannot be without it now, come another day."), source=PRACTICE,
    )  # fmt: skip


def off_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield switching every control off, those too that stay."""
    for name, control in job.found.controls.items():
        yield Step(
            f"off/{name}", "control off", "do", _("Set {name} to OFF, its fan to AUTO").format(name=name), name, job.where(name),
            _("Nothing may be called if supply should come back."), after=gate,
            otherwise=_("If it cannot be set off, go on: the lock-out stops it. Note it."),
            lines=(_("Write down its set temperatures and schedule for the owner."), _("Wait until everything has run down.")),
            caution=_("It holds mercury: keep it level and whole.") if control.old.mercury else "", source=PRACTICE,
        )  # fmt: skip


def lock_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield locking out every supply of the house, then trying whether anything still starts."""
    fed = job.line_fed
    count = (
        _("This house has {count} places that the line feeds; each is locked by itself.").format(count=len(fed))
        if len(fed) > 1
        else ""
    )
    for place in fed:
        outdoors = job.outdoors(place)
        yield Step(
            f"lock/{place}", "lock out", "do",
            (_("Pull the disconnect of {place}, lock it, tag it") if outdoors else _("Switch off the disconnect or breaker of {place}, lock it, tag it")).format(place=place),
            job.site(place), job.where(place),
            _joined(count, _("Behind its panel stands line voltage.")), after=gate,
            lines=(
                _("Your own lock, your name and the time on the tag, the key in your pocket."),
                _("A door switch is no lock."),
                *((_("One breaker for both: one lock, two tags."),) if len(fed) > 1 else ()),
            ),
            caution=_joined(_("Do not open the line-voltage side: a licensed electrician does that."), job.cautions_at(place)),
            otherwise=_("No disconnect found, or it cannot be locked: stop. A licensed electrician finds it or fits one."),
            source=LOCK_OUT,
        )  # fmt: skip
    locks = tuple(f"lock/{place}" for place in fed) or gate
    first = job.plan.controls[0].control
    yield Step(
        "lock/try", "lock out", "do", _("Try it: call for heat, cooling and fan at {first}, then OFF again").format(first=first), first,
        job.where(first), _("Nothing may start. That shows the right breakers are off."), after=locks,
        lines=(_("Wait a minute at each call: boards have delays."),),
        otherwise=_("Something starts: the wrong supply is locked, or there is one more. OFF, find it, lock it, try again."),
        source=TRY_OUT,
    )  # fmt: skip


def prove_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield live, dead, live: the meter proved, every pair tested, the meter proved again."""
    yield _meter_step(job, "prove/meter first", _("Prove the meter on a known live source"), gate)
    tests = tuple(_dead_tests(job, ("prove/meter first",)))
    yield from tests
    again = _meter_step(
        job, "prove/meter again", _("Prove the meter again on the same live source"), last_of(tests) or gate
    )
    yield replace(again, voids=("prove/meter first", *(test.id for test in tests)))


def _meter_step(job: Job, step_id: str, title: str, gate: tuple[str, ...]) -> Step:
    us = job.left.units == "us"
    return Step(
        step_id, "prove dead", "read" if us else "look", title, "house", _("a receptacle that is known to work"),
        _("A dead meter shows 0 V on a live terminal.") if "first" in step_id else _("It may have failed in between."),
        expected=Expected(*RECEPTACLE_V, "V", if_low=_("the meter, its leads or its range is not right"), if_high=_("not the source you took it for")) if us else None,
        otherwise=_("Do not trust this meter. Mend leads or battery, or take another; then test everything anew."),
        caution=_("Meter of CAT III for fixed wiring, CAT II at least for plugged-in equipment; volts AC; leads whole."),
        after=gate, source=LIVE_DEAD_LIVE,
    )  # fmt: skip


def _dead_tests(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    opened = {place for place in job.touched if job.outdoors(place)}
    for place in opened:
        yield Step(
            f"prove/{place} waited", "prove dead", "do", _("Wait {capacitor_s} minutes at {place} before its panel comes off").format(capacitor_s=CAPACITOR_S // 60, place=place),
            job.site(place), job.where(place), _("A capacitor in it holds its charge."), after=gate,
            caution=_("Never touch or bridge a capacitor's terminals. Stay out of the line-voltage compartment."),
            otherwise=_("If line-voltage parts lie open beside the 24 V terminals, leave it closed: licensed electrician."),
            who="licensed electrician", may_skip=not _moved_at(job, place), source=PRACTICE,
        )  # fmt: skip
    for place, pair, volts in live_pairs(job):
        behind = (f"prove/{place} waited",) if place in opened else gate
        a, b = pair
        yield Step(
            f"prove/{a} {b}", "prove dead", "read", _("Test {a} to {b}").format(a=a, b=b), job.site(place), job.where(place),
            _("Live it would read about {volts:.0f} V.").format(volts=volts), after=behind,
            lines=(_("Then every other pair of terminals here, and each to bare grounded metal."),),
            expected=Expected(0.0, DEAD_MOST_V, "V", pair, if_high=_("it is live, or a ghost on an open conductor: use the meter's low-impedance range")),
            otherwise=_("Not dead: hands off. Another supply feeds it. Find it, lock it, and prove everything anew."),
            caution=job.cautions_at(place), who="licensed electrician" if place in opened else "anyone",
            needs=behind if place in opened else (),
            may_skip=place in opened and not _moved_at(job, place), source=LIVE_DEAD_LIVE,
        )  # fmt: skip


def _moved_at(job: Job, place: str) -> bool:
    return place in {end.place(job.found) for end in job.unseen} or any(
        place in (move.place, *(split_terminal(end)[0] for end in (move.was, move.becomes, *(move.link or ()))))
        for move in job.order.moves
    )


def live_pairs(job: Job) -> tuple[tuple[str, tuple[str, str], float], ...]:
    """Return (place, two terminals, volts) that show at each place, as found, whether each supply there is live.

    One pair for each supply that reaches a place where a hand goes or a supply sits: the one with the most volts at rest.
    """
    house = build_house(job.found, job.plan.catalog)
    try:
        solution = settle(house.netlist).solution
    except Chatter as error:
        solution = solve(house.netlist, coils_in=frozenset(error.coils))
    index = house.netlist.index
    closed = {place for place in job.found.equipment if job.outdoors(place) and place not in job.touched}
    found: list[tuple[str, tuple[str, str], float]] = []
    for place in job.found.places():
        if place in closed or not (place in job.touched or job.has_transformer(place) or place in job.found.controls):
            continue
        best: dict[int, tuple[tuple[str, str], float]] = {}
        for a, b in combinations(_points(job, place), 2):
            if a in index and b in index:
                volts = abs(solution.between(a, b) or 0j)
                supply = solution.reference[index[a]]
                if volts > max(LIVE_LEAST_V, best.get(supply, ((a, b), 0.0))[1] + 1e-6):
                    best[supply] = ((a, b), volts)
        found += [(place, pair, volts) for pair, volts in best.values()]
    return tuple(found)


def _points(job: Job, place: str) -> tuple[str, ...]:
    """Return the terminals of a place that a probe can reach, supply and common first."""
    if place in job.found.controls:
        return tuple(f"{place}.{terminal}" for terminal in job.found.controls[place].old.terminals)
    if place in job.found.transformers:
        return f"{place}.hot", f"{place}.common"
    kind = job.plan.catalog[str(job.found.equipment[place].kind)]
    first = [terminal for terminal in (kind.supply, kind.common) if terminal]
    return tuple(f"{place}.{terminal}" for terminal in dict.fromkeys([*first, *kind.terminals]))


def label_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield photographing and labelling each place where something is moved."""
    places = [p for p in job.found.places() if _moved_at(job, p) and (p in job.found.controls or _ends_at(job, p))]
    for place in sorted(places, key=lambda p: (p in job.found.controls, job.site(p) != job.site(job.main))):
        yield Step(
            f"photo/{place}", "photograph and label", "do", _("Photograph {place}: every terminal, every colour").format(place=place), job.site(place),
            job.where(place), _("It is the only way back to how it was."), after=gate,
            lines=(_("One from afar, one close, sharp enough to read the marks."), _("Links and wire nuts too.")),
            otherwise=_("Blurred or dark: take it again now. Later is too late."), caution=job.cautions_at(place), source=PRACTICE,
        )  # fmt: skip
        yield Step(
            f"label/{place}", "photograph and label", "do", _("Label every conductor at {place} by its terminal").format(place=place), job.site(place),
            job.where(place), _("Colours mean nothing; behind the wall they may change."), after=(f"photo/{place}",),
            lines=tuple(_label_lines(job, place)),
            otherwise=_("Another terminal than the survey says: stop here. Mend the survey and plan again."),
            source=PRACTICE,
        )  # fmt: skip


def _ends_at(job: Job, place: str) -> bool:
    return any(True for __ in job.landed(job.found, place))


def _label_lines(job: Job, place: str) -> Iterator[str]:
    for cable, name, side, landing in job.landed(job.found, place):
        conductor = job.plan.survey.cables[cable].conductors[name] if cable in job.plan.survey.cables else None
        said = (conductor.from_ if side == "from" else conductor.to) if conductor else landing
        words = job.conductor(cable, name, side)
        if isinstance(said, Unknown):
            yield _("{words}: not known; label it by what you find").format(words=words)
        elif landing in NOWHERE:
            yield _('{words}: label it "{landing}"').format(words=words, landing=landing_words(landing))
        else:
            yield f"{words}: {landing}"


def _joined(*texts: str) -> str:
    return " ".join(text for text in texts if text)


__all__ = ["label_steps", "live_pairs", "lock_steps", "look_steps", "off_steps", "prove_steps", "tell_steps"]
