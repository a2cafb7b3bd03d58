"""The moves in words: one end in the hand, the rest landed or capped, and a tug at every place when it is done."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.names import carried_words, conductor_words, named
from subbase.survey import NOWHERE, Unknown, split_terminal
from subbase.words import _, mark
from subbase.work.step_diff import Move
from subbase.work.step_job import PRACTICE, Job
from subbase.work.steps import Step, Who

ONE_AT_A_TIME = mark("Only this one end is bare: everything else is landed or capped.")


def move_steps(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield every move in its order, each behind the one before; a tug at each place when all is landed there; ends nobody has seen."""
    last_at = {place: number for number, move in enumerate(job.order.moves) for place in _landed_at(move)}
    after = gate
    site = ""
    for number, move in enumerate(job.order.moves):
        step_id = f"move/{number + 1}"
        yield Step(
            step_id, "move", "do", _title(job, move), move.site, job.where(_stands_at(job, move)), _why(job, move),
            lines=tuple(_lines(job, move)), otherwise=_otherwise(move),
            caution=_caution(job, move, new_site=move.site != site), who=_who(job, move), after=after, move=move,
            source=PRACTICE,
        )  # fmt: skip
        after, site = (step_id,), move.site
        for place in (place for place, last in last_at.items() if last == number):
            yield Step(
                f"tug/{place}", "move", "do", _("Tug every conductor at {place}").format(place=place), job.site(place), job.where(place),
                _("A conductor that only looks landed is a call-back."), after=after,
                lines=(_("Bare copper under the screw only; no insulation pinched, no strand astray."),),
                otherwise=_("One comes out: cap it, strip it anew, land it again, tug it again."), source=PRACTICE,
            )  # fmt: skip
            after = (f"tug/{place}",)
    yield from _unseen_ends(job, after)


def _landed_at(move: Move) -> tuple[str, ...]:
    """Return the places at which a move lands something."""
    ends = (move.becomes,) if move.kind in ("on", "shift") else (move.link or ()) if move.kind == "link in" else ()
    return tuple(split_terminal(end)[0] for end in ends)


def _stands_at(job: Job, move: Move) -> str:
    return move.place if move.kind != "cable" and move.place in job.left.places() else move.site


def _end(job: Job, move: Move) -> str:
    return job.conductor(move.end.cable, move.end.conductor, move.end.end) if move.end else ""


def _title(job: Job, move: Move) -> str:
    first, second = move.link or ("", "")
    match move.kind:
        case "fit":
            kind = job.plan.catalog[str(job.left.equipment[move.place].kind)]
            title = _(kind.title)
            return _("Fix {place} ({title}), not wired yet").format(
                place=move.place, title=f"{title[:1].lower()}{title[1:]}"
            )
        case "change":
            va = _va(job, move.place)
            said = (
                _("Change the transformer of {place} as the plan's parts list says")
                if va is None
                else _("Change the transformer of {place} for one of {va:g} VA")
            )
            return said.format(place=move.place, va=va)
        case "cable":
            cable = job.left.cables[move.place]
            return _("Pull {place} from {from_} to {to}; cap every end").format(
                place=move.place, from_=cable.from_, to=cable.to
            )
        case "control":
            return _("Take the old plate of {place} off the wall; put the new one up").format(place=move.place)
        case "link out":
            return _("Take out the link {first} to {second}").format(first=first, second=second)
        case "link in":
            return _("Link {first} to {second}").format(first=first, second=second)
        case "off":
            return _("Take {end} off {was}; cap it").format(end=_end(job, move), was=_was(job, move))
        case "shift":
            return _("Move {end} from {was} to {becomes}").format(
                end=_end(job, move), was=_was(job, move), becomes=move.becomes
            )
        case "on":
            return _("Land {end} on {becomes}").format(end=_end(job, move), becomes=move.becomes)


def _was(job: Job, move: Move) -> str:
    return move.was if _seen(job, move) else _("wherever you find it")


def _va(job: Job, place: str) -> float | None:
    """Return what the new transformer of a place is rated [VA]; None where only the parts list says it."""
    if place in job.left.transformers:
        va = job.left.transformers[place].va
        return None if isinstance(va, Unknown) else va
    values = [value["va"] for value in job.left.equipment[place].nameplate.values() if "va" in value]
    return values[0] if len(values) == 1 else None


def _why(job: Job, move: Move) -> str:
    if move.parked:
        return _("Its place is still taken: it waits under a cap.")
    if move.kind == "off" and move.hot:
        return _("Supply comes in here. Off first, nothing else at this place can be fed.")
    if move.kind in ("on", "shift", "link in") and move.hot:
        return _("Supply comes in here: last of all, so that nothing was fed before.")
    words = {
        "fit": _("The plan needs it."),
        "change": _("The old one is too weak for what hangs on it."),
        "cable": _("The old one has too few conductors."),
        "control": _("Everything is off it and capped."),
        "link out": _("It joins what must not be joined from now on."),
        "link in": _("The plan needs it."),
        "off": _("The old plate comes down, or this end must go.")
        if move.place in job.left.controls
        else _("It goes elsewhere."),
        "shift": _("The plan needs it there."),
        "on": _("The plan needs it there."),
    }
    if move.kind == "on" and move.end is not None:
        carries = [
            x.carries
            for item in job.plan.controls
            for x in item.chosen.landings
            if (x.cable, x.conductor) == (move.end.cable, move.end.conductor)
        ]
        if carries and carries[0] != "nothing":
            return _("It carries {carries}.").format(carries=carried_words(carries[0]))
    return words[move.kind]


def _lines(job: Job, move: Move) -> Iterator[str]:
    if move.end is not None:
        yield _(ONE_AT_A_TIME)
    if move.kind == "off":
        yield _("Look at its label first. No label, no move.")
        if move.place in job.left.controls:
            yield _("Bend it over the box: it must not fall into the wall.")
    if move.kind in ("on", "shift"):
        yield _("Read label and terminal aloud before the screw goes down.")
    if move.kind == "change":
        yield _("Class 2, 24 V, its primary for the volts of this line; every lead where the old one had it.")
    if move.kind == "link in":
        yield _("A short piece of the same gauge, nothing bare between.")
    if move.kind == "control":
        yield _("Level, over the hole; pull the conductors through by their labels.")
        if job.found.controls[move.place].old.mercury:
            yield _("The old one holds mercury: bag it upright; it is universal waste (40 CFR 273.4, 273.9).")
        year = job.found.place.year_built
        if year is None or year < 1978:
            yield _("Before you drill: paint may hold lead; lead-safe rules (40 CFR 745.83).")
    if move.kind == "fit" and job.has_transformer(move.place):
        yield _("Leave it unplugged.")


def _otherwise(move: Move) -> str:
    if move.kind in ("on", "shift"):
        return _(
            "Too short, nicked or broken: cap it and stop at this step; mend it with a splice in a box, never in the wall."
        )
    if move.kind == "off":
        return _("Stuck or brittle: do not pull. Cut it at the terminal and note it.")
    return _("It does not fit or is not there: stop at this step. Mend the survey and plan again.")


def _caution(job: Job, move: Move, *, new_site: bool) -> str:
    said = []
    if move.risks:
        said.append(
            _(
                "With this half done, supply would do damage ({risk}): only the lock stands between. Look at it now."
            ).format(risk=named(move.risks[0]))
        )
    if move.keep_off:
        said.append(_("Keep its bare end off {keep_off}.").format(keep_off=", ".join(move.keep_off)))
    if move.kind == "change":
        said.append(_("Its primary is line voltage."))
    if move.kind == "fit" and job.has_transformer(move.place):
        said.append(_("A plug-in one only. One that is wired to the line is for a licensed electrician."))
    if new_site:
        said.append(job.cautions_at(_stands_at(job, move)))
    return " ".join(text for text in said if text)


def _who(job: Job, move: Move) -> Who:
    inside = {move.place, *(split_terminal(end)[0] for end in (move.was, move.becomes, *(move.link or ())))}
    in_case = any(job.outdoors(place) for place in inside)
    return "licensed electrician" if move.kind == "change" or in_case else "anyone"


def _unseen_ends(job: Job, gate: tuple[str, ...]) -> Iterator[Step]:
    """Yield looking for ends that nobody has seen: they may sit on something live, or not be where they are needed."""
    after = gate
    for end in job.unseen:
        place, becomes = end.place(job.found), str(end.landing(job.left))
        step_id = f"unseen/{end.cable}/{end.conductor}/{end.end}"
        idle = becomes in NOWHERE
        yield Step(
            step_id, "move", "do",
            (_("Find the end of {conductor} of {cable} at {place}; take it off and cap it") if idle else _("Find the end of {conductor} of {cable} at {place}; it must be on {becomes}")).format(conductor=conductor_words(end.conductor), cable=end.cable, place=place, becomes=becomes),
            job.site(place), job.where(place),
            (_("Nobody has seen where it lands. It carries nothing after the work, and may sit on a live terminal.") if idle else _("Nobody has seen where it lands. The plan needs it there.")),
            lines=() if idle else (_(ONE_AT_A_TIME), _("There already: leave it. Elsewhere or loose: move it to {becomes}.").format(becomes=becomes)),
            otherwise=_("Not to be found: cap its other end, note it, and stop here. Mend the survey and plan again."),
            after=after, source=PRACTICE,
        )  # fmt: skip
        after = (step_id,)


def _seen(job: Job, move: Move) -> bool:
    """Tell whether somebody has seen where an end sits before it is moved."""
    survey = job.plan.survey
    if move.end is None or move.end.cable not in survey.cables:
        return True
    return not isinstance(move.end.landing(survey), Unknown)


__all__ = ["move_steps"]
