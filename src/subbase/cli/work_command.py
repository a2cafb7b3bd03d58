"""``subbase work``: the steps of the job in a safe order, and a walk through them that can be stopped and gone on with."""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from subbase.cli.shell import (
    OPEN_QUESTION,
    PLANNED,
    bad_input_refused,
    catalogue_option,
    file_argument,
    json_option,
    plan_or_leave,
    print_json,
    refuse_writing,
    say,
)
from subbase.files import write_whole
from subbase.names import list_words, named
from subbase.words import _

if TYPE_CHECKING:
    from subbase.plan import Plan
    from subbase.work.progress import Progress, Result
    from subbase.work.steps import Step, WorkPlan

_ANSWERS = {
    "d": "done", "done": "done", "n": "not so", "not so": "not so", "no": "not so", "s": "skip", "skip": "skip",
    "l": "later", "later": "later", "b": "back", "back": "back", "q": "stop", "stop": "stop", "": "again",
    "lock out": "lock out",
}  # fmt: skip
_COLDEST_C, _HOTTEST_C = -60.0, 60.0


@click.command()
@file_argument
@click.option("--season", type=click.Choice(["heating", "cooling"]), help="What the weather asks for today.")
@click.option("--outdoor-f", type=float, metavar="T", help="Outdoor temperature today, °F.")
@click.option("--outdoor-c", type=float, metavar="T", help="The same in °C.")
@click.option(
    "--licence", "licences", multiple=True, type=click.Choice(["electrician", "gas", "refrigerant"]),
    help="What you are licensed for; repeatable. Steps beyond it are marked.",
)  # fmt: skip
@click.option("--progress", "kept", type=click.Path(path_type=Path, dir_okay=False), metavar="P.json", help="Show how far the work recorded there has come.")  # fmt: skip
@click.option("--walk", type=click.Path(path_type=Path, dir_okay=False), metavar="P.json", help="Go through the steps one by one; keep the record there, and go on with it.")  # fmt: skip
@json_option
@catalogue_option
def work(
    file: Path, kept: Path | None, walk: Path | None, as_json: bool, folders: tuple[Path, ...], **day: Any
) -> None:
    """Print the work steps in a safe order, each behind its gates, or walk through them.

    Dead first: locked out, proved, moved one end at a time, checked with the meter; then supply on, then each call by
    itself. In a walk each answer is kept at once; stop when you like and go on with the same command. The record keeps
    weather and licences, so they need not be given again.

    \b
    Exit codes: 0 printed, or every step met; 2 the input cannot be read;
    3 the plan is stopped; 4 the plan asks first, or steps are left to do.

    \b
    Example:  subbase work examples/01-no-common-spare-blue.yaml --outdoor-f 40
              subbase work examples/01-no-common-spare-blue.yaml --walk job.json
    """

    made = plan_or_leave(file, folders, as_json=as_json)
    with bad_input_refused(as_json=as_json):
        if walk is not None and as_json:
            raise _fault(_("--walk asks at the terminal; with --json use --progress."))
        if walk is not None and kept is not None:
            raise _fault(_("Give --walk or --progress, not both."))
        record = _record(walk or kept, must_be=kept is not None)
        steps = _steps(made, day, record)
        now = _progress(steps, record, walk or kept)
    if walk is not None:
        sys.exit(_walk(steps, now, walk))
    if as_json:
        from subbase.papers.data_work import WorkShape

        print_json(WorkShape.of(steps, now if kept else None).plain())
    else:
        from subbase.cli.work_text import work_text

        say(work_text(steps, now if kept else None))
    sys.exit(PLANNED if kept is None or now.finished else OPEN_QUESTION)


_MOST_RECORD_BYTES = 5_000_000
"""More than any job's record comes to."""


def _fault(message: str, file: str = "") -> Exception:
    from subbase.errors import Fault, InputError

    return InputError((Fault(message, file=file or _("command line")),))


def _record(file: Path | None, *, must_be: bool) -> dict[str, Any] | None:
    """Return the kept record, or None when there is none yet."""
    if file is None or (not must_be and not file.exists()):
        return None
    try:
        with file.open("rb") as held:
            raw = held.read(_MOST_RECORD_BYTES + 1)
    except OSError as error:
        raise _fault(_("The record cannot be read: {strerror}.").format(strerror=error.strerror), str(file)) from None
    if len(raw) > _MOST_RECORD_BYTES:
        raise _fault(_("This is too large for a record of work steps; name another file."), str(file))
    try:
        data = json.loads(raw.decode("utf-8"))
    except (ValueError, RecursionError):
        raise _fault(_("This is no JSON; name another file for the record."), str(file)) from None
    if not isinstance(data, dict):
        raise _fault(_("This is no record of work steps, format 1; name another file."), str(file))
    return data


def _steps(made: Plan, day: dict[str, Any], record: dict[str, Any] | None) -> WorkPlan:
    """Return the steps for the weather and licences given, or for those that the record was begun with."""
    from subbase.work.step_plan import work_plan
    from subbase.work.steps import LICENCES, Season

    season, licences, outdoor_c = day["season"], day["licences"], _outdoor_c(day)
    if record is not None and season is None and outdoor_c is None:
        said, told_c = record.get("season"), record.get("outdoor_c")
        season = said if said in get_args(Season) else None
        outdoor_c = float(told_c) if isinstance(told_c, int | float) and not isinstance(told_c, bool) else None
    if record is not None and not licences and isinstance(record.get("licences"), list):
        licences = [licence for licence in LICENCES if licence in record["licences"]]
    return work_plan(made, season=season, outdoor_c=outdoor_c, licences=frozenset(licences))


def _outdoor_c(day: dict[str, Any]) -> float | None:
    if day["outdoor_f"] is not None and day["outdoor_c"] is not None:
        raise _fault(_("Give the outdoor temperature once: --outdoor-f or --outdoor-c."))
    value = day["outdoor_c"] if day["outdoor_f"] is None else (day["outdoor_f"] - 32.0) / 1.8
    if value is not None and not _COLDEST_C <= value <= _HOTTEST_C:
        raise _fault(
            _("An outdoor temperature lies between {coldest_c:g} and {hottest_c:g} °C; check °F and °C.").format(
                coldest_c=_COLDEST_C, hottest_c=_HOTTEST_C
            )
        )
    return None if value is None else float(value)


def _progress(steps: WorkPlan, record: dict[str, Any] | None, file: Path | None) -> Progress:
    from subbase.work.progress import progress, results_from

    return progress(steps, () if record is None else results_from(record, steps, file=str(file)))


# The walk.


def _walk(steps: WorkPlan, now: Progress, file: Path) -> int:
    """Ask step by step until all is met or the answers end; return the exit code."""
    from subbase.cli.work_text import step_lines, tally

    later: set[str] = set()
    say(_("{survey}: {tally}. Answers are kept in {file}.").format(survey=steps.survey, tally=tally(now), file=file))
    _keep(file, steps, now)
    while (step := _next(steps, now, later)) is not None:
        say("\n" + "\n".join(step_lines(steps, step, now.of(step.id))))
        answer = _ask(_choices(step, now.of(step.id).status))
        if answer is None:
            break
        word = _word(answer)
        if word == "stop":
            break
        if word == "again":
            continue
        if word == "later":
            later.add(step.id)
            continue
        if word == "lock out":
            now = _locked_again(steps, now, file)
            continue
        result = _result(steps, step, now, answer, word)
        if result is not None:
            now = _taken(steps, now, result, file)
    further = _("All met.") if now.finished else _("Go on with --walk {file}.").format(file=file)
    say(f"\n{tally(now)}. {further}")
    return PLANNED if now.finished else OPEN_QUESTION


def _next(steps: WorkPlan, now: Progress, later: set[str]) -> Step | None:
    """Return the step to ask about: what is wrong, then what is open, then what may be left out though it is blocked."""
    waiting = [step_id for step_id in now.open if step_id not in later]
    if not waiting:
        states = dict(now.states)
        waiting = [s.id for s in steps.steps if s.may_skip and states[s.id].status == "blocked" and s.id not in later]
    return steps.step(waiting[0]) if waiting else None


def _choices(step: Step, status: str) -> str:
    said = []
    if status != "blocked":
        said += [_("the reading, or OL") if step.expected is not None else named("done"), named("not so")]
    said += [named("skip")] if step.may_skip else []
    said += [named("lock out")] if step.live else []
    return list_words([*said, *map(named, ("later", "back", "stop"))])


def _word(answer: str) -> str | None:
    """Return what an answer means, said in English or in the language of the walk; None of anything else."""
    said = {named(word).lower(): word for word in _ANSWERS.values() if word != "again"}
    return {**said, **_ANSWERS}.get(answer.lower())


def _ask(prompt: str) -> str | None:
    """Return one line of the terminal; None at its end."""
    say(f"  [{prompt}] > ", nl=False)
    line = sys.stdin.readline()
    if not line:
        click.echo()
        return None
    return line.strip()


def _result(steps: WorkPlan, step: Step, now: Progress, answer: str, word: str | None) -> Result | None:
    """Return the result that an answer gives, asking for a reason where one is needed; None when it gives none."""
    from subbase.work.progress import Result

    if word == "back":
        held = [result.step for result in now.results if now.of(result.step).status in ("done", "skipped", "failed")]
        if not held:
            click.echo("  " + _("There is nothing to take back yet."))
            return None
        return Result(held[-1], "undone")
    if word == "not so":
        return Result(step.id, "not so", reason=_ask(_("what do you see instead")) or "")
    if word == "skip":
        return Result(step.id, "skipped", reason=_ask(_("why is it left out")) or "")
    who = "" if step.may_do else _ask(_("name of who did it")) or ""
    if word == "done":
        return Result(step.id, "done", reason=who)
    value = _value(steps, step, answer)
    if value is None:
        say("  " + _("'{answer}' is no answer here.").format(answer=answer[:40]))
        return None
    return Result(step.id, "read", value, who)


def _value(steps: WorkPlan, step: Step, answer: str) -> float | None:
    """Return a reading in SI; None when it is none."""
    from subbase.work.steps import inner_value

    if step.expected is None:
        return None
    if answer.lower() in ("ol", "o.l", "o.l."):
        return math.inf
    number = answer.lower().removesuffix("f").removesuffix("c").removesuffix("v").removesuffix("ohm").rstrip(" °")
    try:
        value = float(number.replace(",", "."))
    except ValueError:
        return None
    return inner_value(value, step.expected.unit, steps.units) if math.isfinite(value) else None


def _taken(steps: WorkPlan, now: Progress, result: Result, file: Path) -> Progress:
    from subbase.errors import InputError
    from subbase.work.progress import with_result

    try:
        after = with_result(steps, now, result)
    except InputError as error:
        say(f"  {error.faults[0].message}")
        return now
    _keep(file, steps, after)
    if result.did == "undone":
        fallen = sum(1 for step, state in now.states if state.status == "done" and after.of(step).status != "done")
        say(
            "  "
            + _("Taken back: {title}. To be done again: {fallen}.").format(
                title=steps.step(result.step).title, fallen=fallen
            )
        )
    elif after.of(result.step).status not in ("done", "skipped"):
        state = after.of(result.step)
        said = state.why if state.status == "failed" else f"{steps.step(result.step).otherwise} {state.why}."
        say("  " + _("NOT MET. {said}").format(said=said))
    return after


def _locked_again(steps: WorkPlan, now: Progress, file: Path) -> Progress:
    """Take the job back behind the locks, to put right what a live reading showed."""
    from subbase.work.progress import back_to_dead, with_result

    for result in back_to_dead(steps, now):
        now = with_result(steps, now, result)
    _keep(file, steps, now)
    click.echo("  " + _("OFF, lock out, prove dead. Put it right, read back, and meter dead again before supply."))
    return now


def _keep(file: Path, steps: WorkPlan, now: Progress) -> None:
    from subbase.work.progress import progress_data

    text = json.dumps(progress_data(steps, now), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    try:
        write_whole(file, text.encode())
    except OSError as error:
        refuse_writing(file, error, as_json=False, what=_("The record"))


__all__ = ["work"]
