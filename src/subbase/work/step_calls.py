"""With supply on: the control set up, then each call by itself with its readings, then the house handed back."""

from __future__ import annotations

import math
from collections.abc import Iterator

from subbase.catalog import CALLS, Call
from subbase.names import list_words, named
from subbase.survey import split_terminal
from subbase.wiring import OFF, Settings, State, single_calls
from subbase.wiring.states import services
from subbase.words import _, mark
from subbase.work.check_bounds import Check, volt_bounds
from subbase.work.checks import ChosenCheck
from subbase.work.step_checks import MOST_NAMED, keeps_disconnect_out, supply_pairs, tells_words
from subbase.work.step_job import COMPRESSOR_LEAST_C, PRACTICE, Job, degrees, is_cooling
from subbase.work.steps import Expected, Step

REST_MINUTES = 5
"""A compressor rests this long between runs (common practice, no source)."""
SHORT_MINUTES = 5
"""Heating is tested no longer than this in warm weather (judgement)."""
LIVE_SOURCE = mark("bounds: the circuit at line ±10 %, and a meter of 3 % and 0.5 V (judgement)")
_IN_CASE = mark("Line voltage lies in this case.")
_DOOR = mark("Dead with its panel off? Switch off, clip the leads on, close the panel over them, switch on, read.")
LIVE_CAUTION = mark("Live: 24 V terminals only; line voltage stands behind the panel.")


def set_up_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield setting each new control up for its equipment."""
    for item in job.plan.controls:
        name, settings, profile = item.control, item.settings, job.left.controls[item.control].old
        lines = [
            _("Kind of equipment: heat pump.") if settings.compressor_heats else _("Kind of equipment: no heat pump."),
            fan_words(settings),
            item.wired_words,
            _("A compressor rests {rest_minutes} minutes between runs.").format(rest_minutes=REST_MINUTES),
        ]
        if settings.changeover:
            lines.insert(
                1,
                _("Changeover valve: energised in cooling.")
                if settings.changeover == "cooling"
                else _("Changeover valve: energised in heating."),
            )
        if profile.supplies == "separate":
            lines.append(_("Rh and Rc stay apart: no link, no setting that joins them."))
        if item.chosen.lost:
            lines.append(_("Not wired, leave it off: {lost}.").format(lost=list_words(map(named, item.chosen.lost))))
        if settings.compressor_heats:
            lines.append(_("Supplementary heat stays off while the compressor can meet the load (10 CFR 460.202)."))
        yield Step(
            f"set/{name}", "set up", "do", _("Set {name} up for its equipment").format(name=name), name, job.where(name),
            _("A control set for other equipment runs the wrong thing."), lines=tuple(lines), after=gate, live=True,
            otherwise=_("It does not offer a setting: keep it OFF, and look at the plan again."), source=PRACTICE,
        )  # fmt: skip


def fan_words(settings: Settings) -> str:
    """Return who runs the fan in heating, as a setting says it."""
    if settings.compressor_heats:
        return (
            _("In strips or furnace heat the fan is run by the control.")
            if settings.fan_with_heat
            else _("In strips or furnace heat the fan is run by the equipment.")
        )
    return (
        _("In heating the fan is run by the control.")
        if settings.fan_with_heat
        else _("In heating the fan is run by the equipment.")
    )


def call_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield every call by itself: fan first, then cooling, then heating; its readings behind it."""
    states = sorted(
        (s for s in single_calls(job.left, job.plan.catalog) if s.condition is None and s.calls), key=_call_order
    )
    chosen = [c for c in job.checks.checks if c.check.state is not None]
    yield from (_live_step(job, f"live/at rest {n}", c, gate) for n, c in enumerate(_of(chosen, OFF), start=1))
    fan: dict[str, str] = {}
    cooling: list[str] = []
    back: tuple[str, ...] = ()
    out = [place for place in job.line_fed if keeps_disconnect_out(job, place)]
    for state in states:
        (control, calls), call = state.calls[0], _call(state)
        if out and not back and not is_cooling(calls) and call != "fan":
            yield _disconnect_back(job, out, tuple(cooling) or gate)
            back = ("call/disconnect back",)
        behind = (*(back or gate), *([fan[control]] if control in fan and call != "fan" else []))
        if _left_untested(job, state):
            yield _untested_step(job, state, _of(chosen, state), gate)
            continue
        step = _call_step(job, state, behind)
        yield step
        if call == "fan":
            fan[control] = step.id
        readings = (*_under_load(job, state, step.id), *_readings(job, state, _of(chosen, state), step.id))
        yield from readings
        cooling += [reading.id for reading in (step, *readings)] if is_cooling(calls) else []
    if out and not back:
        yield _disconnect_back(job, out, tuple(cooling) or gate)


def _of(chosen: list[ChosenCheck], state: State) -> list[ChosenCheck]:
    return [c for c in chosen if c.check.state == state]


def _call(state: State) -> Call:
    return next(iter(state.calls[0][1]))


def _call_order(state: State) -> tuple[int, str, int]:
    call = _call(state)
    turn = 0 if call == "fan" else 1 if is_cooling([call]) else 2
    return turn, state.calls[0][0], CALLS.index(call)


def _named(job: Job, state: State) -> str:
    return state.words(name_controls=job.several)


def _id(job: Job, state: State) -> str:
    """Return a state as ids of steps name it, in every language alike."""
    return state.name(name_controls=job.several)


def _left_untested(job: Job, state: State) -> bool:
    """Tell whether a call would run a compressor that may not run, and that no disconnect takes out of the 24 V circuit."""
    if not (is_cooling(state.calls[0][1]) and job.runs_compressor(state) and job.compressor_may_run is False):
        return False
    return any(job.has_transformer(place) for place, name in job.load_names(state) if "compressor" in name)


def _untested_step(job: Job, state: State, chosen: list[ChosenCheck], gate: tuple[str, ...]) -> Step:
    control = state.calls[0][0]
    elsewhere = {slip.words for c in job.checks.checks if c not in chosen for slip in c.tells}
    slips = [slip.words for c in chosen for slip in c.tells if slip.words not in elsewhere]
    return Step(
        f"call/{_id(job, state)} untested", "calls", "do", _("Do not call {named} today; write it down as not tested").format(named=_named(job, state)),
        control, job.where(control),
        _("Below {compressor_least_c} the compressor is not run only to test it, and its own case feeds the 24 V.").format(compressor_least_c=degrees(COMPRESSOR_LEAST_C, job.left.units)),
        lines=tuple(_("Not told today: {words}").format(words=words) for words in slips[:MOST_NAMED]), after=gate, live=True,
        otherwise=_("Come back in warmer weather."), source=PRACTICE,
    )  # fmt: skip


def _disconnect_back(job: Job, out: list[str], gate: tuple[str, ...]) -> Step:
    return Step(
        "call/disconnect back", "calls", "do", _("Controls OFF; put the disconnect of {out} back").format(out=', '.join(out)), job.site(out[0]),
        job.where(out[0]), _("Cooling has been checked without the compressor."), after=gate, live=True,
        otherwise=_("Something starts with all controls OFF: pull it again and read the landings back."),
        caution=job.cautions_at(out[0]), source=PRACTICE,
    )  # fmt: skip


def _call_step(job: Job, state: State, gate: tuple[str, ...]) -> Step:
    (control, calls), call = state.calls[0], _call(state)
    compressor = job.runs_compressor(state)
    without = compressor and is_cooling(calls) and job.compressor_may_run is False
    loads = job.loads(state)
    names = job.load_names(state)
    strips = any("strip" in name or "sequencer" in name for __, name in names)
    cautions, lines = [], list(_seen(job, state))
    if without:
        lines.append(_("The disconnect outdoors is out: the contactor clacks, the compressor stays still."))
    elif compressor:
        cautions.append(
            _("It has rested {rest_minutes} minutes. Never start it again sooner.").format(rest_minutes=REST_MINUTES)
        )
    heating = not is_cooling(calls) and call != "fan"
    if heating and job.warm:
        cautions.append(
            _("Warm weather: no longer than {short_minutes} minutes, then OFF.").format(short_minutes=SHORT_MINUTES)
        )
    if strips:
        cautions.append(
            _("Strips only with the fan blowing: put your hand to the register first. Off at once if it does not blow.")
        )
    if heating and _gas(job, names):
        cautions.append(_("A smell of gas: touch no switch, get everybody out, call the gas supplier from outside."))
    weather = (
        ("look/outdoor temperature",) if compressor and is_cooling(calls) and job.compressor_may_run is None else ()
    )
    return Step(
        f"call/{_id(job, state)}", "calls", "do", _("Call {named}").format(named=_named(job, state)), control, job.where(control),
        _("It must bring on: {loads}. Nothing else.").format(loads=list_words(loads) or named("nothing")),
        lines=(*lines, _("When its readings are taken: OFF, and wait until all has run down.")),
        otherwise=_not_so(job, names, heating=heating), caution=" ".join(cautions), after=(*gate, *weather), needs=weather, live=True,
        may_skip=bool(weather), source=PRACTICE,
    )  # fmt: skip


def _gas(job: Job, names: tuple[tuple[str, str], ...]) -> bool:
    return any(caution.startswith("Gas:") for place, __ in names for caution in job.cautions_of(place))


def _not_so(job: Job, names: tuple[tuple[str, str], ...], *, heating: bool) -> str:
    said = [_("Something else runs, or nothing does: OFF, lock out, read the landings back.")]
    if heating and _gas(job, names):
        said.append(_("No flame after two tries: leave it OFF; a licensed gas fitter."))
    if any("compressor" in name for __, name in names):
        said.append(
            _(
                "The 24 V is right and the compressor does not start: leave it OFF; line side and refrigerant are licensed work."
            )
        )
    return " ".join(said)


def _seen(job: Job, state: State) -> Iterator[str]:
    """Yield what is seen and heard, and when, in every piece of equipment that works in this call."""
    control, call = state.calls[0][0], _call(state)
    seen = []
    for service in services(job.left, job.plan.catalog, control):
        if call in service.requirements:
            item = job.left.equipment[service.place]
            word, __, number = call.rpartition(" ")
            own = call
            if item.role != "main" and word in ("auxiliary heat", "emergency heat", "second fuel heat"):
                own = next((c for c in CALLS if c == f"heat {number}"), call)
            steps = service.kind.sequence.get(own) or service.kind.sequence.get(call) or ()
            seen += [(step.after_s, service.place, _(step.what)) for step in steps]
    yield from (
        _("After {after_s:.0f} s, {place}: {words}.").format(after_s=after_s, place=place, words=words)
        if after_s
        else _("At once, {place}: {words}.").format(place=place, words=words)
        for after_s, place, words in sorted(seen)
    )


def _under_load(job: Job, state: State, call_id: str) -> Iterator[Step]:
    control = state.calls[0][0]
    pairs = supply_pairs(job, control)
    checks = [Check("live", pair, 0.0, 0.0, "V", control, state=state) for pair in pairs]
    for pair, (low, high) in zip(pairs, volt_bounds(job.left, job.plan.catalog, checks), strict=True):
        if math.isfinite(high):
            yield Step(
                f"load/{_id(job, state)} {pair[0]}", "calls", "read", _("Supply under load: {first} to {second}").format(first=pair[0], second=pair[1]), control,
                job.where(control), _("A weak supply shows only under load."),
                expected=Expected(low, high, "V", pair, _("a weak transformer, a loose end, more load than the survey says"), _("the load is not on")),
                otherwise=_("OFF. Lower: add up the VA on the nameplates, tug the supply's conductors (locked out). Higher: see what did not come on."),
                caution=_(LIVE_CAUTION), after=(call_id,), needs=(call_id,), live=True, may_skip=job.compressor_may_run is None and job.runs_compressor(state),
                source=LIVE_SOURCE,
            )  # fmt: skip


def _readings(job: Job, state: State, chosen: list[ChosenCheck], call_id: str) -> Iterator[Step]:
    for number, c in enumerate(chosen, start=1):
        yield _live_step(job, f"live/{_id(job, state)} {number}", c, (call_id,), needs=(call_id,))


def _live_step(
    job: Job, step_id: str, chosen: ChosenCheck, gate: tuple[str, ...], *, needs: tuple[str, ...] = ()
) -> Step:
    check = chosen.check
    place = split_terminal(check.between[0])[0]
    in_case = job.outdoors(place)
    waits = check.state is not None and job.compressor_may_run is None and job.runs_compressor(check.state)
    low = _("a conductor that is open or on another terminal") if check.low > 0.5 else ""
    return Step(
        step_id, "calls", "read", _("{first} to {second}").format(first=check.between[0], second=check.between[1]), check.site, job.where(place),
        tells_words(len(chosen.tells)),
        lines=tuple(_("Wrong if: {slip}").format(slip=slip.words) for slip in chosen.tells[:MOST_NAMED]),
        expected=Expected(check.low, check.high, "V", check.between, low, _("a conductor that is open or on another terminal")),
        otherwise=_("OFF, lock out, prove dead. Read the landings back, put right what is wrong, then all dead readings again."),
        caution=" ".join(_(text) for text in (_IN_CASE if in_case else "", _DOOR if place in job.line_fed else "", LIVE_CAUTION) if text),
        who="licensed electrician" if in_case else "anyone", after=gate, needs=needs, live=True, may_skip=in_case or waits,
        covers=tuple(slip.words for slip in chosen.tells), check=check, source=LIVE_SOURCE,
    )  # fmt: skip


def hand_over_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield sealing, papers and the owner."""
    for item in job.plan.controls:
        yield Step(
            f"end/seal {item.control}", "hand over", "do", _("Seal the hole behind the plate of {control}").format(control=item.control), item.control,
            job.where(item.control), _("A draught from the wall falsifies its sensor."), after=gate, live=True,
            caution=_("OFF and pulled off its plate for it. Nothing flammable, nothing that conducts."), source=PRACTICE,
        )  # fmt: skip
    seals = tuple(f"end/seal {item.control}" for item in job.plan.controls)
    mercury = any(control.old.mercury for control in job.found.controls.values())
    yield Step(
        "end/papers", "hand over", "do", _("Leave the papers in the equipment's door; mark what was not tested"), job.site(job.main),
        job.where(job.main), _("The next one in this basement can trust them."), after=seals, live=True,
        lines=(_("Landings as left, readings taken, steps skipped with their reason, date and name."),), source=PRACTICE,
    )  # fmt: skip
    yield Step(
        "end/owner", "hand over", "do", _("Set schedule and temperatures; show the owner"), "house", _("with the people of the house"),
        _("What they cannot work, they call about."), after=("end/papers",), live=True,
        lines=(
            _("Old temperatures as written down; every control back to the mode the season asks for."),
            *(_("They lose: {lost} at {control}.").format(lost=list_words(map(named, i.chosen.lost)), control=i.control) for i in job.plan.controls if i.chosen.lost),
            *((_("Take the old control with you upright: mercury, universal waste (40 CFR 273.4, 273.9)."),) if mercury else ()),
        ),
        source=PRACTICE,
    )  # fmt: skip


__all__ = ["call_steps", "hand_over_steps", "set_up_steps"]
