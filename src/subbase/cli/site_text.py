"""Where the control goes, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.cli.plan_text import wrapped
from subbase.papers.site_page import head_words
from subbase.siting.finding import told
from subbase.siting.verdict import Place, SiteVerdict
from subbase.words import _

SIGNS = {"rules out": "x", "against": "-", "for": "+", "note": "."}


def site_text(verdict: SiteVerdict) -> str:
    """Return the verdict as a page of text: the answer first, then every place with its reasons."""
    name, best = verdict.house.name, verdict.best
    lines = [name, "=" * len(name), "", *wrapped(head_words(verdict, capitals=True), "  ", "")]
    for advice in verdict.advice:
        lines += wrapped(advice, "    ", "  - ")
    if verdict.questions:
        lines += ["", _("TO FIND OUT")]
        for question in verdict.questions:
            lines += wrapped(question, "    ", "  - ")
    lines += ["", _("PLACES, BEST FIRST (x rules out, - against, + for)")]
    for place in (*verdict.places, *verdict.searched):
        lines += _place(place, verdict.house.units)
    if best is not None:
        lines += ["", _("THE CABLE TO {place}").format(place=best.name.upper())]
        for number, step in enumerate(best.fish, start=1):
            lines += wrapped(step, "     ", f"  {number}. ")
    lines += ["", _("CAUTIONS, AND WHAT THE NUMBERS REST ON")]
    for caution in verdict.cautions:
        lines += wrapped(f"{caution.text} ({caution.source})", "    ", "  - ")
    for taken in verdict.taken:
        lines += wrapped(taken, "    ", "  - ")
    for source in verdict.sources():
        lines += wrapped(source, "    ", "  - ")
    return "\n".join(lines)


def _place(place: Place, units: str) -> Iterator[str]:
    state = _("ruled out") if place.ruled_out else _("found by trying") if place.searched else _("good")
    where = _("{along} from the left end, {height} up").format(
        along=told(place.candidate.along_m, units), height=told(place.height_m, units)
    )
    yield from wrapped(f"{place.name} ({where}): {state}", "    ", "  ")
    for weight, sign in SIGNS.items():
        for finding in place.of(weight):
            yield from wrapped(finding.text, "        ", f"      {sign} ")
