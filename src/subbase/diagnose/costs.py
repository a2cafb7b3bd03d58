"""What can be read in a house, and what each reading costs: minutes, walks, risk; its caution, its season, its licence."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from itertools import chain
from types import MappingProxyType

from subbase.circuit import Coil, Contact, Impedance, Source, Switch
from subbase.diagnose.places import (
    conductors_of,
    node_words,
    part_name,
    place_of_node,
    site_of,
    site_of_node,
)
from subbase.diagnose.predictions import Predictions, volts_between
from subbase.diagnose.probes import Probe, SightKind
from subbase.diagnose.sights import air_calls, has_display, lamp_of
from subbase.wiring import OFF, House, State, need_of
from subbase.words import _, current_language, mark

LIVE_CAUTION = mark("Live 24 V: hold the probes so that they touch one screw each; a slip shorts the supply.")
PANEL_CAUTION = mark("Line voltage stands behind the panel: only the probes go in, and never bare fingers or metal.")
OUTDOOR_CAUTION = mark(
    "Pull the outdoor disconnect and prove it dead before its panel is opened; the 24 V can then be read with no line "
    "voltage beside it."
)
DEAD_CAUTION = mark(
    "Lock the supplies out and prove them dead with a meter that was tried on a live point before and after; ohms read on a "
    "live circuit are wrong and can harm the meter."
)
COLD_CAUTION = mark(
    "Do not run a compressor for cooling below about 60 °F outdoors only to test it (common practice, no source)."
)


@dataclass(frozen=True, slots=True)
class Costs:
    """Minutes and limits of ``costs.toml``."""

    minutes: Mapping[str, float]
    risk_minutes: Mapping[str, float]
    repair: Mapping[str, float]
    coolest_outdoors_c: float


@dataclass(frozen=True, slots=True)
class Situation:
    """Where the person is and what they may do."""

    stands: str = ""
    """Site; empty for the wall of the first control."""
    call: State = OFF
    """What is called at the moment."""
    open_panels: frozenset[str] = frozenset()
    outdoor_c: float | None = None
    """None when not known."""
    licences: frozenset[str] = frozenset()
    """Such as 'line voltage'."""

    def after(self, offer: Offer) -> Situation:
        """Return where a person is once a test is made."""
        panels = self.open_panels | ({offer.site} if offer.panel else frozenset())
        call = self.call if offer.probe.kind == "ohms" else offer.probe.state
        return replace(self, stands=offer.site, call=call, open_panels=panels)


@dataclass(frozen=True, slots=True)
class Offer:
    """One test that can be made here."""

    probe: Probe
    words: str
    site: str
    panel: bool
    """Whether a panel must be off."""
    outdoors: bool
    caution: str = ""
    cools: bool = False
    """Whether it runs a compressor for cooling."""
    licence: str = ""


@cache
def costs_table() -> Costs:
    """Return the costs that come with the package."""
    data = tomllib.loads((resources.files("subbase.diagnose") / "costs.toml").read_text("utf-8"))
    return Costs(
        MappingProxyType(data["minutes"]),
        MappingProxyType(data["risk_minutes"]),
        MappingProxyType(data["repair"]),
        data["limits"]["coolest_outdoors_c"],
    )


def first_site(house: House) -> str:
    """Return the wall of the first control."""
    return next(iter(house.survey.controls))


def cost_minutes(offer: Offer, house: House, situation: Situation) -> float:
    """Return what a test costs from where a person stands [min], what they would rather not do included."""
    costs = costs_table()
    stands = situation.stands or first_site(house)
    total, shared = costs.minutes["each"] + costs.minutes[offer.probe.kind], costs.minutes["shared"]
    if offer.probe.kind == "ohms":
        total += shared * costs.minutes["lock_out"]
    elif offer.probe.state != situation.call:
        caller = next((name for name, _ in (offer.probe.state.calls or situation.call.calls)), stands)
        total += costs.minutes["call"] + shared * _walk(stands, caller, house, costs)
        stands = caller
    total += shared * _walk(stands, offer.site, house, costs)
    if offer.panel and offer.site not in situation.open_panels:
        total += shared * costs.minutes["panel_off"]
    if offer.probe.kind in ("volts", "amps"):
        total += costs.risk_minutes["live_24_v"]
        if offer.panel:
            total += costs.risk_minutes["outdoor_panel" if offer.outdoors else "live_panel_off"]
    return total


def _walk(a: str, b: str, house: House, costs: Costs) -> float:
    if a == b:
        return 0.0
    outdoors = any(_is_outdoors(house, site) for site in (a, b))
    return costs.minutes["walk_outdoors" if outdoors else "walk"]


def _is_outdoors(house: House, site: str) -> bool:
    return site in house.survey.equipment and house.kind(site).site == "outdoor"


def held_back(offer: Offer, situation: Situation) -> str:
    """Return why a test is not to be made today; empty when it may be."""
    if offer.licence and offer.licence not in situation.licences:
        return _("it needs a licence for {what}").format(what=_(offer.licence))
    if offer.cools and situation.outdoor_c is not None and situation.outdoor_c < costs_table().coolest_outdoors_c:
        return _("it is too cold outdoors to run a compressor for cooling")
    return ""


def offers(predictions: Predictions) -> tuple[Offer, ...]:
    """Return every test that can be made in a house, in a fixed order; worked out once."""
    key = ("offers", current_language())
    if key not in predictions.memory:
        house = predictions.house
        predictions.memory[key] = tuple(
            chain(_volts(predictions), _ohms(predictions), _amps(predictions), _sights(house, predictions.states))
        )
    found = predictions.memory[key]
    assert isinstance(found, tuple)
    return found


def state_words(house: House, state: State) -> str:
    """Return a call as people say it."""
    if not state.calls:
        return _("with nothing called")
    return _("with {calls} called").format(calls=state.words(name_controls=len(house.survey.controls) > 1))


def probe_words(house: House, probe: Probe) -> str:
    """Return a probe as people say it."""
    when = state_words(house, probe.state)
    match probe.kind:
        case "volts":
            a, b = (node_words(house, node) for node in probe.between)
            if probe.meter.input_ohm > 1e6:
                return _("volts from {one} to {other} {when}").format(one=a, other=b, when=when)
            meter = _(probe.meter.words)
            return _("volts from {one} to {other} {when}, {meter}").format(one=a, other=b, when=when, meter=meter)
        case "ohms":
            a, b = (node_words(house, node) for node in probe.between)
            return _("ohms from {one} to {other}, supplies locked out").format(one=a, other=b)
        case "amps":
            return _("amperes in {conductor} {when}").format(conductor=part_name(house, probe.through), when=when)
    name = part_name(house, probe.about) if "/" in probe.about else probe.about
    asked = {
        "display": _("the display of {name}: on or dark {when}"),
        "acts": _("whether {name} acts (click, hum, or a finger on it) {when}"),
        "runs": _("whether what {name} works runs {when}"),
        "air": _("the air that {name} gets: warm, cold, unchanged or still {when}"),
        "lamp": _("the fault lamp of {name}: steady, blinking or dark {when}"),
    }
    return asked[probe.sight or "acts"].format(name=name, when=when)


def pairs_of(predictions: Predictions) -> tuple[tuple[str, str], ...]:
    """Return the pairs of points between which volts mean something: at one place, and joined in the house as it should be."""
    found = dict.fromkeys(
        chain.from_iterable(_place_pairs(predictions.house, p) for p in predictions.house.survey.places())
    )
    blocks = [predictions.singles(state) for state in predictions.states]
    return tuple(
        (a, b)
        for a, b in found
        if any(volts_between(block, predictions.column(a), predictions.column(b))[1][0] for block in blocks)
    )


def _place_pairs(house: House, place: str) -> Iterator[tuple[str, str]]:
    nodes = [node for node in house.netlist.nodes() if " end at " not in node and place_of_node(node) == place]
    survey = house.survey
    landed = {end for b in house.netlist.branches if b.tag in conductors_of(house) for end in (b.tail, b.head)}
    landed |= {end for jumper in survey.jumpers if jumper.present is True for end in jumper.between}
    if place in survey.controls:
        nodes = [node for node in nodes if node in landed]
        references = [f"{place}.{t}" for t in ("C", "R", "Rc", "Rh") if f"{place}.{t}" in landed]
    elif place in survey.equipment:
        kind = house.kind(place)
        references = [f"{place}.{t}" for t in dict.fromkeys((kind.common, "C", kind.supply, "R")) if t]
    else:
        references = [f"{place}.common"]
    references = [reference for reference in references if reference in nodes] or [n for n in nodes if n in landed][:1]
    for reference in references:
        if reference in nodes:
            yield from (
                (node, reference) for node in nodes if node not in references[: references.index(reference) + 1]
            )
    for branch in house.netlist.branches:
        across = isinstance(branch, Contact | Switch | Source | Coil)
        across |= isinstance(branch, Impedance) and branch.fuse_a > 0.0
        own = place_of_node(branch.tail) == place == place_of_node(branch.head)
        if (
            across
            and own
            and {branch.tail, branch.head} <= set(nodes)
            and not set(references) & {branch.tail, branch.head}
        ):
            yield branch.head, branch.tail


def _volts(predictions: Predictions) -> Iterator[Offer]:
    house = predictions.house
    for pair in pairs_of(predictions):
        wall = next((place_of_node(n) for n in pair if place_of_node(n) in house.survey.controls), "")
        for state in predictions.states:
            if wall and state.calls and state.calls[0][0] != wall:
                continue
            probe = Probe("volts", state, pair)
            yield _at(house, probe, site_of_node(house.survey, pair[0]))


def _ohms(predictions: Predictions) -> Iterator[Offer]:
    house = predictions.house
    for pair in pairs_of(predictions):
        yield _at(house, Probe("ohms", OFF, pair), site_of_node(house.survey, pair[0]))


def _amps(predictions: Predictions) -> Iterator[Offer]:
    house = predictions.house
    for tag, places in conductors_of(house).items():
        if any(" end at " in end for end in (house.netlist.by_tag[tag].tail, house.netlist.by_tag[tag].head)):
            continue
        place = places[0] if places[0] not in house.survey.controls else places[1]
        for state in predictions.states[1:]:
            yield _at(house, Probe("amps", state, through=tag), site_of(house.survey, place))


def _at(house: House, probe: Probe, site: str) -> Offer:
    outdoors, at_wall = _is_outdoors(house, site), site in house.survey.controls
    cautions = [] if probe.kind != "ohms" else [DEAD_CAUTION]
    if probe.kind in ("volts", "amps"):
        cautions = [LIVE_CAUTION] if at_wall else [OUTDOOR_CAUTION if outdoors else PANEL_CAUTION]
    cools = any("cool" in call for _, calls in probe.state.calls for call in calls)
    if cools:
        cautions.append(COLD_CAUTION)
    return Offer(
        probe,
        probe_words(house, probe),
        site,
        not at_wall,
        outdoors,
        " ".join(_(caution) for caution in cautions),
        cools,
    )


def _sights(house: House, states: tuple[State, ...]) -> Iterator[Offer]:
    survey = house.survey
    for state in states:
        caller = next((name for name, _ in state.calls), "")
        for name in survey.controls:
            if has_display(house, name) and caller in ("", name):
                yield _seen(house, state, "display", name, name)
            if caller == name and air_calls(house, name)[1] and _moves_air(house, name):
                yield _seen(house, state, "air", name, name)
        need = need_of(survey, house.catalog, state)
        for tag, load in house.loads.items():
            if load.neutral or " input" in house.part_name(tag):
                continue  # a board's input makes no sound
            site = site_of(survey, tag.partition("/")[0])
            if tag in need.on | need.may or not state.calls:
                yield _seen(house, state, "acts", tag, site)
                if not _works_contacts(house, tag):
                    yield _seen(house, state, "runs", tag, site)
        for place in survey.equipment:
            concerned = not state.calls or any(tag.startswith(f"{place}/") for tag in need.on)
            if lamp_of(house, place) and concerned:
                yield _seen(house, state, "lamp", place, site_of(survey, place))


def _moves_air(house: House, control: str) -> bool:
    return bool(air_calls(house, control)[0])


def _works_contacts(house: House, tag: str) -> bool:
    return any(tag in contact.coils for contact in house.netlist.of(Contact))


def _seen(house: House, state: State, sight: SightKind, about: str, site: str) -> Offer:
    probe = Probe("seen", state, sight=sight, about=about)
    offer = _at(house, probe, site)
    # What is heard or felt needs no panel off; a board's lamp shows through its window.
    return replace(offer, panel=False)


__all__ = [
    "Costs",
    "Offer",
    "Situation",
    "cost_minutes",
    "costs_table",
    "first_site",
    "held_back",
    "offers",
    "pairs_of",
    "probe_words",
    "state_words",
]
