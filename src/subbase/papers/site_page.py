"""Where the control goes, on paper: a chart of sun by month and hour, a page for the packet, and a sheet of its own."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Any

from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.drawing import INK, QUIET, Area, Drawing, Rect, Shape, Text
from subbase.papers.measure import ASCENT_EM, shortened
from subbase.papers.owner_page import foot_words
from subbase.papers.pdf import typeset_pdf
from subbase.papers.site_drawing import LARGE, MARGIN, SMALL, WIDTH, Numbered, numbered, plan_drawings, stacked
from subbase.papers.site_walls import wall_drawings
from subbase.papers.tables import Table
from subbase.siting.finding import MONTHS
from subbase.siting.verdict import Place, SiteVerdict, hours_words
from subbase.words import _, date_words, mark

TINTS = ("#fbeec2", "#efc65c", "#d0921f")
"""Of a month's hour: under 5, under 15, and more hours of sun."""
ROW, LABEL = 13.0, 26.0
LEAST_COLUMNS = 8
HEADS = {
    "place": mark("A GOOD PLACE: {place}"),
    "elsewhere": mark("NONE OF THE PLACES NAMED IS GOOD; ANOTHER ONE IS: {place}"),
    "none": mark("NO PLACE IS GOOD"),
    "question": mark("THE SUN IS NOT KNOWN YET; WITHOUT IT THE BEST IS: {place}"),
}


def head_words(verdict: SiteVerdict, *, capitals: bool = False) -> str:
    """Return the answer in one line: whether a place is good, and which one."""
    best = verdict.best
    line = _(HEADS[verdict.outcome if best is not None else "none"])
    return (line if capitals else line.capitalize()).format(place=best.name if best is not None else "")


def sun_chart(item: Numbered) -> Drawing | None:
    """Return the hours of sun on a place by month and hour; None when it never has any, or none is known."""
    sun = item.place.sun
    if sun is None or sun.hours == 0.0:
        return None
    hours = sun.possible_h
    lit = [hour for hour in range(24) if hours[:, hour].sum() > 0]
    first, last = max(0, min(lit) - 1), min(23, max(lit) + 1)
    while last - first + 1 < LEAST_COLUMNS:
        first, last = max(0, first - 1), min(23, last + 1)
    wide = min(30.0, (WIDTH - 2 * MARGIN - LABEL) / (last - first + 1))
    title = _("{number} {place}: sun up to {hours} a year").format(
        number=item.number, place=item.place.name, hours=hours_words(sun.hours)
    )
    head = shortened(title, WIDTH - 2 * MARGIN, LARGE, bold=True)
    shapes: list[Shape] = [Text(MARGIN, MARGIN + LARGE * ASCENT_EM, head, LARGE, bold=True)]
    top = MARGIN + LARGE * 2.6
    left = MARGIN + LABEL
    shapes += [
        Text(left + (hour - first) * wide, top - 4, str(hour), SMALL, "middle", fill=QUIET)
        for hour in range(first, last + 1)
        if wide >= 16 or hour % 2 == 0
    ]
    for month in range(12):
        y = top + month * ROW
        shapes.append(Text(MARGIN + LABEL - 4, y + ROW - 4, _(MONTHS[month])[:3], SMALL, "end"))
        for hour in range(first, last + 1):
            value = float(hours[month, hour])
            box = Area(left + (hour - first) * wide, y, left + (hour - first + 1) * wide, y + ROW)
            shapes.append(Rect(box, fill=_tint(value), stroke="#cccccc", width=0.5))
            if value >= 0.5 and wide >= 12:
                shapes.append(Text((box.left + box.right) / 2, y + ROW - 4, f"{value:.0f}", SMALL, "middle", fill=INK))
    y = top + 12 * ROW + 12
    words = _("Hours of direct sun in each month's hour, standard time, sky clear.")
    shapes.append(Text(MARGIN, y, words, SMALL, fill=QUIET))
    if sun.bright_hours is not None:
        y += 12
        let_through = _("Of these the weather lets through {hours} a year.").format(hours=hours_words(sun.bright_hours))
        shapes.append(Text(MARGIN, y, let_through, SMALL))
    about = _("{title}, on {count} days, by month and hour of standard time.").format(title=title, count=sun.days)
    return Drawing(title, about, WIDTH, y + MARGIN, tuple(shapes))


def _tint(hours: float) -> str:
    if hours == 0.0:
        return "#ffffff"
    return TINTS[0] if hours < 5.0 else TINTS[1] if hours < 15.0 else TINTS[2]


def site_drawings(verdict: SiteVerdict) -> tuple[Drawing, ...]:
    """Return every drawing of a verdict: plans, walls, charts of sun."""
    charts = (sun_chart(item) for item in numbered(verdict))
    return (*plan_drawings(verdict), *wall_drawings(verdict), *(chart for chart in charts if chart is not None))


def site_drawing(verdict: SiteVerdict) -> Drawing:
    """Return all drawings below one another, narrow enough for a phone."""
    name = verdict.house.name
    return stacked(
        _("{name}: where the control goes").format(name=name),
        _("Plan, walls and sun of every place."),
        site_drawings(verdict),
    )


def site_pages(verdict: SiteVerdict) -> tuple[dict[str, Any], ...]:
    """Return the pages of a packet that say where the control goes."""
    figures = [blocks.figure(drawing, flipped=False) for drawing in site_drawings(verdict)]
    return (blocks.page(list(_words(verdict))), blocks.page([blocks.heading(_("To scale")), *figures]))


def site_pdf(verdict: SiteVerdict, *, date: datetime.date) -> bytes:
    """Return the same as a sheet of its own, a tagged PDF; the same verdict and date give the same bytes."""
    what = _("Where the control goes")
    pages = list(site_pages(verdict))
    pages[0]["blocks"].insert(0, blocks.title(verdict.house.name, f"{what}, {date_words(date)}"))
    data = {
        "title": blocks.soft(verdict.house.name),
        "what": what,
        "date": [date.year, date.month, date.day],
        "footer": foot_words(date),
        "paper": "us-letter" if verdict.house.units == "us" else "a4",
        "pages": pages,
    }
    return typeset_pdf("packet.typ", data, date=date)


def _words(verdict: SiteVerdict) -> Iterator[Block]:
    yield blocks.heading(_("Where the control goes"))
    best = verdict.best
    kind = {"none": "stopped", "question": "question"}.get(verdict.outcome, "planned")
    yield blocks.verdict(kind, head_words(verdict), list(verdict.advice))
    if verdict.questions:
        yield blocks.subheading(_("To find out"), 3)
        yield blocks.bullets(verdict.questions)
    rows = tuple(
        (str(item.number), item.place.name, _("ruled out") if item.place.ruled_out else _("good"), _reasons(item.place))
        for item in numbered(verdict)
    )
    yield from blocks.table(
        Table(_("Places, best first"), (_("No."), _("Place"), _("Verdict"), _("Why")), rows, (1.4, 5, 3, 16))
    )
    if best is not None:
        yield blocks.subheading(_("How the cable gets to {place}").format(place=best.name), 3)
        yield blocks.bullets(best.fish, numbered=True)
    yield blocks.subheading(_("Cautions, and what the numbers rest on"), 3)
    yield blocks.bullets([*(f"{c.text} ({c.source})" for c in verdict.cautions), *verdict.taken])
    yield blocks.text(_("Sources: {sources}.").format(sources="; ".join(verdict.sources())), small=True)


def _reasons(place: Place) -> str:
    chosen = place.of("rules out") or (*place.of("against"), *place.of("for"))
    return "\n".join(finding.text for finding in chosen)
