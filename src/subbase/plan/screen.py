"""What stops the job before anything is planned: circuits that are not 24 V AC Class 2, or cannot be known to be."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.plan.result import Stop
from subbase.survey import Profile, Survey, Unknown
from subbase.words import _, mark

LEAST_V, MOST_V = 18.0, 32.0
"""Open-circuit readings outside this are no 24 V AC supply (judgement: 24 V ±10 % with 10-20 % no-load rise)."""
MILLIVOLT_V = 1.0
_LINE = Stop(
    mark("Line voltage is at the wall: this control switches 110 V or more."),
    mark(
        "Stop. Close the wall up and leave the circuit locked out. A licensed electrician decides; only a control listed for line voltage, or a relay with its own 24 V circuit, can go here."
    ),
)
_MILLIVOLT = Stop(
    mark("The circuit is self-generating: a thermopile of less than one volt works the valve, with no transformer."),
    mark(
        "Stop. Never bring 24 V to it: the valve would be destroyed. Fit only a control made for millivolt circuits, or have a licensed gas fitter fit a 24 V valve circuit."
    ),
)
_SERIAL = Stop(
    mark("The control talks to its equipment over a serial data line; its terminals are not switched 24 V."),
    mark(
        "Stop until it is identified. Only a control that speaks the same data line can replace it; look for a 24 V terminal strip on the equipment's board and survey that instead."
    ),
)
_UNKNOWN = Stop(
    mark("It is not known what kind of circuit the old control switches."),
    mark(
        "Stop until it is identified. With the supply locked out, look at the wire gauge, the marking on the old control and the equipment's diagram; then measure between terminals with a meter rated for mains."
    ),
)
_SIGNS = {
    "thick conductors": Stop(
        mark("Thick conductors at the wall are a mark of line voltage."),
        mark(
            "Stop. Treat it as live mains: find its breaker, lock it out and prove it dead. A licensed electrician decides."
        ),
    ),
    "wire nuts on two thick conductors": _LINE,
    "120 or 240 marking": _LINE,
    "two thin conductors under one volt": _MILLIVOLT,
    "numbered data terminals": _SERIAL,
    "scorched insulation": Stop(
        mark("Insulation at the wall is scorched: something has carried too much current."),
        mark(
            "Stop. Lock the supply out and find the cause at the equipment (fuse, transformer, a short) before a new control is landed."
        ),
    ),
    "water in the wall box": Stop(
        mark("There is water in the wall box."),
        mark("Stop. Find and mend the leak and let it dry before any work."),
    ),
}


def screen(survey: Survey) -> tuple[Stop, ...]:
    """Return every reason to stop; empty when planning may go on."""
    stops: list[Stop] = [_said(_SIGNS[sign]) for sign in survey.signs]
    for name, control in survey.controls.items():
        if control.new is not None:
            stops.extend(_profile_stops(control.old))
            stops.extend(_reading_stops(survey, name))
    if not any(control.new is not None for control in survey.controls.values()):
        stops.append(
            Stop(
                _("No control in this survey is to be replaced."),
                _("Give one of the controls a 'new' profile: what is to be fitted."),
            )
        )
    return tuple(dict.fromkeys(stops))


def _said(stop: Stop) -> Stop:
    """Return a stop in the language that is set."""
    return Stop(_(stop.seen), _(stop.instead))


def _profile_stops(profile: Profile) -> Iterator[Stop]:
    if isinstance(profile.wiring, Unknown):
        yield _said(_UNKNOWN)
    elif profile.wiring == "line voltage":
        yield _said(_LINE)
    elif profile.wiring == "millivolt":
        yield _said(_MILLIVOLT)
    elif profile.wiring == "serial data":
        yield _said(_SERIAL)


def _reading_stops(survey: Survey, control: str) -> Iterator[Stop]:
    """Judge readings taken at the wall between a supply and anything else, with nothing called."""
    for reading in survey.readings:
        ends = [end.partition(".") for end in reading.between]
        if reading.volts is None or any(place != control for place, _dot, _terminal in ends):
            continue
        pair = _("{a} to {b}").format(a=ends[0][2], b=ends[1][2])
        if reading.volts > MOST_V:
            yield Stop(
                _("{volts:g} V was read at {control}, {pair}; a 24 V circuit does not go above {most_v:g} V.").format(
                    volts=reading.volts, control=control, pair=pair, most_v=MOST_V
                ),
                _("Stop. Take it for line voltage until a licensed electrician has found out what it is."),
            )
        supply_to_common = {terminal for _place, _dot, terminal in ends} in ({"R", "C"}, {"Rh", "C"}, {"Rc", "C"})
        if supply_to_common and MILLIVOLT_V < reading.volts < LEAST_V:
            yield Stop(
                _(
                    "{volts:g} V was read at {control}, {pair}; a healthy 24 V supply reads {least_v:g} V or more."
                ).format(volts=reading.volts, control=control, pair=pair, least_v=LEAST_V),
                _(
                    "Stop. Find out why at the equipment (transformer, its primary tap, a load that pulls it down) before a new control is landed."
                ),
            )
