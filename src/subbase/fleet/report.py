"""The report of a run: one page for a browser and one PDF, both from the same sections, both complete in themselves."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib import resources
from typing import TYPE_CHECKING

from subbase.fleet.charts import BESIDE, NARROW, OVER, Bar, Layout, bars, ranges
from subbase.fleet.totals import Load, Totals
from subbase.names import named
from subbase.words import _, current_language, plural

if TYPE_CHECKING:
    from subbase.fleet.savings import Saving

MOST_ROWS = 25
"""Rows of a table in the report; the whole table is in the file beside it."""


LEAST_LOADS, MOST_PARTS = 2, 8
"""Days and areas from which on they are shown each for itself, and the parts shown of each."""
SHORT, LONG = 24, 120
"""Letters of a cell up to which a column is kept as wide as it is, and beyond which it gets no wider."""


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the report."""

    title: str
    texts: tuple[str, ...] = ()
    chart: str = ""
    narrow: str = ""
    """The same chart for a phone."""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    numbers: tuple[int, ...] = ()
    """Columns that hold numbers."""

    @property
    def shares(self) -> tuple[int, ...]:
        """Return each column's share of the page's width; 0 for one that is as wide as what stands in it."""
        longest = [max((len(row[at]) for row in self.rows), default=0) for at in range(len(self.heads))]
        return tuple(0 if at in self.numbers or size <= SHORT else min(size, LONG) for at, size in enumerate(longest))


@dataclass(frozen=True, slots=True)
class Report:
    """The whole report."""

    title: str
    what: str
    sections: tuple[Section, ...]
    language: str


def report_of(
    totals: Totals, *, name: str, structures: int, refused: Sequence[Sequence[str]], savings: Sequence[Saving] = ()
) -> Report:
    """Return the report of a fleet; ``refused`` holds the first refused rows as (place, id, field, why)."""
    counts = totals.verdicts
    what = plural(
        "{rows} home, {structures} structures of wiring.",
        "{rows} homes, {structures} structures of wiring.",
        counts.all,
    )
    sections = (
        _verdicts(totals), _questions(totals), _days(totals), _parts(totals), _trucks(totals), _routes(totals), _stops(totals),
        _hazards(totals), _trusted(totals), _savings(savings), _refused(totals, refused), _limits(),
    )  # fmt: skip
    return Report(
        name or _("A list of homes"),
        what.format(rows=f"{counts.all:,}", structures=f"{structures:,}"),
        tuple(section for section in sections if section is not None),
        current_language(),
    )


def _verdicts(totals: Totals) -> Section:
    counts = totals.verdicts
    words = {
        "planned": _("planned"), "asked": _("asked"), "stopped": _("stopped"), "refused": _("refused"),
    }  # fmt: skip
    meaning = {
        "planned": _("The wiring is chosen and proved; whatever is not known changes nothing."),
        "asked": _("An answer decides how the home is wired; it is among the questions below."),
        "stopped": _("Nothing is to be wired: unsafe, not 24 V, or no way was found."),
        "refused": _("The row cannot be read, or contradicts itself; it is in refused.csv as it stood."),
    }
    rows = [Bar(words[name], float(getattr(counts, name)), f"{getattr(counts, name):,}", name) for name in words]
    return Section(
        _("What came out"),
        (
            _("Rows that went in: {rows}. Planned, asked, stopped and refused add up to them.").format(rows=f"{counts.all:,}"),
            _("Homes for which a licensed person comes into it: {count}.").format(count=f"{totals.licensed:,}"),
        ),
        *_drawn(rows, BESIDE, _("Homes by verdict")),
        (_("Verdict"), _("Homes"), _("Means")),
        tuple((words[name], f"{getattr(counts, name):,}", meaning[name]) for name in words),
        (1,),
    )  # fmt: skip


def _questions(totals: Totals) -> Section | None:
    if not totals.questions:
        return None
    shown = totals.questions[:MOST_ROWS]
    rows = [Bar(worth.text, worth.bits, f"{worth.bits:,.0f} bit", "asked") for worth in shown if worth.bits > 0]
    return Section(
        _("Questions worth asking first"),
        (
            _("Worth is what an answer is expected to tell about the plan, in bits, summed over all homes that hang on it; all possibilities of a home are taken as alike likely. Where the worth is not given, nothing can be planned before the answer, or the possibilities were too many to be tried."),
        ),
        *_drawn(rows[:12], OVER, _("Worth of questions over the whole list")),
        (_("Question"), _("Homes"), _("Only question of"), _("Worth [bit]"), _("How to find out")),
        tuple((w.text, f"{w.homes:,}", f"{w.alone:,}", f"{w.bits:,.1f}" if w.bits else "-", w.how) for w in shown),
        (1, 2, 3),
    )  # fmt: skip


def _days(totals: Totals) -> Section | None:
    loads = [load for load in totals.by_day_and_area if load.minutes_most > 0]
    if not loads:
        return None
    shown = loads[:MOST_ROWS]
    each = ((load.minutes_least, load.minutes_mean, load.minutes_most) for load in loads)
    sums = [sum(minutes) / 60 for minutes in zip(*each, strict=True)]
    hours = [(_place(load), load.minutes_least / 60, load.minutes_mean / 60, load.minutes_most / 60) for load in shown]
    return Section(
        _("Work by day and area"),
        (
            _("All homes together: {mean} hours, between {least} and {most}.").format(
                mean=f"{sums[1]:,.0f}", least=f"{sums[0]:,.0f}", most=f"{sums[2]:,.0f}"
            ),
            _("Hours from least to most, with the mean, over everything the homes may be; minutes are the plan's own, for comparing, not for billing. All of it is in days.csv."),
        ),
        ranges(hours[:15], BESIDE, title=_("Hours by day and area: least, mean, most")),
        ranges(hours[:15], NARROW, title=_("Hours by day and area: least, mean, most")),
        (_("Day"), _("Area"), _("Planned"), _("Asked"), _("Hours, least"), _("Mean"), _("Most")),
        tuple(
            (x.day, x.area, f"{x.planned:,}", f"{x.asked:,}", *(f"{m / 60:,.1f}" for m in (x.minutes_least, x.minutes_mean, x.minutes_most)))
            for x in shown
        ),
        (2, 3, 4, 5, 6),
    )  # fmt: skip


def _place(load: Load) -> str:
    return " ".join(filter(None, (load.day, load.area))) or _("all")


def _parts(totals: Totals) -> Section | None:
    ordered = _parts_by_need(totals)[:MOST_ROWS]
    if not ordered:
        return None
    return Section(
        _("Parts for the truck"),
        (
            _("Expected is the mean over everything the homes may be; most is what could be needed if every open question goes the other way. By day and area they are in parts.csv."),
        ),
        heads=(_("No."), _("Part"), _("Expected"), _("Most")),
        rows=tuple(
            (str(number), what, f"{expected:,.1f}", f"{most:,.0f}")
            for number, (what, expected, most) in enumerate(ordered, start=1)
        ),
        numbers=(2, 3),
    )  # fmt: skip


def _parts_by_need(totals: Totals) -> list[tuple[str, float, int]]:
    """Return (part, expected, most) over all homes, the one needed most first."""
    sums: dict[str, tuple[float, int]] = {}
    for part in totals.parts:
        expected, most = sums.get(part.what, (0.0, 0))
        sums[part.what] = (expected + part.expected, most + part.most)
    ordered = sorted(sums.items(), key=lambda item: (-item[1][0], item[0]))
    return [(what, *counts) for what, counts in ordered]


def _trucks(totals: Totals) -> Section | None:
    loads: dict[tuple[str, str], dict[str, str]] = {}
    for part in totals.parts:
        said = f"{part.expected:,.1f} / {part.most:,}"
        loads.setdefault((part.day, part.area), {})[part.what] = said
    if len(loads) < LEAST_LOADS:
        return None
    parts = [what for what, *_counts in _parts_by_need(totals)[:MOST_PARTS]]
    rows = (
        (day, area, *(load.get(what, "") for what in parts)) for (day, area), load in list(loads.items())[:MOST_ROWS]
    )
    return Section(
        _("Parts by day and area"),
        (
            _("Parts by their numbers in the table above: expected, and behind the stroke the most there may be. What is not shown here is in parts.csv."),
        ),
        heads=(_("Day"), _("Area"), *(_("No. {number}").format(number=number) for number in range(1, len(parts) + 1))),
        rows=tuple(rows),
        numbers=tuple(range(2, len(parts) + 2)),
    )  # fmt: skip


def _routes(totals: Totals) -> Section | None:
    if not totals.routes:
        return None
    rows = [Bar(named(name), float(count), f"{count:,}") for name, count in totals.routes]
    return Section(
        _("How the new controls are fed"), (_("Of planned homes."),), *_drawn(rows, BESIDE, _("Homes by power route"))
    )


def _drawn(rows: Sequence[Bar], layout: Layout, title: str) -> tuple[str, str]:
    """Return a chart for a wide page and for a narrow one; none where there is nothing to draw."""
    return (bars(rows, layout, title=title), bars(rows, NARROW, title=title)) if rows else ("", "")


def _stops(totals: Totals) -> Section | None:
    return _counted(_("Why homes are stopped"), (), totals.stops)


def _hazards(totals: Totals) -> Section | None:
    text = _(
        "Each caution with the homes that it holds for; local codes and licensed practice decide where they differ."
    )
    return _counted(_("Hazards"), (text,), totals.hazards)


def _trusted(totals: Totals) -> Section | None:
    text = _(
        "Nobody who made these plans has seen this. It was declared for homes of which the list says nothing; look before you rely on it."
    )
    return _counted(_("What was told or assumed"), (text,), totals.trusted)


def _savings(savings: Sequence[Saving]) -> Section | None:
    if not savings:
        return None
    sums = [sum(item.saved_kwh[at] for item in savings) for at in range(3)]
    return Section(
        _("What a night setback may save"),
        (
            _("All homes with a climate in the list together: {mean} MWh of heat a year; {low} if every home were like the low house, {high} if every home were like the high one.").format(
                mean=f"{sums[1] / 1000:,.0f}", low=f"{sums[0] / 1000:,.0f}", high=f"{sums[2] / 1000:,.0f}"
            ),
            _("Share of the heat that a setback from 20 °C to 16.5 °C between 22 and 6 saves: one house in ten stays below the first figure, one in ten exceeds the last. They are ordinary houses in a made-up year of each climate; the list says nothing of one home's walls, and nothing is claimed of it. For a heat pump with strips the share of electricity may be less, or none."),
        ),
        heads=(
            _("Climate zone"), _("Homes"), _("Low"), _("Middle"), _("High"), _("Heat of the middle house [kWh a year]"),
            _("All homes save [MWh a year]"),
        ),
        rows=tuple(
            (
                x.climate, f"{x.homes:,}", *(f"{100 * share:.1f} %" for share in (x.low, x.middle, x.high)),
                f"{x.heat_kwh:,.0f}", f"{x.saved_kwh[1] / 1000:,.1f}",
            )
            for x in savings
        ),
        numbers=(1, 2, 3, 4, 5, 6),
    )  # fmt: skip


def _counted(title: str, texts: tuple[str, ...], found: Sequence[tuple[str, int]]) -> Section | None:
    if not found:
        return None
    rows = tuple((text, f"{count:,}") for text, count in found[:MOST_ROWS])
    return Section(title, texts, heads=("", _("Homes")), rows=rows, numbers=(1,))


def _refused(totals: Totals, refused: Sequence[Sequence[str]]) -> Section | None:
    if not totals.verdicts.refused:
        return None
    text = _("The first of them; all are in refused.csv with file, line, reason and the row as it stood there.")
    heads = (_("Where"), _("Home"), _("Fact"), _("Why"))
    return Section(_("Rows refused"), (text,), heads=heads, rows=tuple(tuple(row) for row in refused[:MOST_ROWS]))


def _limits() -> Section:
    return Section(
        _("What this is not"),
        (
            _("A plan from a list is made of what the list says. Each home is surveyed before anything is moved: the person on the ladder looks, proves dead, and plans again with what is there."),
            _("Transformers and loads whose nameplates are not in the list are typical ones of the catalogue. No sign of danger in the list does not mean that there is none at the wall."),
        ),
    )  # fmt: skip


def report_html(report: Report) -> bytes:
    """Return the report as one page that needs nothing beside it."""
    import jinja2

    text = (resources.files("subbase.fleet") / "report.html").read_text("utf-8")
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    return environment.from_string(text).render(doc=report).encode("utf-8", "replace")


def _paper(report: Report) -> dict[str, object]:
    shares = [{"shares": section.shares} for section in report.sections]
    data = asdict(report)
    return {**data, "sections": [{**own, **more} for own, more in zip(data["sections"], shares, strict=True)]}


def report_pdf(report: Report) -> bytes:
    """Return the report as a PDF; the same report always gives the same bytes."""
    import typst

    from subbase.papers.pdf import font_paths

    with resources.as_file(resources.files("subbase.fleet") / "report.typ") as file:
        made = typst.compile(
            file,
            format="pdf",
            sys_inputs={"data": json.dumps(_paper(report), ensure_ascii=False)},
            font_paths=font_paths(),
            ignore_system_fonts=True,
            pdf_standards=["ua-1"],
            timestamp=0,
        )
    return bytes(made)
