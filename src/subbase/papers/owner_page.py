"""One page for the people who live there, in plain words: what was done, how to live with it, when to call somebody."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from subbase import __version__
from subbase.names import and_words, named
from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.job_record import JobRecord
from subbase.papers.pdf import typeset_pdf
from subbase.papers.settings_page import alike, schedule_table, tunings_of
from subbase.papers.tables import calls_words
from subbase.plan import ControlPlan, Plan
from subbase.words import _, date_words, mark

if TYPE_CHECKING:
    from subbase.comfort.setting_records import Tuning

FED_WORDS = {
    "common conductor": mark(
        "It takes its power from the heating and cooling equipment, over a wire that was there already."
    ),
    "spare conductor": mark("It takes its power from the equipment, over a wire in the wall that was not used before."),
    "shared conductor": mark(
        "It takes its power from the equipment. A small adapter at the equipment lets one wire do the work of two."
    ),
    "fan conductor given up": mark(
        "It takes its power from the equipment, over the wire that used to start the fan by itself."
    ),
    "isolation relay": mark(
        "It takes its power from the cooling supply; a small relay at the equipment keeps the two supplies apart."
    ),
    "separate transformer": mark("It takes its power from a small transformer of its own."),
    "new cable": mark("It takes its power from the equipment, over a new cable."),
    "battery": mark("It runs on batteries. Change them once a year, before the heating season."),
}
"""Name of a power route -> how the control is fed, as people at home say it."""
CALL_FOR_HELP = (
    mark("The screen is dark, or goes dark when heating or cooling starts."),
    mark("It asks for heat and the air or the radiators stay cold for half an hour; or the same with cooling."),
    mark("It heats when it should cool, or cools when it should heat."),
    mark("The outdoor unit starts and stops every few minutes."),
    mark("Anything hums loudly, smells hot, or trips its breaker more than once."),
)
WITH_GAS = mark("If you smell gas: touch no switch, go outside with everybody, and call the gas company from there.")
WITH_FLAME = mark("Keep a working carbon monoxide alarm near the bedrooms.")
_FLAMES = ("gas", "oil", "dual-fuel", "boiler", "furnace")


def owner_pdf(plan: Plan, *, date: datetime.date, record: JobRecord | None = None) -> bytes:
    """Return the owner's page as a sheet of its own."""
    tunings = tunings_of(plan, record) if plan.verdict == "planned" else ()
    what = _("For the people who live here")
    head = blocks.title(plan.survey.name, f"{what}, {date_words(date)}")
    page = blocks.page([head, *owner_blocks(plan, tunings, record)], large=True)
    return typeset_pdf("packet.typ", packet_frame(plan, what, date) | {"pages": [page]}, date=date)


def packet_frame(plan: Plan, what: str, date: datetime.date) -> dict[str, Any]:
    """Return what stands around every page of a paper: title, date, paper size, foot."""
    return {
        "title": blocks.soft(plan.survey.name),
        "what": what,
        "date": [date.year, date.month, date.day],
        "footer": foot_words(date),
        "paper": "us-letter" if plan.survey.units == "us" else "a4",
    }


def foot_words(date: datetime.date) -> str:
    """Return what stands at the foot of every paper."""
    return _("Made by subbase {version} on {date}. Local code and the licence rules of the place decide.").format(
        version=__version__, date=date_words(date)
    )


def owner_blocks(plan: Plan, tunings: Sequence[Tuning], record: JobRecord | None) -> Iterator[Block]:
    """Yield the page, whatever the verdict."""
    if plan.verdict == "planned":
        if record is None:
            yield blocks.text(_("To be given when the work is done and every reading is as it must be."), small=True)
        yield from _done(plan, tunings)
    else:
        yield from _not_done(plan)
    if record and record.open_points:
        yield blocks.subheading(_("Still open"), 2)
        yield blocks.bullets(record.open_points)
    yield blocks.subheading(_("Who to call"), 2)
    yield blocks.fields((_("Name"), _("Telephone")))


def _done(plan: Plan, tunings: Sequence[Tuning]) -> Iterator[Block]:
    yield blocks.subheading(_("What was done"), 2)
    yield blocks.bullets(_what_was_done(plan))
    yield blocks.subheading(_("What it does for you"), 2)
    yield blocks.bullets(line for item in plan.controls for line in _what_it_does(item, several=len(plan.controls) > 1))
    yield blocks.subheading(_("The schedule it starts with"), 2)
    for names, found in alike(tunings):
        schedule = schedule_table(found, plan.survey.units, names)
        if schedule is not None:
            if len(plan.controls) > 1:
                yield blocks.text(_("For {controls}:").format(controls=names), sticky=True)
            yield from blocks.table(_plain(schedule), titled=0, look="led")
    yield blocks.text(
        _(
            "Change the times to your own days. A change made by hand at the control lasts until the next time in the table."
        )
    )
    yield blocks.subheading(_("Call for help when"), 2)
    yield blocks.bullets([*map(_, CALL_FOR_HELP), *_flames(plan)])
    yield blocks.subheading(_("Please do not"), 2)
    yield blocks.bullets(
        [
            _("Do not open the equipment's panels: parts behind them carry enough electricity to kill."),
            _("Do not take the control off its plate with the power on, and do not move its wires."),
            _("Do not put the papers away: the packet in the equipment tells the next technician everything."),
        ]
    )


def _plain(schedule: Any) -> Any:
    return type(schedule)(schedule.title, schedule.head, schedule.rows, schedule.weights)


def _what_was_done(plan: Plan) -> Iterator[str]:
    several = len(plan.controls) > 1
    for item in plan.controls:
        fed = _(FED_WORDS[item.chosen.name])
        if several:
            yield _("The control {place} was replaced. {fed}").format(place=named(item.control), fed=fed)
        else:
            yield _("The control on the wall was replaced. {fed}").format(fed=fed)
    parts = [part.what for item in plan.controls for part in item.chosen.parts]
    if parts:
        yield _("Put in besides: {parts}.").format(parts=and_words(dict.fromkeys(parts)))


def _what_it_does(item: ControlPlan, *, several: bool) -> Iterator[str]:
    kept = [call for call in item.wanted if call not in item.chosen.lost]
    told = [words for prefix, words in _DOES if any(call.startswith(prefix) for call in kept)]
    if told:
        words = and_words(map(_, told))
        yield (
            _("{place}: it runs {what}.").format(place=item.control, what=words)
            if several
            else _("It runs {what}.").format(what=words)
        )
    if item.chosen.lost:
        yield _("No longer possible at {place}: {calls}. This was agreed, or must be before the work begins.").format(
            place=item.control, calls=calls_words(item.chosen.lost)
        )


_DOES = (
    ("heat", mark("the heating")),
    ("cool", mark("the cooling")),
    ("fan", mark("the fan by itself, when you ask for it")),
    ("auxiliary", mark("the additional heat, when the heat pump alone is not enough")),
    ("emergency", mark("emergency heat, which only you switch on")),
    ("second fuel", mark("the second fuel, in cold weather")),
    ("humidify", mark("the humidifier")),
    ("dehumidify", mark("drying of the air")),
    ("ventilate", mark("fresh air")),
)


def _flames(plan: Plan) -> Iterator[str]:
    kinds = " ".join(str(item.kind) for item in plan.survey.equipment.values())
    if "gas" in kinds or "dual" in kinds:
        yield _(WITH_GAS)
    if any(word in kinds for word in _FLAMES):
        yield _(WITH_FLAME)


def _not_done(plan: Plan) -> Iterator[Block]:
    yield blocks.subheading(_("What was found"), 2)
    if plan.verdict == "stopped":
        seen = [stop.seen for stop in plan.stops] or [
            _("No way was found to feed the new control that is sure to work.")
        ]
        yield blocks.bullets(seen)
        yield blocks.text(_("Nothing was changed. The old control stays in service."))
        if plan.stops:
            yield blocks.subheading(_("What comes next"), 2)
            yield blocks.text(
                _("Leave the control as it is and do not open it. A licensed person decides what can be done.")
            )
            yield blocks.text(_("What that person needs to know:"), sticky=True)
            yield blocks.bullets(stop.instead for stop in plan.stops)
        return
    yield blocks.text(_("Before any wire is moved, this must be known:"))
    yield blocks.bullets(question.text for question in plan.questions)
    yield blocks.text(_("Nothing was changed. The old control stays in service."))
