"""``subbase trace``: which conductor of an unmarked cable is which, step by step, with the fewest walks."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from subbase.cli.shell import (
    BAD_INPUT,
    OPEN_QUESTION,
    PLANNED,
    bad_input_refused,
    catalogue_option,
    json_option,
    load_or_leave,
    print_fault,
    print_json,
    refuse_writing,
    say,
)
from subbase.files import write_whole
from subbase.names import list_words, named
from subbase.words import _, mark

if TYPE_CHECKING:
    from subbase.work.trace import Contradiction, Done, Trace
    from subbase.work.trace_step import Step

MOST_SLIPS = 4
"""Slips told one by one; more of them are counted."""
_KEPT_FORMAT = 1
_HELP_LINE = mark("Ends that touch, as groups: 'A B, C D'. Empty: none touch. Also: back, stop.")


@dataclass(frozen=True, slots=True)
class Question:
    """What was asked for: the ends, what is known of them, what is at hand; and the results so far."""

    near: tuple[str, ...]
    far: tuple[str, ...] | None
    known: tuple[tuple[str, str], ...]
    earth: bool = False
    diode: bool = False
    results: tuple[tuple[tuple[str, ...], ...], ...] = ()


@click.command()
@click.argument("what", metavar="COUNT_OR_FILE", required=False)
@click.option("--cable", metavar="NAME", help="Which cable, when a survey FILE has several with unknown ends.")
@click.option("--known", "known", multiple=True, metavar="NEAR=FAR", help="A conductor known at both ends; repeatable.")
@click.option("--earth", is_flag=True, help="Bare metal reaches both ends and may serve as a way back.")
@click.option("--diode", is_flag=True, help="A diode and a meter with a diode range are at hand.")
@click.option(
    "--result",
    "results",
    multiple=True,
    metavar="GROUPS",
    help="Result of a step, such as 'A B, C'; repeatable, in order.",
)
@click.option(
    "--keep",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Keep the search there, and go on with it when it is there.",
)
@json_option
@catalogue_option
def trace(what: str | None, keep: Path | None, as_json: bool, folders: tuple[Path, ...], **asked: Any) -> None:
    """Find which end of an unmarked cable is which, with the fewest walks.

    COUNT_OR_FILE is the number of conductors, or a survey, whose conductors of unknown far end are then looked for. Both
    ends must be off every terminal and dead. Asks on the terminal; with --result or --json it answers at once.

    \b
    Example:  subbase trace 8
              subbase trace 5 --known 1=A --result "B C" --json
              subbase trace house.yaml --cable wall --keep wall-trace.json
    """
    from subbase.errors import NoSolution

    try:
        with bad_input_refused(as_json=as_json):
            kept = keep is not None and keep.exists()
            question = _kept(keep) if keep and kept else _asked(what, asked, folders, as_json=as_json)
            question = replace(question, results=(*question.results, *map(_groups, asked["results"])))
            state = _search(question)
    except NoSolution as error:
        _say_fault(str(error), as_json=as_json)
    if as_json or asked["results"]:
        _keep(keep, question, as_json=as_json)
        _answer(state, as_json=as_json)
    else:
        _walk(question, state, keep)


def _asked(what: str | None, asked: Mapping[str, Any], folders: tuple[Path, ...], *, as_json: bool) -> Question:
    """Return the question of the command line, from a count or from a survey."""
    from subbase.errors import Fault, InputError

    if what is None:
        text = _("Say how many conductors there are, or which survey: subbase trace 8.")
        raise InputError((Fault(text, "COUNT_OR_FILE"),))
    if what.isascii() and what.isdigit():
        near = tuple(str(number) for number in range(1, int(what[:6]) + 1))
        question = Question(near, None, tuple(map(_pair, asked["known"])))
    else:
        question = _of_survey(Path(what), asked["cable"], folders, as_json=as_json)
    return replace(question, earth=asked["earth"], diode=asked["diode"])


def _of_survey(file: Path, wanted: str | None, folders: tuple[Path, ...], *, as_json: bool) -> Question:
    """Return the question that a survey leaves open: conductors of one cable whose far landing is not known."""
    from subbase.errors import Fault, InputError

    __, survey = load_or_leave(file, folders, as_json=as_json)
    open_ones = [
        name
        for name, cable in survey.cables.items()
        if any(not isinstance(c.to, str) for c in cable.conductors.values())
    ]
    name = wanted or (open_ones[0] if len(open_ones) == 1 else None)
    if name is None or name not in survey.cables:
        there = list_words(open_ones or survey.cables) or named("none")
        text = (
            _("Say which cable with --cable: {there}.").format(there=there)
            if open_ones or wanted
            else _("Every conductor's far end is known in this survey.")
        )
        raise InputError((Fault(text, "cables", file=str(file)),))
    conductors = survey.cables[name].conductors
    known = tuple((key, str(c.to)) for key, c in conductors.items() if isinstance(c.to, str))
    twice = {far for __, far in known if [other for __, other in known].count(far) > 1}
    known = tuple((near, f"{far} ({near})" if far in twice else far) for near, far in known)
    letters = (chr(ord("A") + i) if i < 26 else f"A{i}" for i in range(len(conductors)))
    taken = {far for __, far in known}
    unknown = [letter for letter in letters if letter not in taken][: len(conductors) - len(known)]
    return Question(tuple(conductors), (*(far for __, far in known), *unknown), known)


def _pair(text: str) -> tuple[str, str]:
    from subbase.errors import Fault, InputError

    near, sign, far = (part.strip() for part in text.partition("="))
    if not (sign and near and far):
        raise InputError((Fault(_("{text!r} is not NEAR=FAR, such as 1=A.").format(text=text), "--known"),))
    return near, far


def _groups(text: str) -> tuple[tuple[str, ...], ...]:
    """Return groups of ends from 'A B, C D'."""
    return tuple(tuple(part.split()) for part in text.split(",") if part.split())


def _search(question: Question) -> Trace:
    from subbase.work.trace import enter, start

    found = start(
        question.near, question.far, known=dict(question.known), earth=question.earth, diode=question.diode
    )  # fmt: skip
    for result in question.results:
        found = enter(found, result)
    return found


def _walk(question: Question, state: Trace, keep: Path | None) -> None:
    """Ask on the terminal until all is named, something contradicts, or the person stops."""
    from subbase.errors import InputError
    from subbase.work.trace import back, enter, next_step
    from subbase.work.trace_step import Step

    shown = None
    while isinstance(step := next_step(state), Step):
        if shown != step:
            say("\n".join(_text(state, step)))
            shown = step
        try:
            answer = click.prompt(_(_HELP_LINE), default="", show_default=False, prompt_suffix="\n> ").strip()
        except click.Abort:  # the terminal was closed, or Ctrl-C
            answer = "stop"
        if answer in ("stop", named("stop")):
            _keep(keep, question, as_json=False)
            say(
                _("Kept in {keep}; go on with: subbase trace --keep {keep}").format(keep=keep)
                if keep
                else _("Nothing was kept (use --keep FILE).")
            )
            sys.exit(OPEN_QUESTION)
        if answer in ("back", named("back")):
            if question.results:
                question, state = replace(question, results=question.results[:-1]), back(state)
            else:
                click.echo(_("This is the first step."))
            shown = None
        else:
            try:
                state = enter(state, _groups(answer))
                question = replace(question, results=(*question.results, _groups(answer)))
            except InputError as error:
                say("\n".join(fault.message for fault in error.faults))
        _keep(keep, question, as_json=False)
    _answer(state, as_json=False)


def _answer(state: Trace, *, as_json: bool) -> None:
    """Print what comes next and leave: 0 when all are named, 4 when a step is open, 2 when results contradict."""
    from subbase.work.trace import Contradiction, next_step
    from subbase.work.trace_step import Step

    step = next_step(state)
    if as_json:
        from subbase.papers.data_work import TraceShape

        print_json(TraceShape.of(state, step).plain())
    else:
        say("\n".join(_text(state, step)))
    sys.exit(BAD_INPUT if isinstance(step, Contradiction) else OPEN_QUESTION if isinstance(step, Step) else PLANNED)


def _text(state: Trace, step: Step | Done | Contradiction) -> Iterable[str]:
    from subbase.work.trace import Contradiction
    from subbase.work.trace_step import Step

    if isinstance(step, Step):
        plan = state.plan
        if step.number == 1:
            yield _("By {method}: {walks} walks, at most {most_readings} touches.").format(
                method=_(plan.method.value), walks=plan.walks, most_readings=plan.most_readings
            )
        yield "\n" + _("Step {number} of {steps}").format(number=step.number, steps=plan.steps)
    elif isinstance(step, Contradiction):
        yield "\n" + _("These results cannot be true together.")
    else:
        yield "\n" + _("All are named.")
    yield from (f"  {words}" for words in step.words)
    if not isinstance(step, Step):
        yield from _slips(state, contradicted=isinstance(step, Contradiction))


def _slips(state: Trace, *, contradicted: bool) -> Iterable[str]:
    """Yield the single slips of the probe that would explain a contradiction, or that no result would have shown."""
    from subbase.work.trace import misreading_words, single_misreadings

    found = single_misreadings(state)
    if not found:
        return
    yield "\n" + (
        _("One slip of the probe would explain it:")
        if contradicted
        else _("One slip of the probe would not have shown. Where it matters, read these ends once more:")
    )
    yield from (f"  {misreading_words(state, slip)}" for slip in found[:MOST_SLIPS])
    if len(found) > MOST_SLIPS:
        more = len(found) - MOST_SLIPS
        yield "  " + _("... and {count} more.").format(count=more)


def _keep(keep: Path | None, question: Question, *, as_json: bool) -> None:
    if keep is None:
        return
    data = {
        "trace": _KEPT_FORMAT, "near": question.near, "far": question.far, "known": question.known,
        "earth": question.earth, "diode": question.diode, "results": question.results,
    }  # fmt: skip
    try:
        write_whole(keep, (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode())
    except OSError as error:
        refuse_writing(keep, error, as_json=as_json, what=_("The search"))


_MOST_KEPT_BYTES = 5_000_000


def _kept(keep: Path) -> Question:
    """Return a search that was kept; anything else in the file is refused, and the file left as it is."""
    from subbase.errors import Fault, InputError

    try:
        with keep.open("rb") as held:
            raw = held.read(_MOST_KEPT_BYTES + 1)
        if len(raw) > _MOST_KEPT_BYTES:
            raise ValueError("too large")
        data = json.loads(raw)
        if data["trace"] != _KEPT_FORMAT:
            raise ValueError("of another version")
        return Question(
            tuple(map(str, data["near"])),
            None if data["far"] is None else tuple(map(str, data["far"])),
            tuple((str(near), str(far)) for near, far in data["known"]),
            earth=bool(data["earth"]), diode=bool(data["diode"]),
            results=tuple(tuple(tuple(map(str, group)) for group in result) for result in data["results"]),
        )  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        text = _("This is no search that was kept with --keep. It is left as it is; choose another file.")
        raise InputError((Fault(text, "--keep", file=str(keep)),)) from error


def _say_fault(message: str, *, as_json: bool) -> NoReturn:
    if as_json:
        print_fault(message, "command line")
    else:
        say(message, err=True)
    sys.exit(BAD_INPUT)
