"""Where the control goes: every place judged with its reasons, the nearest place without sun, and what to do if none is good."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from subbase.names import named
from subbase.siting.air import air_findings
from subbase.siting.apertures import Aperture, Spot, apertures, spot_of, spot_on
from subbase.siting.finding import PRACTICE, SUN_SOURCE, Finding, Weight, clock, day_words, sources, told
from subbase.siting.fish import fish_path, paint_caution
from subbase.siting.radio_path import Grade, RadioVerdict, radio_verdict
from subbase.siting.reach import reach_findings, usual_height_m
from subbase.siting.sun_hours import Sky, SunHours, minutes_a_year, sky, sun_hours_of
from subbase.siting.sun_year import Floats, standard_offset_h, sun_year
from subbase.survey.rooms import Candidate, Door, Room, Site, Wall, Window
from subbase.survey.rooms_reading import SiteFile
from subbase.words import _, plural

SUN_OUT_H, SUN_OUT_DAYS = 25.0, 30
"""With more sun than this in a year a place is ruled out (judgement); less counts against it."""
SEARCH_M, CLEAR_M = 0.3, 0.025
"""How far apart places are tried when places are searched for, and along one wall for the nearest without sun."""
MOST_SPOTS = 4000
CLEAR_OF_OPENING_M = 0.15
RADIO_WEIGHTS: MappingProxyType[Grade, Weight] = MappingProxyType(
    {
        "carries": "for", "should carry": "note", "doubtful": "against", "weak": "against", "does not carry": "rules out",
    }
)  # fmt: skip
Outcome = Literal["place", "elsewhere", "none", "question"]
"""A named place is good (or, with none named, a place found); only a place found by trying; no place; the sun is not known."""


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One place on a wall, judged."""

    name: str
    room: str
    candidate: Candidate
    height_m: float
    findings: tuple[Finding, ...]
    sun: SunHours | None
    """None when the sun cannot be reckoned: see ``SiteVerdict.questions``."""
    shaded_along_m: float | None
    """The nearest place on the same wall, at the same height, that the sun never reaches; None if there is none."""
    radio: RadioVerdict | None
    fish: tuple[str, ...]
    searched: bool = False
    """Whether it was found by trying, not named in the file."""

    @property
    def ruled_out(self) -> bool:
        """Whether anything rules it out."""
        return any(f.weight == "rules out" for f in self.findings)

    def of(self, weight: str) -> tuple[Finding, ...]:
        """Return the findings of one weight."""
        return tuple(f for f in self.findings if f.weight == weight)

    def rank(self) -> tuple[int, int, float, int, str]:
        """Return what places are put in order by: ruled out, against, hours of sun, for, name."""
        hours = self.sun.hours if self.sun is not None else 0.0
        return len(self.of("rules out")), len(self.of("against")), hours, -len(self.of("for")), self.name


@dataclass(frozen=True, slots=True, eq=False)
class SiteVerdict:
    """All places of a house in order, best first, and what to do."""

    house: SiteFile
    outcome: Outcome
    places: tuple[Place, ...]
    searched: tuple[Place, ...]
    """The best place found by trying in each room, best first; only those that nothing rules out."""
    questions: tuple[str, ...]
    advice: tuple[str, ...]
    cautions: tuple[Finding, ...]
    sky: Sky | None
    """The sun over the plan that all this was reckoned with; None when it is not known."""
    taken: tuple[str, ...]
    """What was taken for granted in reckoning the sun."""

    def sources(self) -> tuple[str, ...]:
        """Return every source that a reason names, each once."""
        named = (f.source for p in (*self.places, *self.searched) for f in p.findings)
        return tuple(dict.fromkeys(part for source in named for part in source.split("; ")))

    @property
    def best(self) -> Place | None:
        """The best place, named or found; None when there is none that nothing rules out."""
        good = [p for p in (*self.places, *self.searched) if not p.ruled_out]
        return min(good, key=lambda p: (p.searched, p.rank())) if good else None


def judge_site(house: SiteFile, *, direct_w_m2: Floats | None = None, year: int = 2025) -> SiteVerdict:
    """Return the verdict on every place of a house.

    ``direct_w_m2`` is (8760,) direct normal irradiance of a weather year [W/m²]; without it every sky is clear.

    Raises
    ------
    ValueError
        When the weather does not hold 8760 hours.
    """
    over = _sky(house, direct_w_m2, year)
    site = house.site
    named = [_Asked(name, room_name, candidate, searched=False) for room_name, __, name, candidate in site.candidates()]
    tried = list(_tries(site))[: MOST_SPOTS - len(named)]
    places = _judged(house, [*named, *tried], over)
    given, found = places[: len(named)], places[len(named) :]
    best = [min((p for p in found if p.room == room), key=Place.rank, default=None) for room in site.rooms]
    searched = sorted((p for p in best if p is not None and not p.ruled_out), key=Place.rank)
    ranked = tuple(sorted(given, key=Place.rank))
    questions = tuple(_questions(house, over, ranked))
    outcome = _outcome(site, over, ranked, searched)
    paint = paint_caution(house.place.year_built)
    return SiteVerdict(
        house, outcome, ranked, tuple(searched), questions, tuple(_advice(house, outcome, ranked, searched)),
        (paint,) if paint else (), over, tuple(_taken(house, over)),
    )  # fmt: skip


def _outcome(site: Site, over: Sky | None, places: Sequence[Place], searched: Sequence[Place]) -> Outcome:
    named = any(not place.ruled_out for place in places)
    if not named and not searched:
        return "none"
    if over is None and any(room.windows for room in site.rooms.values()):
        return "question"
    return "place" if named or not places else "elsewhere"


@dataclass(frozen=True, slots=True)
class _Asked:
    name: str
    room: str
    candidate: Candidate
    searched: bool


def _sky(house: SiteFile, direct_w_m2: Floats | None, year: int) -> Sky | None:
    place, site = house.place, house.site
    if place.latitude_deg is None or place.longitude_deg is None or site.north is None:
        return None
    offset = site.utc_offset if site.utc_offset is not None else standard_offset_h(place.longitude_deg)
    return sky(sun_year(place.latitude_deg, place.longitude_deg, offset, year), site.north, direct_w_m2)


def _tries(site: Site) -> Iterator[_Asked]:
    height = usual_height_m(site.reach)
    for room_name, room in site.rooms.items():
        if room.height_m is not None and room.height_m < height:
            continue
        for wall in room.walls_found():
            if room.behind(wall.name) == "outside":
                continue
            for along in along_wall(room, wall, SEARCH_M):
                candidate = Candidate(wall=wall.name, along_m=along, height_m=height)
                yield _Asked(
                    _("{room}, {wall} wall").format(room=room_name, wall=named(wall.name)),
                    room_name,
                    candidate,
                    searched=True,
                )


def along_wall(room: Room, wall: Wall, step_m: float) -> list[float]:
    """Return places along a wall, clear of its ends and of doors and windows."""
    count = int(wall.length_m / step_m)
    shift = (wall.length_m - count * step_m) / 2
    parts: tuple[Window | Door, ...] = (*room.windows, *room.doors)
    openings = [(p.along_m, p.along_m + p.width_m) for p in parts if p.wall == wall.name]
    places = (shift + n * step_m for n in range(count + 1))
    gap = CLEAR_OF_OPENING_M
    return [
        u for u in places
        if gap <= u <= wall.length_m - gap and not any(low - gap < u < high + gap for low, high in openings)
    ]  # fmt: skip


def _judged(house: SiteFile, asked: Sequence[_Asked], over: Sky | None) -> list[Place]:
    site = house.site
    heights = [usual_height_m(site.reach) if a.candidate.height_m is None else a.candidate.height_m for a in asked]
    spots = [spot_of(site.rooms[a.room], a.candidate, h) for a, h in zip(asked, heights, strict=True)]
    seen = [apertures(site.rooms[a.room], spot) for a, spot in zip(asked, spots, strict=True)]
    suns: Sequence[SunHours | None] = sun_hours_of(seen, over) if over is not None else [None] * len(asked)
    shaded = _nearest_shaded(site, asked, heights, suns, over)
    return [_place(house, a, spot, sun, shade) for a, spot, sun, shade in zip(asked, spots, suns, shaded, strict=True)]


def _nearest_shaded(
    site: Site, asked: Sequence[_Asked], heights: Sequence[float], suns: Sequence[SunHours | None], over: Sky | None
) -> list[float | None]:
    """Return, for each named place that has sun, the nearest along its wall that never has any."""
    found: list[float | None] = [None] * len(asked)
    tries: list[tuple[int, float]] = []
    seen: list[tuple[Aperture, ...]] = []
    for index, (item, sun) in enumerate(zip(asked, suns, strict=True)):
        if item.searched or sun is None:
            continue
        room = site.rooms[item.room]
        wall = room.wall(item.candidate.wall)
        if sun.hours == 0.0:
            found[index] = item.candidate.along_m
            continue
        for along in along_wall(room, wall, CLEAR_M):
            tries.append((index, along))
            seen.append(apertures(room, spot_on(wall, along, heights[index])))
    if over is not None and tries:
        for (index, along), minutes in zip(tries, minutes_a_year(seen, over), strict=True):
            at = asked[index].candidate.along_m
            before = found[index]
            if minutes == 0 and (before is None or abs(along - at) < abs(before - at)):
                found[index] = along
    return found


def _place(house: SiteFile, asked: _Asked, spot: Spot, sun: SunHours | None, shaded_m: float | None) -> Place:
    site, units, height_m = house.site, house.units, spot.height_m
    room, candidate = site.rooms[asked.room], asked.candidate
    radio = radio_verdict(site, room, spot, candidate.rssi_dbm)
    findings = [
        *_sun_findings(sun),
        *air_findings(site, asked.room, candidate, spot, units),
        *reach_findings(room, candidate, height_m, site.reach, units),
        *_radio_findings(radio),
    ]
    fish = fish_path(site, room, candidate, spot, units)
    return Place(
        asked.name, asked.room, candidate, height_m, tuple(findings), sun, shaded_m, radio, fish, asked.searched
    )


def _sun_findings(sun: SunHours | None) -> Iterator[Finding]:
    if sun is None:
        return
    if sun.hours == 0.0:
        yield Finding("for", "sun", _("The sun never reaches it."), sources(*SUN_SOURCE))
        return
    worst = sun.worst[0]
    if sun.bright_hours is None:
        said = plural(
            "Direct sun up to {hours} a year, on {days} day; most on {day} ({minutes} min between {start} and {end}).",
            "Direct sun up to {hours} a year, on {days} days; most on {day} ({minutes} min between {start} and {end}).",
            sun.days,
        )
    else:
        said = plural(
            "Direct sun up to {hours} a year, of which the weather lets through {bright}, on {days} day; most on {day} ({minutes} min between {start} and {end}).",
            "Direct sun up to {hours} a year, of which the weather lets through {bright}, on {days} days; most on {day} ({minutes} min between {start} and {end}).",
            sun.days,
        )
    text = said.format(
        hours=hours_words(sun.hours),
        bright=hours_words(sun.bright_hours or 0.0),
        days=sun.days,
        day=day_words(worst.date),
        minutes=worst.minutes,
        start=clock(worst.first_min),
        end=clock(worst.last_min),
    )
    heavy = sun.hours > SUN_OUT_H or sun.days > SUN_OUT_DAYS
    yield Finding(
        "rules out" if heavy else "against",
        "sun",
        text,
        f"{sources(*SUN_SOURCE)}; {_('hours are computed, the limit is a judgement')}",
    )


def hours_words(hours: float) -> str:
    """Return hours a year in words; some sun is never told as none."""
    return f"{hours:.0f} h" if hours >= 1.0 else _("less than 1 h") if hours > 0.0 else _("none")


def _radio_findings(radio: RadioVerdict | None) -> Iterator[Finding]:
    if radio is None:
        text = _("Where the radio stands is not known: read the signal there with a phone.")
        yield Finding("note", "radio", text, _(PRACTICE))
        return
    planned = _("-70 dBm to plan for is common practice, no source")
    models = _("ITU-R P.1238-8 (N 28); P.525 with walls by P.2040-1 and P.2040-3")
    source = f"{_('a reading there') if radio.measured else models}; {planned}"
    yield Finding(RADIO_WEIGHTS[radio.grade], "radio", radio.words(), source)


def _questions(house: SiteFile, over: Sky | None, places: Sequence[Place]) -> Iterator[str]:
    if over is None:
        if house.place.latitude_deg is None or house.place.longitude_deg is None:
            yield _("Where is the house? Write place.latitude_deg and longitude_deg, to a degree; without them no sun.")
        if house.site.north is None:
            yield _(
                "Which way is north? Hold a compass along the plan's up direction and write site.north (true north)."
            )
    for name, room in house.site.rooms.items():
        if room.outside is None and not room.walls:
            yield _("Which walls of {name} have the open behind them? Write them under 'outside'.").format(name=name)
        if any(door.swing == "none" for door in room.doors):
            yield _(
                "{name} has an opening without a door: sun that comes through it is not reckoned; look on a low sun."
            ).format(name=name)
    if house.site.reach == "unknown":
        yield _("Must a person who sits reach the control? 48 in high serves both.")
    if any(p.radio is not None and p.radio.grade in ("should carry", "doubtful") for p in places):
        yield _(
            "Read the 2.4 GHz signal at the chosen place with a phone and write it as rssi_dbm: a reading beats the reckoning."
        )


def _taken(house: SiteFile, over: Sky | None) -> Iterator[str]:
    if over is None:
        return
    yield _(
        "Sun of {year}, times in standard time UTC{utc_offset_h:+g}; blinds open, glass clean, no furniture in the way."
    ).format(year=over.sun.year, utc_offset_h=over.sun.utc_offset_h)
    windows = [w for room in house.site.rooms.values() for w in room.windows]
    for said, missing in (
        (
            _(
                "No depth of the wall is given for {count} of {all} windows: taken as none, so the sun is not told too low."
            ),
            [w for w in windows if w.depth_m is None],
        ),
        (
            _("No overhang is given for {count} of {all} windows: taken as none, so the sun is not told too low."),
            [w for w in windows if w.overhang_m is None],
        ),
        (
            _("No skyline is given for {count} of {all} windows: taken as none, so the sun is not told too low."),
            [w for w in windows if w.skyline_deg is None],
        ),
    ):
        if missing:
            yield said.format(count=len(missing), all=len(windows))


def _advice(house: SiteFile, outcome: Outcome, places: Sequence[Place], searched: Sequence[Place]) -> Iterator[str]:
    for place in places:
        sun = place.sun
        if sun is not None and sun.hours > 0.0:
            if place.shaded_along_m is None:
                yield _("{place}: at this height no place on its wall is without sun.").format(place=place.name)
                continue
            shift = place.shaded_along_m - place.candidate.along_m
            said = (
                _("{place}: the nearest place on its wall without sun is {shift} to the right.")
                if shift > 0
                else _("{place}: the nearest place on its wall without sun is {shift} to the left.")
            )
            yield said.format(place=place.name, shift=told(abs(shift), house.units))
    sensor = _(
        "Or leave the control where it can be reached, and take the temperature from a remote sensor in a lived-in room, on an inside wall or a shelf away from sun and heat."
    )
    if outcome in ("elsewhere", "question") and searched and all(p.ruled_out for p in places):
        best = searched[0]
        along = told(best.candidate.along_m, house.units)
        yield _(
            "None of the places named is good. Found by trying: {best}, {along} from the wall's left end as you face it."
        ).format(best=best.name, along=along)
        yield sensor
    elif outcome == "none":
        yield f"{_('No wall of these rooms is good: survey another room.')} {sensor}"
    yield from _radio_advice(house.site, places)


def _radio_advice(site: Site, places: Sequence[Place]) -> Iterator[str]:
    radios = [p.radio for p in places if p.radio is not None]
    if radios and all(r.grade in ("weak", "doubtful", "does not carry") for r in radios):
        short = round(min(-r.margin_db.low for r in radios))
        yield (
            _(
                "The radio wants up to {short} dB more: move it or add a second one halfway (half the way gains about 8 dB in a home), or put it on the same floor; each floor costs 4 to 10 dB."
            ).format(short=short)
        )
    if site.access_point is None and not radios:
        yield _("Read the 2.4 GHz signal at each place with a phone before you mount: -70 dBm or better.")
