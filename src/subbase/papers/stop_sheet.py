"""The sheet of a job that may not go on: what was seen and what to do instead, or what must be answered first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from subbase.papers import blocks, route_tables, tables
from subbase.papers.blocks import Block
from subbase.plan import Plan, Question
from subbase.words import _


def stop_sheet_blocks(plan: Plan) -> Iterator[Block]:
    """Yield the sheet of a plan that is stopped or has a question, cautions last."""
    yield from _stopped(plan) if plan.verdict == "stopped" else _asked(plan)
    yield blocks.subheading(_("Cautions"), 2)
    yield from blocks.table(route_tables.caution_table(plan), titled=0)


def _stopped(plan: Plan) -> Iterator[Block]:
    if plan.stops:
        first, *others = plan.stops
        yield blocks.verdict("stopped", first.seen, [first.instead, _("Nothing may be wired here as things stand.")])
        for stop in others:
            yield blocks.subheading(stop.seen, 2)
            yield blocks.text(stop.instead)
        return
    yield blocks.verdict(
        "stopped",
        _("Stop: no wiring of the new control was found that the circuit proves"),
        [_("Leave the old control in service. Below is every way looked at, and what would lift its refusal.")],
    )
    yield from blocks.table(route_tables.refusal_table(plan.refused), titled=2)
    if plan.notes:
        yield blocks.subheading(_("The whole house together"), 2)
        yield blocks.bullets(plan.notes)


def _asked(plan: Plan) -> Iterator[Block]:
    first = plan.questions[0] if plan.questions else None
    line = _("Answer first: {question}").format(question=first.text) if first else _("Something must be settled first")
    yield blocks.verdict("question", line, [_("Nothing is to be moved before it is answered; the plan depends on it.")])
    for contradiction in plan.contradictions:
        yield blocks.subheading(_("Reading against survey"), 2)
        yield blocks.text(contradiction.text)
        if contradiction.would_agree:
            yield blocks.text(_("It would agree if one of these were so:"))
            yield blocks.bullets(contradiction.would_agree)
    for number, question in enumerate(plan.questions, start=1):
        yield from _question(plan, number, question)
    if plan.indifferent:
        yield blocks.subheading(_("Not known, and it does not matter"), 2)
        yield blocks.bullets(plan.indifferent)


def _question(plan: Plan, number: int, question: Question) -> Sequence[Block]:
    head = f"{number}. {question.text}" if len(plan.questions) > 1 else question.text
    found = [blocks.subheading(head, 2), blocks.text(_("How to find out: {how}").format(how=question.how))]
    if question.answers:
        rows = tuple((_answer_words(plan, answer.value), answer.leads_to) for answer in question.answers)
        found += blocks.table(tables.Table("", (_("If it is"), _("then")), rows, (2.2, 5.0)), titled=0)
    return [
        *found,
        blocks.text(_("Write the answer into the survey at {field}.").format(field=question.field), small=True),
    ]


def _answer_words(plan: Plan, value: str) -> str:
    kind = plan.catalog.get(value)
    return f"{_(kind.title)} ({value})" if kind else tables.terminal_words(value)
