"""The moves in words: one end in the hand, the rest landed or capped, and a tug at every place when it is done."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.survey import NOWHERE, Unknown, split_terminal
from subbase.work.step_job import PRACTICE, Job
from subbase.work.step_order import Move
from subbase.work.steps import Step, Who

ONE_AT_A_TIME = "Only this one end is bare: everything else is landed or capped."


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
                f"tug/{place}", "move", "do", f"Tug every conductor at {place}", job.site(place), job.where(place),
                "A conductor that only looks landed is a call-back.", after=after,
                lines=("Bare copper under the screw only; no insulation pinched, no strand astray.",),
                otherwise="One comes out: cap it, strip it anew, land it again, tug it again.", source=PRACTICE,
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
    link = " to ".join(move.link or ())
    match move.kind:
        case "fit":
            kind = job.plan.catalog[str(job.left.equipment[move.place].kind)]
            return f"Fix {move.place} ({kind.title[:1].lower()}{kind.title[1:]}), not wired yet"
        case "change":
            return f"Change the transformer of {move.place}{_va(job, move.place)}"
        case "cable":
            cable = job.left.cables[move.place]
            return f"Pull {move.place} from {cable.from_} to {cable.to}; cap every end"
        case "control":
            return f"Take the old plate of {move.place} off the wall; put the new one up"
        case "link out":
            return f"Take out the link {link}"
        case "link in":
            return f"Link {link}"
        case "off":
            return f"Take {_end(job, move)} off {_was(job, move)}; cap it"
        case "shift":
            return f"Move {_end(job, move)} from {_was(job, move)} to {move.becomes}"
        case "on":
            return f"Land {_end(job, move)} on {move.becomes}"


def _was(job: Job, move: Move) -> str:
    return move.was if _seen(job, move) else "wherever you find it"


def _va(job: Job, place: str) -> str:
    if place in job.left.transformers:
        return f" for one of {job.left.transformers[place].va:g} VA"
    values = [value["va"] for value in job.left.equipment[place].nameplate.values() if "va" in value]
    return f" for one of {values[0]:g} VA" if len(values) == 1 else " as the plan's parts list says"


def _why(job: Job, move: Move) -> str:
    if move.parked:
        return "Its place is still taken: it waits under a cap."
    if move.kind == "off" and move.hot:
        return "Supply comes in here. Off first, nothing else at this place can be fed."
    if move.kind in ("on", "shift", "link in") and move.hot:
        return "Supply comes in here: last of all, so that nothing was fed before."
    words = {
        "fit": "The plan needs it.",
        "change": "The old one is too weak for what hangs on it.",
        "cable": "The old one has too few conductors.",
        "control": "Everything is off it and capped.",
        "link out": "It joins what must not be joined from now on.",
        "link in": "The plan needs it.",
        "off": "The old plate comes down, or this end must go."
        if move.place in job.left.controls
        else "It goes elsewhere.",
        "shift": "The plan needs it there.",
        "on": "The plan needs it there.",
    }
    if move.kind == "on" and move.end is not None:
        carries = [
            x.carries
            for item in job.plan.controls
            for x in item.chosen.landings
            if (x.cable, x.conductor) == (move.end.cable, move.end.conductor)
        ]
        if carries and carries[0] != "nothing":
            return f"It carries {carries[0]}."
    return words[move.kind]


def _lines(job: Job, move: Move) -> Iterator[str]:
    if move.end is not None:
        yield ONE_AT_A_TIME
    if move.kind == "off":
        yield "Look at its label first. No label, no move."
        if move.place in job.left.controls:
            yield "Bend it over the box: it must not fall into the wall."
    if move.kind in ("on", "shift"):
        yield "Read label and terminal aloud before the screw goes down."
    if move.kind == "change":
        yield "Class 2, 24 V, its primary for the volts of this line; every lead where the old one had it."
    if move.kind == "link in":
        yield "A short piece of the same gauge, nothing bare between."
    if move.kind == "control":
        yield "Level, over the hole; pull the conductors through by their labels."
        if job.found.controls[move.place].old.mercury:
            yield "The old one holds mercury: bag it upright; it is universal waste (40 CFR 273.4, 273.9)."
        year = job.found.place.year_built
        if year is None or year < 1978:
            yield "Before you drill: paint may hold lead; lead-safe rules (40 CFR 745.83)."
    if move.kind == "fit" and job.has_transformer(move.place):
        yield "Leave it unplugged."


def _otherwise(move: Move) -> str:
    if move.kind in ("on", "shift"):
        return "Too short, nicked or broken: cap it and stop at this step; mend it with a splice in a box, never in the wall."
    if move.kind == "off":
        return "Stuck or brittle: do not pull. Cut it at the terminal and note it."
    return "It does not fit or is not there: stop at this step. Mend the survey and plan again."


def _caution(job: Job, move: Move, *, new_site: bool) -> str:
    said = []
    if move.risks:
        said.append(
            f"With this half done, supply would do damage ({move.risks[0]}): only the lock stands between. Look at it now."
        )
    if move.keep_off:
        said.append(f"Keep its bare end off {', '.join(move.keep_off)}.")
    if move.kind == "change":
        said.append("Its primary is line voltage.")
    if move.kind == "fit" and job.has_transformer(move.place):
        said.append("A plug-in one only. One that is wired to the line is for a licensed electrician.")
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
            f"Find the end of {end.conductor} of {end.cable} at {place}; {'take it off and cap it' if idle else f'it must be on {becomes}'}",
            job.site(place), job.where(place),
            "Nobody has seen where it lands."
            + (" It carries nothing after the work, and may sit on a live terminal." if idle else " The plan needs it there."),
            lines=() if idle else (ONE_AT_A_TIME, f"There already: leave it. Elsewhere or loose: move it to {becomes}."),
            otherwise="Not to be found: cap its other end, note it, and stop here. Mend the survey and plan again.",
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
