"""The report of a run: one page for a browser and one PDF, both from the same sections, both complete in themselves."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib import resources
from typing import TYPE_CHECKING

from subbase.fleet.charts import bars, ranges
from subbase.fleet.totals import Load, Totals
from subbase.words import _, plural

if TYPE_CHECKING:
    from subbase.fleet.savings import Saving

MOST_ROWS = 25
"""Rows of a table in the report; the whole table is in the file beside it."""


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the report."""

    title: str
    texts: tuple[str, ...] = ()
    chart: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    numbers: tuple[int, ...] = ()
    """Columns that hold numbers."""


@dataclass(frozen=True, slots=True)
class Report:
    """The whole report."""

    title: str
    what: str
    sections: tuple[Section, ...]


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
        _verdicts(totals), _questions(totals), _days(totals), _parts(totals), _routes(totals), _stops(totals),
        _hazards(totals), _trusted(totals), _savings(savings), _refused(totals, refused), _limits(),
    )  # fmt: skip
    return Report(
        name or _("A list of homes"),
        what.format(rows=f"{counts.all:,}", structures=f"{structures:,}"),
        tuple(section for section in sections if section is not None),
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
    rows = [(words[name], float(getattr(counts, name)), f"{getattr(counts, name):,}") for name in words]
    return Section(
        _("What came out"),
        (
            _("Rows that went in: {rows}. Planned, asked, stopped and refused add up to them.").format(rows=f"{counts.all:,}"),
            _("Homes for which a licensed person comes into it: {count}.").format(count=f"{totals.licensed:,}"),
        ),
        bars(rows, title=_("Homes by verdict")),
        (_("Verdict"), _("Homes"), _("Means")),
        tuple((words[name], f"{getattr(counts, name):,}", meaning[name]) for name in words),
        (1,),
    )  # fmt: skip


def _questions(totals: Totals) -> Section | None:
    if not totals.questions:
        return None
    shown = totals.questions[:MOST_ROWS]
    rows = [(worth.text, worth.bits, f"{worth.bits:,.0f} bit") for worth in shown if worth.bits > 0]
    return Section(
        _("Questions worth asking first"),
        (
            _("Worth is what an answer is expected to tell about the plan, in bits, summed over all homes that hang on it; all possibilities of a home are taken as alike likely. Where the worth is not given, nothing can be planned before the answer, or the possibilities were too many to be tried."),
        ),
        bars(rows[:12], title=_("Worth of questions over the whole list"), shade="asked") if rows else "",
        (_("Question"), _("Homes"), _("Only question of"), _("Worth [bit]"), _("How to find out")),
        tuple((w.text, f"{w.homes:,}", f"{w.alone:,}", f"{w.bits:,.1f}" if w.bits else "-", w.how) for w in shown),
        (1, 2, 3),
    )  # fmt: skip


def _days(totals: Totals) -> Section | None:
    loads = [load for load in totals.by_day_and_area if load.minutes_most > 0]
    if not loads:
        return None
    shown = loads[:MOST_ROWS]
    hours = [(_place(load), load.minutes_least / 60, load.minutes_mean / 60, load.minutes_most / 60) for load in shown]
    return Section(
        _("Work by day and area"),
        (
            _("Hours from least to most, with the mean, over everything the homes may be; minutes are the plan's own, for comparing, not for billing. All of it is in days.csv."),
        ),
        ranges(hours[:15], title=_("Hours by day and area: least, mean, most")),
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
    sums: dict[str, list[float]] = {}
    for part in totals.parts:
        row = sums.setdefault(part.what, [0.0, 0.0])
        row[0] += part.expected
        row[1] += part.most
    if not sums:
        return None
    ordered = sorted(sums.items(), key=lambda item: (-item[1][0], item[0]))[:MOST_ROWS]
    return Section(
        _("Parts for the truck"),
        (
            _("Expected is the mean over everything the homes may be; most is what could be needed if every open question goes the other way. By day and area they are in parts.csv."),
        ),
        heads=(_("Part"), _("Expected"), _("Most")),
        rows=tuple((what, f"{expected:,.1f}", f"{most:,.0f}") for what, (expected, most) in ordered),
        numbers=(1, 2),
    )  # fmt: skip


def _routes(totals: Totals) -> Section | None:
    if not totals.routes:
        return None
    rows = [(name, float(count), f"{count:,}") for name, count in totals.routes]
    return Section(
        _("How the new controls are fed"), (_("Of planned homes."),), bars(rows, title=_("Homes by power route"))
    )


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
    return Section(
        _("What a night setback may save"),
        (
            _("Share of the heat that a setback from 20 °C to 16.5 °C between 22 and 6 saves: one house in ten stays below the first figure, one in ten exceeds the last. They are ordinary houses in a made-up year of each climate; the list says nothing of one home's walls, and nothing is claimed of it. For a heat pump with strips the share of electricity may be less, or none."),
        ),
        heads=(_("Climate zone"), _("Homes"), _("Low"), _("Middle"), _("High"), _("Heat of the middle house [kWh a year]")),
        rows=tuple(
            (x.climate, f"{x.homes:,}", *(f"{100 * share:.1f} %" for share in (x.low, x.middle, x.high)), f"{x.heat_kwh:,.0f}")
            for x in savings
        ),
        numbers=(1, 2, 3, 4, 5),
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


def report_pdf(report: Report) -> bytes:
    """Return the report as a PDF; the same report always gives the same bytes."""
    import typst

    from subbase.papers.pdf import font_paths

    with resources.as_file(resources.files("subbase.fleet") / "report.typ") as file:
        made = typst.compile(
            file,
            format="pdf",
            sys_inputs={"data": json.dumps(asdict(report), ensure_ascii=False)},
            font_paths=font_paths(),
            ignore_system_fonts=True,
            pdf_standards=["ua-1"],
            timestamp=0,
        )
    return bytes(made)
