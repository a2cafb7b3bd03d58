"""From the last move to supply on: read back, look twice where no dead reading tells damage, meter dead, clips off, close, power."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from subbase.names import landing_words, list_words, named
from subbase.survey import split_terminal
from subbase.wiring import OFF, State
from subbase.words import _, mark, plural
from subbase.work.check_bounds import Check, volt_bounds
from subbase.work.checks import ChosenCheck
from subbase.work.outcomes import DAMAGING, SEVERITIES, Outcome
from subbase.work.step_dead import live_pairs
from subbase.work.step_job import JUDGEMENT, PRACTICE, Job
from subbase.work.steps import Expected, Step

MOST_NAMED = 3
POWER_RULE = mark("OSHA 29 CFR 1910.147(e), from memory")


def look_twice_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield reading every landing back, and looking twice at damage that no dead reading tells."""
    places = [p for p in job.left.places() if any(_touches(job, p))]
    here = job.order.moves[-1].site if job.order.moves else ""
    for place in sorted(places, key=lambda place: job.site(place) != here):
        yield Step(
            f"look/landings {place}", "look twice", "look", _("Read every landing at {place} back from this list").format(place=place), job.site(place),
            job.where(place), _("Two conductors look alike. Labels do not."),
            lines=tuple(_landing_lines(job, place)), after=gate,
            otherwise=_("Put it right as in the moves: locked out, one end at a time. Then read all back again."),
            source=PRACTICE,
        )  # fmt: skip
    by_place: dict[str, list[Outcome]] = {}
    for outcome in told_by_eye(job):
        by_place.setdefault(outcome.slip.place, []).append(outcome)
    for place, outcomes in by_place.items():
        yield Step(
            f"look/twice {place}", "look twice", "look", _("Look twice at {place}: none of these may be").format(place=place), job.site(place),
            job.where(place), _("No dead reading of yours tells them, and with supply on they do damage."),
            lines=tuple(_("Not {slip}: {what}").format(slip=outcome.slip.words, what=_what(outcome)) for outcome in outcomes),
            after=gate, covers=tuple(outcome.slip.words for outcome in outcomes),
            otherwise=_("Do not power up. Put it right while it is locked out."),
            caution=_look_caution(job, place), source=JUDGEMENT,
        )  # fmt: skip


def told_by_eye(job: Job) -> tuple[Outcome, ...]:
    """Return the damaging slips that no dead reading tells, or none that these hands may take; a case that stays closed holds what it held."""
    told = {
        slip.words
        for chosen in job.checks.checks
        if chosen.check.state is None and not job.in_closed_case(chosen.check)
        for slip in chosen.tells
    }
    return tuple(
        outcome
        for outcome in job.checks.outcomes
        if outcome.severity in DAMAGING
        and outcome.slip.words not in told
        and outcome.slip.place not in job.closed_cases
    )


def _look_caution(job: Job, place: str) -> str:
    inside = _("Its disconnect stays out while you look in.") if job.outdoors(place) else ""
    return f"{inside} {job.cautions_at(place)}".strip()


def _touches(job: Job, place: str) -> Iterator[bool]:
    for move in job.order.moves:
        for end in (move.was, move.becomes, *(move.link or ())):
            if split_terminal(end)[0] == place:
                yield True


def _landing_lines(job: Job, place: str) -> Iterator[str]:
    for cable, name, side, landing in job.landed(job.left, place):
        yield f"{job.conductor(cable, name, side)}: {landing_words(landing)}"
    for jumper in job.left.jumpers:
        if jumper.present is True and any(split_terminal(end)[0] == place for end in jumper.between):
            yield _("link {first} to {second}").format(first=jumper.between[0], second=jumper.between[1])


def _what(outcome: Outcome) -> str:
    return f"{outcome.worst.text} ({outcome.worst.call})" if outcome.worst else named(outcome.severity)


def dead_check_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield the dead readings, those with a clip between putting it on and taking it off."""
    dead = [chosen for chosen in job.checks.checks if chosen.check.state is None]
    after = gate
    for number, chosen in enumerate(_walked(job, [c for c in dead if c.check.clip is None]), start=1):
        yield (step := _dead_step(job, f"dead/{number}", chosen, after))
        after = (step.id,)
    clips = dict.fromkeys(chosen.check.clip for chosen in dead if chosen.check.clip is not None)
    for number, clip in enumerate(clips, start=1):
        place = split_terminal(clip[0])[0]
        yield Step(
            f"clip/{number} on", "check dead", "do", _("Clip {first} and {second} together").format(first=clip[0], second=clip[1]), job.site(place), job.where(place),
            _("Then both conductors show at the other end as one loop."), after=after,
            lines=(_("A clip lead with a long bright tail. Count it: one on."),), caution=_("Only while locked out and proved dead."),
            otherwise=_("Not to be reached: land nothing elsewhere for it. Say so, and stop here."), source=PRACTICE,
        )  # fmt: skip
        readings = []
        for index, chosen in enumerate([c for c in dead if c.check.clip == clip], start=1):
            readings.append(_dead_step(job, f"clip/{number} reading {index}", chosen, (f"clip/{number} on",)))
        yield from readings
        yield Step(
            f"clip/{number} off", "check dead", "look", _("Take the clip off {first} and {second}").format(first=clip[0], second=clip[1]), job.site(place),
            job.where(place), _("Left on, it is a short as soon as supply comes."), after=tuple(step.id for step in readings),
            lines=(_("Count it: one off."),), otherwise=_("Look for it until it is in your hand. No power before."),
            source=JUDGEMENT,
        )  # fmt: skip
        after = (f"clip/{number} off",)


def _walked(job: Job, chosen: Sequence[ChosenCheck]) -> list[ChosenCheck]:
    """Return plain dead checks site by site: where the last move was first, the main equipment last."""
    first = job.order.moves[-1].site if job.order.moves else ""
    main = job.site(job.main)
    sites = sorted({c.check.site for c in chosen}, key=lambda site: (site == main, site != first, site))
    return [c for site in sites for c in chosen if c.check.site == site]


def _dead_step(job: Job, step_id: str, chosen: ChosenCheck, gate: tuple[str, ...]) -> Step:
    check = chosen.check
    a, b = check.between
    place = split_terminal(a)[0]
    damaging = [slip for slip in chosen.tells if job.severities[slip.words] in DAMAGING]
    ranked = sorted(chosen.tells, key=lambda slip: SEVERITIES.index(job.severities[slip.words]))
    in_case = job.outdoors(place)
    proved = tuple(f"prove/{p[0]} {p[1]}" for at, p, __ in live_pairs(job) if at == place) if in_case else ()
    return Step(
        step_id, "check dead", "read", _("Dead: {a} to {b}").format(a=a, b=b), check.site, job.where(place),
        tells_words(len(chosen.tells), len(damaging)),
        lines=tuple(_("Wrong if: {slip}").format(slip=slip.words) for slip in ranked[:MOST_NAMED]),
        expected=Expected(check.low, check.high, "ohm", check.between, *_meanings(check)),
        otherwise=_("No power. Touch the leads together: they must read under 0.5 ohm. Then read the landings back, put right what is wrong, and read again."),
        caution=_("Its disconnect is out and stays out. Touch only the 24 V terminals.") if in_case else "",
        who="licensed electrician" if in_case else "anyone", may_skip=job.in_closed_case(check),
        after=gate, needs=proved, covers=tuple(slip.words for slip in chosen.tells), check=check,
        source=_("bounds: the circuit, for any resistances within their ranges (Rayleigh's monotonicity law, from memory)"),
    )  # fmt: skip


def tells_words(count: int, damaging: int = 0) -> str:
    """Return how many wrong landings a reading tells, and how many of them do damage."""
    if damaging:
        return plural(
            "Tells {count} wrong landing apart from the right one, {damaging} that do damage.",
            "Tells {count} wrong landings apart from the right one, {damaging} that do damage.",
            count,
        ).format(count=count, damaging=damaging)
    return plural(
        "Tells {count} wrong landing apart from the right one.",
        "Tells {count} wrong landings apart from the right one.",
        count,
    ).format(count=count)


def _meanings(check: Check) -> tuple[str, str]:
    """Return what a lower and a higher reading mean."""
    if math.isinf(check.low):
        return _("any number: something joins two circuits that must stay apart"), ""
    low = _("near 0: a short, or two landings joined") if check.low > 0.5 else ""
    high = _("OL: an end that is not joined, or not here") if not math.isinf(check.high) else ""
    return low, high


def close_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield closing up: clips and tools counted, panels on, covers on."""
    for item in job.plan.controls:
        yield Step(
            f"close/{item.control}", "close up", "do", _("Put {control} on its plate, set to OFF").format(control=item.control), item.control,
            job.where(item.control), _("Nothing may be called as supply comes back."), after=gate,
            lines=(_("Push the conductors back into the wall; none pinched behind the plate."),),
            otherwise=_("It does not seat: look for a bent pin or a conductor in the way."), source=PRACTICE,
        )  # fmt: skip
    seated = tuple(f"close/{item.control}" for item in job.plan.controls)
    yield Step(
        "close/count", "close up", "look", _("Count clips, tools and cut ends of copper"), job.site(job.main), job.where(job.main),
        _("What stays inside is a short."), after=seated or gate, lines=(_("All clips in the hand. No copper dust on the board."),),
        otherwise=_("Find it before anything is closed."), source=PRACTICE,
    )  # fmt: skip
    opened = [p for p in job.line_fed if any(_touches(job, p)) or p in job.touched]
    for place in opened:
        yield Step(
            f"close/{place}", "close up", "do", _("Close {place}").format(place=place), job.site(place), job.where(place),
            _("Many stay dead until the panel presses its door switch. 24 V conductors stay apart from power conductors."),
            after=("close/count",), otherwise=_("Never tape or wedge a door switch: find out why the panel does not close."),
            who="licensed electrician" if job.outdoors(place) else "anyone",
            may_skip=job.outdoors(place) and not any(_touches(job, place)),
            source=_("NFPA 70 section 725.136 for keeping apart; common practice, no source, for the door switch"),
        )  # fmt: skip


def power_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield each supply put on, then the volts at rest at every one of them, at the equipment first."""
    stays_out = [p for p in job.line_fed if keeps_disconnect_out(job, p)]
    after = gate
    for place in (p for p in job.line_fed if p not in stays_out):
        step_id = f"power/{place}"
        yield Step(
            step_id, "power up", "do", _("Take your lock off {place}; switch it on").format(place=place), job.site(place), job.where(place),
            _("Everything that tells damage has been met.") if after == gate else _("One supply after the other."),
            caution=_("Stand aside, look and listen. A hum, a smell, a spark: off at once, lock it, go back to the dead readings."),
            otherwise=_("A breaker trips or a fuse opens: do not try twice. Lock it out and go back to the dead readings."),
            after=after, live=True, source=POWER_RULE,
        )  # fmt: skip
        after = (step_id,)
    for name in job.left.equipment:
        if name not in job.found.equipment and job.has_transformer(name):
            yield Step(
                f"power/{name}", "power up", "do", _("Plug {name} in").format(name=name), job.site(name), job.where(name),
                _("It feeds the control alone."), after=after, live=True,
                otherwise=_("Warm, humming or dead: unplug it and go back to the dead readings."), source=PRACTICE,
            )  # fmt: skip
            after = (f"power/{name}",)
    if stays_out:
        yield Step(
            "power/stays out", "power up", "look", _("Leave the disconnect of {stays_out} out, with its tag").format(stays_out=list_words(stays_out)),
            job.site(stays_out[0]), job.where(stays_out[0]), _("The compressor may not run in this weather."), after=after,
            otherwise=_("Pull it again: a call for cooling would start the compressor."), live=True, source=PRACTICE,
        )  # fmt: skip
        after = ("power/stays out",)
    yield from _at_rest(job, after)


def keeps_disconnect_out(job: Job, place: str) -> bool:
    """Return whether a unit's disconnect stays out during the calls: too cold for its compressor, and it feeds no 24 V."""
    return job.outdoors(place) and not job.has_transformer(place) and job.compressor_may_run is False


def _at_rest(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    pairs = dict.fromkeys((place, pair) for place, pair, __ in live_pairs(job) if place not in job.found.controls)
    pairs |= dict.fromkeys((name, pair) for name in job.left.controls for pair in supply_pairs(job, name))
    for (place, pair), bounds in zip(pairs, rest_bounds(job, [pair for __, pair in pairs]), strict=True):
        if math.isfinite(bounds[1]) and bounds[0] > 0 and not job.outdoors(place):
            yield Step(
                f"rest/{pair[0]} {pair[1]}", "power up", "read", _("Supply at rest: {first} to {second}").format(first=pair[0], second=pair[1]), job.site(place),
                job.where(place), _("Before anything is called, every supply stands as the circuit says."),
                expected=Expected(*bounds, "V", pair, _("a weak or wrong supply, a fuse open, a load that is on"), _("the line is high, or the wrong transformer tap")),
                otherwise=_("0 V: door switch, breaker, board fuse. Otherwise lock out and go back to the dead readings."),
                caution=_("Live: 24 V terminals only; line voltage stands behind the panel."), after=gate, live=True,
                source=_("bounds: the circuit at line ±10 %, and a meter of 3 % and 0.5 V (judgement)"),
            )  # fmt: skip
    for item in job.plan.controls:
        yield Step(
            f"awake/{item.control}", "power up", "look", _("{control} is awake").format(control=item.control), item.control, job.where(item.control),
            _("It must start by itself and stay on."), after=gate, live=True,
            otherwise=_("Dark: read its supply. Restarts by turns: a weak supply or a loose end. Lock out before you touch an end."),
            source=PRACTICE,
        )  # fmt: skip


def supply_pairs(job: Job, control: str) -> tuple[tuple[str, str], ...]:
    """Return supply and common of a control as left, where it has both."""
    terminals = job.left.controls[control].old.terminals
    landed = {landing for _cable, _name, _side, landing in job.landed(job.left, control)} | {
        end for jumper in job.left.jumpers if jumper.present is True for end in jumper.between
    }
    common = f"{control}.C"
    power = job.left.controls[control].old.power_terminal()
    return ((f"{control}.{power}", common),) if "C" in terminals and {common, f"{control}.{power}"} <= landed else ()


def rest_bounds(job: Job, pairs: Sequence[tuple[str, str]], state: State = OFF) -> tuple[tuple[float, float], ...]:
    """Return what volts pairs must read in a state."""
    checks = [Check("live", pair, 0.0, 0.0, "V", "", state=state) for pair in pairs]
    return volt_bounds(job.left, job.plan.catalog, checks)


__all__ = [
    "close_steps", "dead_check_steps", "keeps_disconnect_out", "look_twice_steps", "power_steps", "rest_bounds",
    "supply_pairs",
]  # fmt: skip
