"""How the Check stage says things: the groups of its sheet, the marks of a reading, where the probes go and what they must read."""

from __future__ import annotations

from subbase.web.sheet import Group
from subbase.words import _, mark
from subbase.work.call_sequences import CallSequence, Mark
from subbase.work.check_bounds import Check
from subbase.work.meter_words import bounds_words
from subbase.work.taken import METERS

GROUP_WORDS: dict[Group, str] = {
    "dead": mark("Dead: supply locked out and proved dead"),
    "live": mark("Live: supply on, one call at a time"),
    "supply": mark("Supply under load, at the control"),
}
GROUP_CAUTIONS: dict[Group, str] = {
    "dead": mark(
        "Try the meter on a live point, then here, then on the live point again (NFPA 70E 120.5(7), 2018 and 2021; "
        "120.6(7), 2024). Take every clip off again before supply goes on."
    ),
    "live": mark("Covers that guard line voltage stay on. One probe on one screw; let each call come to rest."),
    "supply": mark("Live 24 V at the control. One probe on one screw; let each call come to rest."),
}
GROUP_NOTES: dict[Group, str] = {
    "dead": "",
    "live": "",
    "supply": mark("24 to 28 V is usual; below 20.4 V coils may not pull in (common practice, no source)."),
}
MARK_WORDS: dict[Mark, str] = {
    "pass": mark("passes"),
    "fail": mark("fails"),
    "meter or lead suspect": mark("meter or lead suspect: take it again"),
    "not judged": mark("not judged"),
}
MARK_LOOKS: dict[Mark, str] = {"pass": "pass", "fail": "fail", "meter or lead suspect": "suspect", "not judged": "not"}
METER_WORDS = {
    "digital": mark("a common digital meter"),
    "low-impedance": mark("a meter on its low-impedance range"),
    "middle": mark("a meter of about 400 kohm"),
}
assert set(METER_WORDS) == set(METERS)


def call_id(sequence: CallSequence) -> str:
    """Return what the address of a call's page names it by."""
    return sequence.state.name(name_controls=True)


def must_words(check: Check) -> str:
    """Return what a check must read."""
    return bounds_words(check.low, check.high, check.unit)


def ends_words(check: Check, *, several: bool) -> str:
    """Return where the probes go, and in which call."""
    said = _("{a} to {b}").format(a=check.between[0], b=check.between[1])
    if check.clip:
        said += ", " + _("with {a} and {b} clipped together").format(a=check.clip[0], b=check.clip[1])
    if check.state is not None:
        call = check.state.words(name_controls=several)
        said += ", " + (_("at {call}").format(call=call) if check.state.calls else _("with nothing called"))
    return said


__all__ = [
    "GROUP_CAUTIONS",
    "GROUP_NOTES",
    "GROUP_WORDS",
    "MARK_LOOKS",
    "MARK_WORDS",
    "METER_WORDS",
    "call_id",
    "ends_words",
    "must_words",
]
