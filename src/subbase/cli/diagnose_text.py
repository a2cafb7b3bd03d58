"""A diagnosis as text for the person at the equipment."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from subbase.names import list_words
from subbase.words import _

if TYPE_CHECKING:
    from subbase.diagnose.advice import Advice
    from subbase.diagnose.repair import Repair
    from subbase.diagnose.weigh import Belief

SHOWN = 5
LEAST_SHOWN = 0.01


def belief_text(belief: Belief) -> str:
    """Return the ranked causes and the readings that are doubted."""
    return "\n".join(_belief_lines(belief))


def _belief_lines(belief: Belief) -> Iterator[str]:
    yield _("Likeliest causes:")
    for number, cause in enumerate(belief.ranking[:SHOWN], start=1):
        if cause.probability >= LEAST_SHOWN or number == 1:
            yield f"  {number}. {_percent(cause.probability)}  {cause.words}"
            for group in cause.members:
                yield from ("            " + _("or {cause}").format(cause=other.words) for other in group[1:4])
    if belief.none_of_these >= LEAST_SHOWN:
        yield f"     {_percent(belief.none_of_these)}  {_('none of these')}"
    if belief.none_wins:
        yield _("Nothing that was thought of fits what was read. Doubt the readings first:")
    for doubt in belief.doubted:
        yield "  " + _("Doubtful: {reading}").format(reading=doubt.words)
    if belief.none_wins and not belief.doubted:
        yield "  " + _("prove the meter on a known live source, and take the last readings again.")


def beyond_text(belief: Belief) -> str:
    """Return what must be faulty and what three faults would explain everything; empty while one or two do."""
    if not belief.none_wins:
        return ""
    from subbase.diagnose.beyond import conflicts_of, must_be_faulty, three_faults
    from subbase.diagnose.places import part_name

    house = belief.predictions.house
    lines = []
    for parts in must_be_faulty(conflicts_of(belief.predictions, belief.evidence))[:3]:
        names = sorted(part_name(house, tag) if tag in house.netlist.by_tag else tag for tag in parts)
        said = (
            _("If the readings are right, at least one of these is faulty: {parts} and {count} more.")
            if len(names) > 8
            else _("If the readings are right, at least one of these is faulty: {parts}.")
        )
        lines.append(said.format(parts=list_words(names[:8]), count=len(names) - 8))
    for found in three_faults(belief, most=2):
        first, second, third = (fault.words for fault in found.faults)
        lines.append(
            _("Three faults would explain them: {first}; and {second}; and {third}.").format(
                first=first, second=second, third=third
            )
        )
    return "\n".join(lines)


def advice_text(advice: Advice) -> str:
    """Return what to do next, why, and what each outcome would mean."""
    return "\n".join(_advice_lines(advice))


def _advice_lines(advice: Advice) -> Iterator[str]:
    if advice.action == "probe" and advice.offer is not None:
        yield _("Next: {test}.").format(test=advice.offer.words)
        yield f"  {_('At {place}.').format(place=advice.offer.site)} {advice.offer.caution}".rstrip()
        yield "  " + _("Why: {why}.").format(why=advice.why)
        for outcome in advice.outcomes:
            yield "  " + _("{outcome} ({share} likely): then likeliest, with {then_share}, {cause}").format(
                outcome=outcome.words,
                share=_percent(outcome.probability).strip(),
                then_share=_percent(outcome.then_probability).strip(),
                cause=outcome.then.words,
            )
    elif advice.action == "repair":
        yield _("Repair: {why}.").format(why=advice.why)
    else:
        yield _("Hand over: {why}.").format(why=advice.why)
    for offer, reason in advice.kept_back:
        yield "  " + _("Kept back: {test}; {reason}.").format(test=offer.words, reason=reason)


def repair_text(repair: Repair) -> str:
    """Return what to do about one cause."""
    lines = [_("Where: {place}.").format(place=repair.site)] if repair.site else []
    lines += [
        _("Do: {do}").format(do=repair.do),
        _("Part: {part}.").format(part=repair.part),
        _("Proof: {proof}").format(proof=repair.proof),
        _("Stop: {stop}").format(stop=repair.stop),
    ]
    return "\n".join(f"  {line}" for line in lines)


def _percent(p: float) -> str:
    return f"{100.0 * p:3.0f} %" if p < 0.995 else " 99+ %"
