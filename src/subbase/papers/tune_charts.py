"""Charts of a house's heat: the year by hour and day, a cold day, the balance point, cost against setback depth.

Each returns a ``Drawing`` for the packet and the page alike; ``chart_svg`` writes it to stand alone, light and dark. Lines
are told apart by weight and dash and named where they end, so that a copy in grey says the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np  # noqa: TID253 - only those who hold a study load this, and a study is arrays
from numpy.typing import NDArray  # noqa: TID253 - as above

from subbase.comfort.answers import Units
from subbase.comfort.equipment import heat_pump_line
from subbase.comfort.setback import Recovery, SetbackStudy
from subbase.comfort.study import BEST, CLOCK, EARLY, FLAT, Balance, ColdDay
from subbase.comfort.weather import DAYS_IN_MONTH
from subbase.papers.drawing import INK, PAPER, QUIET, Area, Drawing, Line, Rect, Shape, Text, svg
from subbase.words import _, mark

WIDTH, HEIGHT = 520.0, 290.0
NARROW = 364.0
"""Wide enough for a phone held upright, with letters of the same size."""
RULE = "#c9c5b8"
HEATS = ("#f6ead9", "#efcfa3", "#e3a866", "#cf7a36", "#a94f1d", "#74300f")
COOLS = ("#e3ebf1", "#b9cfe0", "#86aecb", "#4f86b0", "#2a6090", "#173f66")
GROUND = "#f7f6f1"
DARK = {
    INK: "#f0eee8", QUIET: "#b5b1a6", PAPER: "#15171a", RULE: "#3d4147", GROUND: "#1d2024",
    HEATS[0]: "#2c2015", HEATS[1]: "#4a3016", HEATS[2]: "#7a4a1c", HEATS[3]: "#b06a2a", HEATS[4]: "#de9047", HEATS[5]: "#ffc07c",
    COOLS[0]: "#172129", COOLS[1]: "#1f3547", COOLS[2]: "#2c5373", COOLS[3]: "#3f7ba8", COOLS[4]: "#6aa8d6", COOLS[5]: "#a6d4f7",
}  # fmt: skip
"""Colour on paper -> colour in the dark; the page's style sheet holds the same."""
SCHEDULE_WORDS = {
    FLAT: mark("held day and night"), CLOCK: mark("set back by the clock"), EARLY: mark("set back, started early"),
    BEST: mark("cheapest found"),
}  # fmt: skip
RECOVERY_WORDS = {
    Recovery.AT_THE_HOUR: mark("back at the hour"), Recovery.EARLY: mark("started early"),
    Recovery.EARLY_COMPRESSOR_ONLY: mark("started early, strips held off"),
}  # fmt: skip
MONTHS = (
    mark("Jan"), mark("Feb"), mark("Mar"), mark("Apr"), mark("May"), mark("Jun"), mark("Jul"), mark("Aug"), mark("Sep"),
    mark("Oct"), mark("Nov"), mark("Dec"),
)  # fmt: skip
DAYS_A_COLUMN = 2


@dataclass(frozen=True, slots=True)
class _Frame:
    """A plot's room and its scales."""

    area: Area
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return the place of a pair of values."""
        a = self.area
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return a.left + across * (a.right - a.left), a.bottom - up * (a.bottom - a.top)

    def line(self, xs: Sequence[float], ys: Sequence[float], **look: str | float) -> Line:
        """Return a line through values."""
        points = tuple(self.at(float(x), float(y)) for x, y in zip(xs, ys, strict=True))
        return Line(points, **look)  # type: ignore[arg-type]


def year_chart(net_w: NDArray[np.float32], control: str, width: float = WIDTH) -> Drawing:
    """Return the year as a field of hours and days; ``net_w`` (8760,) is heat given, cooling below 0."""
    in_column = DAYS_A_COLUMN if width >= WIDTH else 2 * DAYS_A_COLUMN
    columns = 364 // in_column
    field = net_w[: 364 * 24].astype(np.float64).reshape(columns, in_column, 24).mean(axis=1)
    most_heat, most_cool = _most(field), _most(-field)
    frame = _Frame(Area(34.0, 26.0, width - 8.0, 228.0), (0.0, float(columns)), (24.0, 0.0))
    shapes: list[Shape] = [Rect(frame.area, fill=GROUND, stroke="none")]
    for column in range(columns):
        shades = [_shade(value, most_heat, most_cool) for value in field[column]]
        begin = 0
        for hour in range(1, 25):
            if hour == 24 or shades[hour] != shades[begin]:
                if shades[begin]:
                    left, top = frame.at(column, begin)
                    right, bottom = frame.at(column + 1.0, hour)
                    # A hair over the next one, or light shines between.
                    shapes.append(Rect(Area(left, top, right + 0.3, bottom + 0.3), fill=shades[begin], stroke="none"))
                begin = hour
    day = 0
    for month, days in enumerate(DAYS_IN_MONTH):
        x, _y = frame.at((day + days / 2) / in_column, 0.0)
        shapes.append(Text(x, frame.area.bottom + 13.0, _(MONTHS[month]), 8.5, "middle", fill=QUIET))
        if month:
            left, _y = frame.at(day / in_column, 0.0)
            shapes.append(Line(((left, frame.area.bottom), (left, frame.area.bottom + 4.0)), QUIET, 0.8))
        day += days
    for hour in (0, 6, 12, 18, 24):
        _x, y = frame.at(0.0, hour)
        shapes.append(Text(frame.area.left - 5.0, y + 3.0, f"{hour:02}", 8.5, "end", fill=QUIET))
    shapes.append(Text(frame.area.left, 15.0, _("Hour of the day, down; the year, across"), 9.0, fill=QUIET))
    shapes += _key(most_heat, most_cool, 0.5 * (width - 40.0))
    about = _(
        "A field of 24 hours by 364 days. The darker, the more heat or cold the house took; most heat in an hour "
        "{heat:.1f} kW, most cold {cool:.1f} kW."
    ).format(heat=most_heat / 1e3, cool=most_cool / 1e3)
    return Drawing(_("The year of {control}").format(control=control), about, width, HEIGHT, tuple(shapes))


def cold_day_chart(day: ColdDay, units: Units, control: str, width: float = WIDTH) -> Drawing:
    """Return a typical cold day: indoors under each schedule, outdoors below."""
    names = [name for name in (FLAT, CLOCK, EARLY, BEST) if name in day.air_c]
    inside = np.concatenate([_degrees(day.air_c[name], units) for name in names])
    low, high = math.floor(inside.min() - 0.3), math.ceil(inside.max() + 0.3)
    top = _Frame(Area(40.0, 24.0, width - 130.0, 196.0), (0.0, 24.0), (low, high))
    out = _degrees(day.outdoor_c, units)
    under = _Frame(
        Area(40.0, 214.0, width - 130.0, 262.0), (0.0, 24.0), (math.floor(out.min()) - 1.0, math.ceil(out.max()) + 1.0)
    )
    shapes: list[Shape] = [
        *_grid(top, _ticks(low, high, 5), (), units),
        *_grid(under, _ticks(*under.y, 2), range(0, 25, 6), units),
    ]
    looks = {
        FLAT: {"stroke": QUIET, "width": 1.2, "dash": "1 3"}, CLOCK: {"stroke": INK, "width": 1.2, "dash": "6 3"},
        EARLY: {"stroke": COOLS[4], "width": 1.4, "dash": "8 2 2 2"}, BEST: {"stroke": HEATS[4], "width": 2.4},
    }  # fmt: skip
    ends: list[tuple[float, str, str]] = []
    for name in names:
        values = _degrees(day.air_c[name], units)
        shapes.append(top.line(list(day.hours), list(values), **looks[name]))  # type: ignore[arg-type]
        ends.append((top.at(24.0, float(values[-36:].mean()))[1], _(SCHEDULE_WORDS[name]), str(looks[name]["stroke"])))
    shapes += _named(ends, top.area.right + 6.0)
    shapes.append(under.line(list(range(25)), list(out), stroke=INK, width=1.2))
    shapes.append(Text(under.area.right + 6.0, under.at(24.0, float(out[-1]))[1] + 3.0, _("outdoors"), 8.5))
    unit = "°F" if units == "us" else "°C"
    shapes.append(Text(top.area.left, 14.0, _("Indoors, {unit}").format(unit=unit), 9.0, fill=QUIET))
    month, date = _date(day.day)
    about = _(
        "Indoor temperature of a cold weekday, {date} {month}, under each schedule, and outdoors below it."
    ).format(date=date, month=_(MONTHS[month]))
    return Drawing(_("A cold day of {control}").format(control=control), about, width, HEIGHT, tuple(shapes))


def balance_chart(balance: Balance, units: Units, control: str, width: float = WIDTH) -> Drawing:
    """Return the heat pump's heat and the house's loss against outdoor temperature."""
    rating, low_c, high_c = balance.rating, -20.0, 18.0
    out_c = np.linspace(low_c, high_c, 153)
    heat_kw = heat_pump_line(rating.heat_17f_w, rating.heat_35f_w, rating.heat_47f_w, out_c) / 1e3
    loads = [
        np.maximum([line.load_w(float(c)) for c in out_c], 0.0) / 1e3
        for line in (balance.load_low, balance.load, balance.load_high)
    ]
    most = math.ceil(max(float(heat_kw.max()), float(loads[2].max())) * 1.05)
    factor, unit = (3.412, "kBtu/h") if units == "us" else (1.0, "kW")
    x = _degrees(out_c, units)
    frame = _Frame(
        Area(44.0, 26.0, width - (104.0 if width >= WIDTH else 74.0), 244.0),
        (float(x[0]), float(x[-1])),
        (0.0, most * factor),
    )
    shapes: list[Shape] = list(_grid(frame, _ticks(0.0, most * factor, 5), _ticks(float(x[0]), float(x[-1]), 8), None))
    band = [frame.at(float(a), float(b) * factor) for a, b in zip(x, loads[2], strict=True)]
    band += [frame.at(float(a), float(b) * factor) for a, b in zip(x[::-1], loads[0][::-1], strict=True)]
    shapes.append(Line(tuple(band), "none", 0.0, fill=HEATS[0]))
    shapes.append(frame.line(list(x), list(loads[1] * factor), stroke=HEATS[4], width=2.2))
    # The rating steps at 45 °F; a jump is no line.
    step = int(np.searchsorted(out_c, (45 - 32) / 1.8))
    shapes += [
        frame.line(list(x[part]), list(heat_kw[part] * factor), stroke=INK, width=1.6)
        for part in (slice(0, step), slice(step, None))
    ]
    names = [
        (frame.at(float(x[-1]), float(heat_kw[-1]) * factor)[1], _("heat pump"), INK),
        (frame.at(0, float(loads[1][-1]) * factor)[1], _("the house"), HEATS[4]),
    ]
    shapes += _named(names, frame.area.right + 6.0)
    for at_c, words, row in (
        (balance.thermal_c, _("falls short below {at}"), 0),
        (balance.economic_c, _("dearer than the burner below {at}"), 1),
    ):
        if at_c is not None and low_c < at_c < high_c:
            shown = float(_degrees(np.array([at_c]), units)[0])
            place, _y = frame.at(shown, 0.0)
            shapes.append(Line(((place, frame.area.top), (place, frame.area.bottom)), QUIET, 1.0, dash="3 3"))
            words_at = words.format(at=_temperature(at_c, units))
            shapes.append(_beside(place, frame.area.top + 12.0 + 13.0 * row, words_at, frame.area))
    shapes.append(Text(frame.area.left, 15.0, _("Heat, {unit}").format(unit=unit), 9.0, fill=QUIET))
    shapes.append(
        Text(
            frame.area.right,
            frame.area.bottom + 27.0,
            _("Outdoors, {unit}; the band is the doubt about the house").format(unit="°F" if units == "us" else "°C"),
            9.0,
            "end",
            fill=QUIET,
        )
    )
    about = _("The heat pump's heat rises with outdoor temperature, the house's loss falls; they meet at {at}.").format(
        at=_temperature(balance.thermal_c, units)
    )
    return Drawing(_("Balance point of {control}").format(control=control), about, width, HEIGHT, tuple(shapes))


def setback_chart(found: SetbackStudy, units: Units, control: str, width: float = WIDTH) -> Drawing:
    """Return a year's cost against the depth of the night's setback, for every way of coming back."""
    scale = 1.8 if units == "us" else 1.0
    depths = found.depths_k * scale
    costs = np.concatenate([curve.cost for curve in found.curves])
    span = max(float(costs.max() - costs.min()), 0.02 * float(costs.max()))
    low, high = float(costs.min()) - 0.08 * span, float(costs.max()) + 0.08 * span
    frame = _Frame(Area(48.0, 26.0, width - 140.0, 244.0), (0.0, float(depths[-1])), (low, high))
    shapes: list[Shape] = list(_grid(frame, _ticks(low, high, 5), _ticks(0.0, float(depths[-1]), 6), None))
    y = frame.at(0.0, float(found.curves[0].cost[0]))[1]
    shapes.append(Line(((frame.area.left, y), (frame.area.right, y)), QUIET, 1.0, dash="1 3"))
    looks = {
        Recovery.AT_THE_HOUR: {"stroke": INK, "width": 1.4, "dash": "6 3"},
        Recovery.EARLY: {"stroke": COOLS[4], "width": 1.6, "dash": "8 2 2 2"},
        Recovery.EARLY_COMPRESSOR_ONLY: {"stroke": HEATS[4], "width": 2.4},
    }
    ends = [(y, _("no setback"), QUIET)]
    for curve in found.curves:
        look = looks[curve.recovery]
        shapes.append(frame.line(list(depths), list(curve.cost), **look))  # type: ignore[arg-type]
        ends.append((frame.at(0.0, float(curve.cost[-1]))[1], _(RECOVERY_WORDS[curve.recovery]), str(look["stroke"])))
    shapes += _named(ends, frame.area.right + 6.0)
    shapes.append(Text(frame.area.left, 15.0, _("Heating and cooling, a year"), 9.0, fill=QUIET))
    shapes.append(
        Text(
            frame.area.right,
            frame.area.bottom + 27.0,
            _("Depth of the night's setback, {unit}").format(unit="°F" if units == "us" else "K"),
            9.0,
            "end",
            fill=QUIET,
        )
    )
    way, depth_k = found.advice
    about = _("A year's cost against setback depth. Cheapest without cold mornings: {depth:.0f} {unit}, {way}.").format(
        depth=depth_k * scale, unit="°F" if units == "us" else "K", way=_(RECOVERY_WORDS[way])
    )
    return Drawing(_("What a setback does for {control}").format(control=control), about, width, HEIGHT, tuple(shapes))


def chart_svg(drawing: Drawing) -> str:
    """Return a chart that stands alone: it follows the reader's light or dark by a style sheet of its own."""
    rules = "".join(
        f'[fill="{light}"]{{fill:{dark}}}[stroke="{light}"]{{stroke:{dark}}}' for light, dark in DARK.items()
    )
    style = f"<style>@media (prefers-color-scheme: dark){{{rules}}}</style>"
    return svg(drawing).replace("</desc>", f"</desc>{style}", 1)


def _temperature(celsius: float, units: Units) -> str:
    if math.isinf(celsius):
        return _("any temperature") if celsius > 0 else _("no temperature")
    return f"{celsius * 1.8 + 32:.0f} °F" if units == "us" else f"{celsius:.0f} °C"


def _degrees(celsius: NDArray[np.float64], units: Units) -> NDArray[np.float64]:
    return np.asarray(celsius * 1.8 + 32.0 if units == "us" else celsius, dtype=np.float64)


def _most(field: NDArray[np.float64]) -> float:
    running = field[field > 50.0]
    return float(np.quantile(running, 0.98)) if len(running) else 0.0


def _shade(value_w: float, most_heat: float, most_cool: float) -> str:
    most, shades = (most_heat, HEATS) if value_w > 0.0 else (most_cool, COOLS)
    part = abs(value_w) / most if most else 0.0
    return shades[min(int(part * len(shades)), len(shades) - 1)] if part > 0.02 else ""


def _key(most_heat: float, most_cool: float, apart: float) -> Iterator[Shape]:
    left = 34.0
    for shades, most, words in (
        (HEATS, most_heat, _("heat, up to {kw:.1f} kW")),
        (COOLS, most_cool, _("cold, up to {kw:.1f} kW")),
    ):
        if most <= 0.0:
            continue
        for k, shade in enumerate(shades):
            yield Rect(Area(left + 14.0 * k, 262.0, left + 14.0 * k + 14.0, 273.0), fill=shade, stroke="none")
        yield Text(left + 14.0 * len(shades) + 6.0, 271.0, words.format(kw=most / 1e3), 9.0)
        left += apart


def _grid(frame: _Frame, ys: Sequence[float], xs: Sequence[float], hours: Units | None) -> Iterator[Shape]:
    """Yield rules and their numbers; ``hours`` writes the bottom as a clock."""
    a = frame.area
    for value in ys:
        _x, y = frame.at(frame.x[0], value)
        yield Line(((a.left, y), (a.right, y)), RULE, 0.7)
        yield Text(a.left - 5.0, y + 3.0, f"{value:,.0f}", 8.5, "end", fill=QUIET)
    for value in xs:
        x, _y = frame.at(value, frame.y[0])
        yield Line(((x, a.bottom), (x, a.bottom + 4.0)), QUIET, 0.8)
        words = f"{value:02.0f}:00" if hours is not None else f"{value:g}"
        yield Text(x, a.bottom + 14.0, words, 8.5, "middle", fill=QUIET)
    yield Line(((a.left, a.bottom), (a.right, a.bottom)), INK, 1.2)


def _named(ends: Sequence[tuple[float, str, str]], x: float) -> Iterator[Text]:
    """Yield names of lines beside where they end, moved apart so that none lies on another."""
    last = -math.inf
    for y, words, colour in sorted(ends):
        at = max(y, last + 12.0)
        last = at
        # A light tone reads badly as a letter.
        yield Text(x, at + 3.0, words, 8.5, fill=colour)


def _beside(place: float, y: float, words: str, area: Area) -> Text:
    """Return bold words right or left of an upright line, whichever side has room; over it where neither has."""
    long = Text(0.0, y, words, 9.0, bold=True).area().right
    if place + 5.0 + long <= area.right:
        return Text(place + 5.0, y, words, 9.0, bold=True)
    if place - 5.0 - long >= area.left:
        return Text(place - 5.0, y, words, 9.0, "end", bold=True)
    return Text(max(area.right - long, area.left), y, words, 9.0, bold=True)


def _ticks(low: float, high: float, about: int) -> list[float]:
    """Return round numbers within a range, about so many."""
    raw = (high - low) / about
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * k for k in (1, 2, 5, 10) if size * k >= raw)
    return [k * step for k in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _date(day: int) -> tuple[int, int]:
    for month, days in enumerate(DAYS_IN_MONTH):
        if day < days:
            return month, day + 1
        day -= days
    return 11, 31
