"""``subbase diagnose``: ranked causes of a fault, and the next best test, asked one by one or answered from a file."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from subbase.cli.shell import (
    OPEN_QUESTION,
    PLANNED,
    STOPPED,
    VERDICT_CODES,
    bad_input_refused,
    catalogue_option,
    file_argument,
    json_option,
    load_or_leave,
    print_json,
    refuse_writing,
    say,
    show_plan,
)
from subbase.files import write_whole
from subbase.names import or_words
from subbase.words import _, mark

if TYPE_CHECKING:
    from subbase.catalog import Catalog
    from subbase.diagnose.advice import Advice
    from subbase.diagnose.costs import Offer, Situation
    from subbase.diagnose.evidence_file import EvidenceFile
    from subbase.diagnose.predictions import Predictions
    from subbase.diagnose.probes import Evidence
    from subbase.diagnose.weigh import Belief
    from subbase.survey import Survey

ACTION_CODES = {"probe": OPEN_QUESTION, "repair": PLANNED, "hand over": STOPPED}
HELP_WORDS = mark("a number or one of the answers; ? for 'don't know', repair to stop testing, quit to leave")


def _show_odds(context: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted:
        from subbase.diagnose.odds import built_in_text

        say(built_in_text(), nl=False)
        context.exit()


@click.command()
@file_argument
@click.option("--as-left", is_flag=True, help="The house as its plan leaves it, not as it was found.")
@click.option("--evidence", type=click.Path(path_type=Path), metavar="E.yaml", help="What is known already, as a file.")
@click.option("--ask", is_flag=True, help="Go on asking after what the file says.")
@click.option("--save", type=click.Path(path_type=Path), metavar="E.yaml", help="Write everything answered there.")
@click.option("--odds", type=click.Path(path_type=Path), metavar="O.toml", help="Prior odds of your own.")
@click.option(
    "--show-odds",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_odds,
    help="Print the prior odds, to begin your own from, and leave.",
)
@click.option("--outdoors", type=float, metavar="°F", help="Outdoor temperature; compressors are not run in the cold.")
@json_option
@catalogue_option
def diagnose(  # noqa: PLR0913, PLR0917 -- click gives every option as an argument
    file: Path,
    as_left: bool,
    evidence: Path | None,
    ask: bool,
    save: Path | None,
    odds: Path | None,
    outdoors: float | None,
    as_json: bool,
    folders: tuple[Path, ...],
) -> None:
    """Find the fault: ranked causes, and the next best test.

    Without --evidence it asks one test after another; answers may come from a pipe.
    When a repair leaves something wrong, it goes on with what is left.

    \b
    Exit codes: 0 a cause to repair, 2 the input cannot be read, 3 hand over or
    stop, 4 a test must be made first.

    \b
    Example:  subbase diagnose examples/01-no-common-spare-blue.yaml --evidence examples/evidence/01-no-heat.yaml
    """
    catalog, survey = load_or_leave(file, folders, as_json=as_json)
    survey = _without_unknowns(survey, catalog, as_left=as_left, as_json=as_json)
    from subbase.diagnose.odds import load_odds
    from subbase.diagnose.session import start

    with bad_input_refused(as_json=as_json):
        own = load_odds(odds)
    predictions = start(survey, catalog, odds=own, progress=lambda text: None if as_json else say(text, err=True))
    given = _evidence_or_leave(evidence, predictions, as_json=as_json)
    situation = _situation(given, outdoors)
    known = given.evidence if given else None
    interactive = ask or evidence is None
    belief, advice = _asked(predictions, known, situation) if interactive else _judged(predictions, known, situation)
    if save is not None:
        _save(save, belief.evidence, as_json=as_json)
    _show(belief, advice, survey.name, as_json=as_json)
    sys.exit(ACTION_CODES[advice.action])


def _without_unknowns(survey: Survey, catalog: Catalog, *, as_left: bool, as_json: bool) -> Survey:
    """Return the house to look at, or leave with the plan's own words when it cannot be built."""
    from subbase.plan.screen import screen
    from subbase.plan.unknowns import open_facts

    if not as_left and not screen(survey) and not open_facts(survey, catalog):
        return survey
    from subbase.plan import make_plan

    made = make_plan(survey, catalog)
    house = made.left if as_left else made.found
    if house is not None:
        return house
    show_plan(made, as_json=as_json)
    sys.exit(VERDICT_CODES[made.verdict] or OPEN_QUESTION)


def _evidence_or_leave(path: Path | None, predictions: Predictions, *, as_json: bool) -> EvidenceFile | None:
    if path is None:
        return None
    from subbase.diagnose.evidence_file import load_evidence

    with bad_input_refused(as_json=as_json):
        return load_evidence(path, predictions.house, odds=predictions.odds)


def _situation(given: EvidenceFile | None, outdoors_f: float | None) -> Situation:
    from subbase.diagnose.costs import Situation

    situation = Situation(stands=given.stands_at, outdoor_c=given.outdoor_c) if given else Situation()
    return situation if outdoors_f is None else replace(situation, outdoor_c=(outdoors_f - 32.0) * 5.0 / 9.0)


def _judged(predictions: Predictions, known: Evidence | None, situation: Situation) -> tuple[Belief, Advice]:
    from subbase.diagnose.advice import Options, next_test
    from subbase.diagnose.probes import Evidence
    from subbase.diagnose.weigh import weigh

    belief = weigh(predictions, known or Evidence())
    return belief, next_test(belief, Options(situation))


def _asked(predictions: Predictions, known: Evidence | None, situation: Situation) -> tuple[Belief, Advice]:
    """Ask test after test until it is time to repair, to hand over, or the answers end."""
    from subbase.cli.diagnose_text import advice_text, belief_text
    from subbase.diagnose.probes import Evidence, Reading

    evidence = known if known is not None else Evidence(history=tuple(_history(list(predictions.odds.history))))
    while True:
        belief, advice = _judged(predictions, evidence, situation)
        offer = advice.offer if advice.action == "probe" else None
        if offer is None:
            put_right = _put_right(belief, advice)
            if advice.action != "repair" or not put_right or not _still_wrong(belief, advice):
                return belief, advice
            evidence = evidence.and_repaired(put_right)
            continue
        say(f"\n{belief_text(belief)}\n\n{advice_text(advice)}", err=True)
        predictions.block(offer.probe.state)  # settled while the person reads, so that the answer finds it ready
        answer = _answer(offer)
        if answer == "quit":
            return belief, advice
        if answer == "repair":
            advice = replace(advice, action="repair", why=_("you chose to repair"), cause=belief.ranking[0])
            if not _still_wrong(belief, advice):
                return belief, advice
            evidence = evidence.and_repaired(_put_right(belief, advice))
            continue
        evidence = evidence.and_then(Reading(offer.probe, None if answer == "?" else answer))
        situation = situation.after(offer)


def _still_wrong(belief: Belief, advice: Advice) -> bool:
    """Show a repair, and return whether something is wrong after it; no when nobody answers."""
    from subbase.cli.diagnose_text import advice_text, belief_text

    say(f"\n{belief_text(belief)}\n\n{advice_text(advice)}", err=True)
    for words in _repair_words(belief, advice):
        say(words, err=True)
    try:
        asked = _("Do it and try every call. Is anything still wrong? [yes or no]")
        said = str(click.prompt(asked, default="no", show_default=False, err=True))
    except click.Abort:
        return False
    return said.strip().lower() in ("yes", "y", _("yes"))


def _put_right(belief: Belief, advice: Advice) -> list[str]:
    """Return the ids of all that a repair puts right: the causes of the entry, tied ones too."""
    cause = advice.cause or belief.ranking[0]
    return [hypothesis.id for group in cause.members for hypothesis in group if hypothesis.kind != "nothing wrong"]


def _history(words: list[str]) -> Iterator[str]:
    say(_("What is told of it? Any of: {words}; an empty line for nothing.").format(words=", ".join(words)), err=True)
    try:
        told = str(click.prompt(_("History"), default="", show_default=False, err=True))
    except click.Abort:
        return
    for word in (part.strip() for part in told.split(",")):
        if word in words:
            yield word
        elif word:
            say(_("'{word}' is not known here and is left out.").format(word=word), err=True)


def _answer(offer: Offer) -> float | str:
    """Return what the person says, asked until it is an answer; 'quit' at the end of the input."""
    from subbase.diagnose.probes import ANSWERS

    probe = offer.probe
    answers = ANSWERS[probe.sight] if probe.kind == "seen" and probe.sight else ()
    unit = {"volts": "V", "ohms": _("ohm or OL"), "amps": "A", "seen": or_words(answers)}[probe.kind]
    while True:
        try:
            said = str(click.prompt(_("Reading [{unit}]").format(unit=unit), err=True)).strip().lower()
        except click.Abort:
            return "quit"
        if said in ("?", "quit", "repair", *answers):
            return said
        if probe.kind == "ohms" and said == "ol":
            return math.inf
        try:
            value = float(said) if not answers else math.nan
        except ValueError:
            value = math.nan
        if 0.0 <= value < math.inf:
            return value
        say(_("'{said}' is no answer to this: {help}.").format(said=said, help=_(HELP_WORDS)), err=True)


def _save(path: Path, evidence: Evidence, *, as_json: bool) -> None:
    from subbase.diagnose.evidence_file import evidence_text

    try:
        write_whole(path, evidence_text(evidence).encode())
    except OSError as error:
        refuse_writing(path, error, as_json=as_json, what=_("The evidence"))


def _show(belief: Belief, advice: Advice, name: str, *, as_json: bool) -> None:
    if as_json:
        from subbase.papers.data_diagnosis import DiagnosisShape

        print_json(DiagnosisShape.of(belief, advice, survey=name).plain())
        return
    from subbase.cli.diagnose_text import advice_text, belief_text, beyond_text

    say(f"{name}\n\n{belief_text(belief)}")
    beyond = beyond_text(belief)
    if beyond:
        say(beyond)
    say(f"\n{advice_text(advice)}")
    for words in _repair_words(belief, advice):
        say(words)


def _repair_words(belief: Belief, advice: Advice) -> Iterator[str]:
    from subbase.cli.diagnose_text import repair_text
    from subbase.diagnose.repair import repair_for

    for group in advice.cause.members if advice.action == "repair" and advice.cause else ():
        head = _("For {cause}:").format(cause=group[0].words)
        yield f"\n{head}\n{repair_text(repair_for(group[0], belief.predictions))}"
