"""What stops the job before anything is planned: circuits that are not 24 V AC Class 2, or cannot be known to be."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.plan.result import Stop
from subbase.survey import Profile, Survey, Unknown

LEAST_V, MOST_V = 18.0, 32.0
"""Open-circuit readings outside this are no 24 V AC supply (judgement: 24 V ±10 % with 10-20 % no-load rise)."""
MILLIVOLT_V = 1.0
_LINE = Stop(
    "Line voltage is at the wall: this control switches 110 V or more.",
    "Stop. Close the wall up and leave the circuit locked out. A licensed electrician decides; only a control listed for "
    "line voltage, or a relay with its own 24 V circuit, can go here.",
)
_MILLIVOLT = Stop(
    "The circuit is self-generating: a thermopile of less than one volt works the valve, with no transformer.",
    "Stop. Never bring 24 V to it: the valve would be destroyed. Fit only a control made for millivolt circuits, or have "
    "a licensed gas fitter fit a 24 V valve circuit.",
)
_SERIAL = Stop(
    "The control talks to its equipment over a serial data line; its terminals are not switched 24 V.",
    "Stop until it is identified. Only a control that speaks the same data line can replace it; look for a 24 V terminal "
    "strip on the equipment's board and survey that instead.",
)
_UNKNOWN = Stop(
    "It is not known what kind of circuit the old control switches.",
    "Stop until it is identified. With the supply locked out, look at the wire gauge, the marking on the old control and "
    "the equipment's diagram; then measure between terminals with a meter rated for mains.",
)
_SIGNS = {
    "thick conductors": Stop(
        "Thick conductors at the wall are a mark of line voltage.",
        "Stop. Treat it as live mains: find its breaker, lock it out and prove it dead. A licensed electrician decides.",
    ),
    "wire nuts on two thick conductors": _LINE,
    "120 or 240 marking": _LINE,
    "two thin conductors under one volt": _MILLIVOLT,
    "numbered data terminals": _SERIAL,
    "scorched insulation": Stop(
        "Insulation at the wall is scorched: something has carried too much current.",
        "Stop. Lock the supply out and find the cause at the equipment (fuse, transformer, a short) before a new control is landed.",
    ),
    "water in the wall box": Stop(
        "There is water in the wall box.",
        "Stop. Find and mend the leak and let it dry before any work.",
    ),
}


def screen(survey: Survey) -> tuple[Stop, ...]:
    """Return every reason to stop; empty when planning may go on."""
    stops: list[Stop] = [_SIGNS[sign] for sign in survey.signs]
    for name, control in survey.controls.items():
        if control.new is not None:
            stops.extend(_profile_stops(control.old))
            stops.extend(_reading_stops(survey, name))
    if not any(control.new is not None for control in survey.controls.values()):
        stops.append(
            Stop(
                "No control in this survey is to be replaced.",
                "Give one of the controls a 'new' profile: what is to be fitted.",
            )
        )
    return tuple(dict.fromkeys(stops))


def _profile_stops(profile: Profile) -> Iterator[Stop]:
    if isinstance(profile.wiring, Unknown):
        yield _UNKNOWN
    elif profile.wiring == "line voltage":
        yield _LINE
    elif profile.wiring == "millivolt":
        yield _MILLIVOLT
    elif profile.wiring == "serial data":
        yield _SERIAL


def _reading_stops(survey: Survey, control: str) -> Iterator[Stop]:
    """Judge readings taken at the wall between a supply and anything else, with nothing called."""
    for reading in survey.readings:
        ends = [end.partition(".") for end in reading.between]
        if reading.volts is None or any(place != control for place, _, _ in ends):
            continue
        pair = " to ".join(terminal for _, _, terminal in ends)
        if reading.volts > MOST_V:
            yield Stop(
                f"{reading.volts:g} V was read at {control}, {pair}; a 24 V circuit does not go above {MOST_V:g} V.",
                "Stop. Take it for line voltage until a licensed electrician has found out what it is.",
            )
        supply_to_common = {terminal for _, _, terminal in ends} in ({"R", "C"}, {"Rh", "C"}, {"Rc", "C"})
        if supply_to_common and MILLIVOLT_V < reading.volts < LEAST_V:
            yield Stop(
                f"{reading.volts:g} V was read at {control}, {pair}; a healthy 24 V supply reads {LEAST_V:g} V or more.",
                "Stop. Find out why at the equipment (transformer, its primary tap, a load that pulls it down) before a new control is landed.",
            )
