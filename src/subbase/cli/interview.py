"""The fewest questions that make a survey: what heats, what cools, what hangs there, and where each conductor lands."""

from __future__ import annotations

import click

from subbase.catalog import Catalog
from subbase.cli.shell import say
from subbase.errors import InputError
from subbase.survey import read_survey
from subbase.words import _

_USUAL_NEW = "R C W1 W2 Y1 Y2 G O/B"


def interview(catalog: Catalog) -> str:
    """Ask at the terminal and return the survey as YAML text that has been read back without a fault."""
    click.echo(_("A few questions. Write 'unknown' for what you do not know; nothing is guessed."))
    name = click.prompt(_("What is the job called"))
    indoor = _kind(catalog, _("Which kind stands indoors (type ? for the list)"))
    outdoor = _kind(catalog, _("Which kind stands outdoors (type ? for the list, none if nothing)"), none=True)
    old = click.prompt(_("Terminals in use on the old control, as marked"), default="R W Y G").split()
    new = click.prompt(_("Terminals of the new control"), default=_USUAL_NEW).split()
    old_supplies, new_supplies = _supplies("old", old), _supplies("new", new)
    length = click.prompt(_("Length of the cable from the wall to the equipment, in feet"), default="unknown")
    gauge = click.prompt(_("Gauge of its conductors, AWG"), default="18")
    lines = [
        "survey: 1",
        f"name: {_quoted(name)}",
        "units: us",
        "equipment:",
        f"  indoor: {{kind: {indoor}}}",
        *([f"  outdoor: {{kind: {outdoor}}}"] if outdoor else []),
        "controls:",
        "  wall:",
        f"    old: {{terminals: [{', '.join(map(_quoted, old))}]{old_supplies}}}",
        f"    new: {{terminals: [{', '.join(map(_quoted, new))}]{new_supplies}, power: {'common' if 'C' in new else 'battery'}, asleep_va: 0.6, awake_va: 3}}",
        "cables:",
        *_cable("wall cable", "wall", "indoor", length, gauge),
    ]
    if outdoor:
        far = click.prompt(_("Length of the cable to the outdoor unit, in feet"), default="unknown")
        lines += _cable("outdoor cable", "indoor", "outdoor", far, gauge)
    text = "\n".join(lines) + "\n"
    try:
        read_survey(text.encode(), _("the answers"), catalog)
    except InputError as error:
        click.echo(_("Written all the same, to be put right in the file:"), err=True)
        for fault in error.faults:
            say(f"  {fault.where}: {fault.message}", err=True)
    return text


def _kind(catalog: Catalog, question: str, *, none: bool = False) -> str:
    while True:
        answer = str(click.prompt(question)).strip()
        if none and answer in ("none", "-"):
            return ""
        if answer in catalog:
            return answer
        for kind in sorted(catalog.values(), key=lambda k: (k.group, k.kind)):
            if answer == "?" or answer.split("-")[0] in kind.kind:
                say(f"  {kind.kind:<32} {_(kind.title)}")


def _supplies(which: str, terminals: list[str]) -> str:
    """Ask how two supply terminals stand to each other; return the field that says it."""
    if not {"Rh", "Rc"} <= set(terminals):
        return ""
    question = (
        _("Are Rh and Rc of the old control joined inside it, or separate")
        if which == "old"
        else _("Are Rh and Rc of the new control joined inside it, or separate")
    )
    return f", supplies: {click.prompt(question, type=click.Choice(['joined', 'separate']))}"


def _cable(name: str, near: str, far: str, length: str, gauge: str) -> list[str]:
    say(
        _(
            "Conductors of the {name}, one a line: NAME, landing at {near}, landing at {far}; an empty line ends."
        ).format(name=name, near=near, far=far)
    )
    click.echo("  " + _("for example:  red R R    or:  blue loose loose    or:  white unknown W"))
    lines = [
        f"  {name}:",
        f"    from: {near}",
        f"    to: {far}",
        f"    length: {_quoted(length)}",
        f"    gauge: {_quoted(gauge)}",
        "    conductors:",
    ]
    while True:
        words = str(click.prompt("  " + _("conductor"), default="", show_default=False)).split()
        if not words:
            return lines
        if len(words) != 3:
            click.echo("  " + _("Three words: its name and its two landings."))
            continue
        lines.append(f"      {_quoted(words[0])}: {{from: {_quoted(words[1])}, to: {_quoted(words[2])}}}")


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
