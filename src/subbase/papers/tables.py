"""A plan as tables: plain rows of text that the packet, the terminal and a page can all show the same way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from subbase.catalog import FusePart, LoadPart, Part, ResistorPart, TransformerPart
from subbase.papers.map_model import Changed, runs_of
from subbase.plan import ControlPlan, ExpectedReading, Landing, Plan, Route
from subbase.plan.proof import CLASS_2_MOST_V, CLASS_2_MOST_VA, LoadProof, Proof, StateProof
from subbase.survey import NOWHERE, Survey, Unknown, split_terminal
from subbase.wiring.build import HIGH, LOW

Rows = tuple[tuple[str, ...], ...]
STATES_ABREAST = 6
"""Calls side by side in one table of readings."""
NOTHING_V = 1.0
"""Below this a reading is told as nothing."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head; ``weights`` share out the width."""

    title: str
    head: tuple[str, ...]
    rows: Rows
    weights: tuple[float, ...]
    note: str = ""


def terminal_words(landing: str) -> str:
    """Return ``hall.W1`` as 'hall W1', and what is no terminal as it is."""
    return landing if landing in NOWHERE else " ".join(split_terminal(landing)).rstrip()


def pair_words(between: tuple[str, str]) -> str:
    """Return two terminals, the place said once when they share it."""
    (place, a), (other, b) = map(split_terminal, between)
    return f"{place} {a} to {b}" if place == other else f"{place} {a} to {other} {b}"


def conductor_words(landing: Landing) -> str:
    """Return a conductor by cable and name, with its colours where the name does not say them."""
    colours = [colour for colour in dict.fromkeys(landing.colours) if colour and colour not in landing.conductor]
    return f"{landing.cable}, {landing.conductor}" + (f" ({' / '.join(colours)})" if colours else "")


def changed_conductors(plan: Plan) -> Changed:
    """Return the conductors that the plan lands or moves."""
    return frozenset(
        (landing.cable, landing.conductor)
        for item in plan.controls
        for landing in item.chosen.landings
        if landing.moved
    )


def marks(plan: Plan) -> Mapping[tuple[str, str], int]:
    """Return conductor -> the number it bears on the wiring map of the house as left."""
    if plan.left is None:
        return {}
    runs = runs_of(plan.left, changed_conductors(plan))
    return {(run.cable, run.conductor): run.number for run in runs if run.number}


# --- landings --------------------------------------------------------------------------------------------------------


def landing_table(plan: Plan, item: ControlPlan) -> Table:
    """Return where each conductor of a control's cable goes, as found and as left, at both ends."""
    numbers = marks(plan)
    rows = []
    for x in item.chosen.landings:
        number = numbers.get((x.cable, x.conductor), 0)
        rows.append(
            (
                str(number) if number else "",
                conductor_words(x),
                x.carries,
                _found_words(plan.survey, x, x.wall_found, at_wall=True),
                terminal_words(x.wall_left),
                _found_words(plan.survey, x, x.far_found, at_wall=False),
                terminal_words(x.far_left),
                change_words(x),
            )
        )
    head = ("No.", "Conductor", "Carries", "Wall, found", "Wall, left", "Equipment, found", "Equipment, left", "Do")
    note = "Known by both ends, never by colour. Numbers are those of the wiring map."
    weights = (0.5, 1.7, 1.4, 1.2, 1.2, 1.4, 1.4, 1.7)
    return Table(f"Where each conductor of {item.control} goes", head, tuple(rows), weights, note)


def _found_words(survey: Survey, landing: Landing, found: str, *, at_wall: bool) -> str:
    """Return a landing as found; 'not known' where the survey does not know it, whatever the plan was proved for."""
    cable = survey.cables.get(landing.cable)
    conductor = cable.conductors.get(landing.conductor) if cable else None
    if cable is None or conductor is None:
        return terminal_words(found)
    at_first = (cable.to == landing.far_place) == at_wall
    value = conductor.from_ if at_first else conductor.to
    return "not known" if isinstance(value, Unknown) else terminal_words(found)


def change_words(landing: Landing) -> str:
    """Return what is to be done with a conductor, in a few words."""
    wall = landing.wall_found != landing.wall_left
    far = landing.far_found != landing.far_left
    if landing.carries == "nothing":
        if landing.far_left in NOWHERE:
            return "take off and cap" if far else "leave capped"
        return "cap at the wall"
    if far and landing.wall_found in NOWHERE and landing.far_found in NOWHERE:
        return "land both ends"
    if far:
        return "move at both ends" if wall else "move at the equipment"
    if landing.moved:
        return "move at the wall"
    return "stays; new letter" if wall else "stays"


def jumper_table(plan: Plan) -> Table:
    """Return every jumper and lead: put in, take out, keep."""
    words = {"add": "put in", "remove": "take out", "keep": "keep"}
    rows = []
    for item in plan.controls:
        for change in item.chosen.jumpers:
            a, b = map(terminal_words, change.jumper.between)
            rows.append((words[change.action], a, b, change.why))
    ordered = sorted(dict.fromkeys(rows), key=lambda row: ("put in", "take out", "keep").index(row[0]))
    return Table("Jumpers and leads", ("Do", "From", "To", "Why"), tuple(ordered), (0.8, 1.6, 1.6, 2.4))


def settings_rows(item: ControlPlan) -> Rows:
    """Return how a control is to be set, as (setting, value)."""
    settings = item.settings
    rows = [
        ("Kind of system", "heat pump: heating runs the compressor" if settings.compressor_heats else "no heat pump")
    ]
    if settings.changeover:
        rows.append(("Changeover (O/B) energised in", settings.changeover))
    rows.append(("Fan in heating run by", "the control" if settings.fan_with_heat else "the equipment"))
    if item.chosen.lost:
        rows.append(("Not available any more", ", ".join(item.chosen.lost)))
    return tuple(rows)


def steps(item: ControlPlan) -> tuple[str, ...]:
    """Return what to do for one control, in short sentences in the order of work."""
    return tuple(_steps(item))


def _steps(item: ControlPlan) -> Iterator[str]:
    route = item.chosen
    yield "Lock the supply out and prove it dead before a wire is touched; photograph both ends as found."
    far = [x for x in route.landings if x.far_found != x.far_left]
    for place, found in groupby(sorted(far, key=lambda x: x.far_place), key=lambda x: x.far_place):
        yield f"At {place}: {'; '.join(_far_words(x) for x in found)}."
    landed = [x for x in route.landings if x.carries != "nothing"]
    if landed:
        yield f"At {item.control}: {_joined([f'{x.conductor} on {_at(x.wall_left, item.control)}' for x in landed])}."
    capped = [x.conductor for x in route.landings if x.carries == "nothing" and x.wall_found not in NOWHERE]
    if capped:
        yield f"Cap at {item.control}: {_joined(capped)}."
    changes = [change for change in route.jumpers if change.action != "keep"]
    for action, words in (("remove", "Take out"), ("add", "Put in")):
        pairs = [c.jumper.between for c in changes if c.action == action]
        if pairs:
            yield f"{words}: {_joined([f'{terminal_words(a)} to {terminal_words(b)}' for a, b in pairs])}."
    settings = item.settings
    said = ["heat pump" if settings.compressor_heats else "no heat pump"]
    if settings.changeover:
        said.append(f"changeover energised in {settings.changeover}")
    said.append(f"{'the control' if settings.fan_with_heat else 'the equipment'} runs the fan in heating")
    yield f"Power up, set {item.control} ({'; '.join(said)}), and read every call against the table of readings."


def _far_words(x: Landing) -> str:
    if x.far_left in NOWHERE:
        return f"take {x.conductor} off {_at(x.far_found, x.far_place)} and cap it"
    if x.far_found in NOWHERE:
        return f"land {x.conductor} on {_at(x.far_left, x.far_place)}"
    return f"move {x.conductor} from {_at(x.far_found, x.far_place)} to {_at(x.far_left, x.far_place)}"


def _at(landing: str, place: str) -> str:
    """Return a terminal, its place only where it is another than the one spoken of."""
    where, terminal = split_terminal(landing)
    return terminal if where == place else terminal_words(landing)


def _joined(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else "".join(words)


# --- proof and readings ----------------------------------------------------------------------------------------------


def proof_table(proof: Proof) -> Table:
    """Return every call against the loads that it brings on; of calls made together only the weakest load."""
    single = [state for state in proof.states if _is_single(state)]
    together = [state for state in proof.states if not _is_single(state)]
    rows = [row for state in single for row in _load_rows(state, state.loads)]
    rows += [row for state in together for row in _load_rows(state, _weakest(state))]
    head = ("Call", "Load", "Running V", "Range V", "Pulling in V", "Needs V", "Running A", "Pulling in A")
    note = (
        f"Range: line {LOW.primary - 1:+.0%} to {HIGH.primary - 1:+.0%}, with regulation, loads and copper at their worst. "
        f"Pulling in: at the low end of it. Nearest limit: {proof.margin_words}, {proof.margin:.0%} away."
    ).replace("-", "−")
    if together:
        note += " Of calls made together the weakest load is listed; the file plan.json holds them all."
    return Table("What each call brings on", head, tuple(rows), (1.9, 2.6, 0.9, 1.3, 1.0, 0.9, 0.9, 1.0), note)


def _is_single(state: StateProof) -> bool:
    return sum(len(calls) for _, calls in state.state.calls) <= 1


def _weakest(state: StateProof) -> tuple[LoadProof, ...]:
    """Return the load with the least to spare when it pulls in or runs at the low end."""
    judged = [load for load in state.loads if load.pull_in_v > 0]
    return tuple(sorted(judged, key=lambda load: min(load.low_v, load.inrush_v) / load.pull_in_v)[:1])


def _load_rows(state: StateProof, loads: Sequence[LoadProof]) -> Iterator[tuple[str, ...]]:
    if not loads:
        yield (state.words, "nothing", *[""] * 6)
    for number, load in enumerate(loads):
        yield (
            state.words if number == 0 else "",
            load.words,
            f"{load.sealed_v:.1f}",
            f"{load.low_v:.1f} to {load.high_v:.1f}",
            f"{load.inrush_v:.1f}",
            f"{load.pull_in_v:.1f}",
            f"{load.sealed_a:.2f}",
            f"{load.inrush_a:.2f}",
        )


def supply_table(proof: Proof) -> Table:
    """Return what every call draws from each transformer, and what it leaves for each control's electronics."""
    rows = []
    for state in proof.states:
        supplies = [f"{s.words}: {s.draw_va:.0f} of {s.rated_va:g} VA" for s in state.supplies]
        controls = [
            f"{c.control}: {c.low_v:.1f} to {c.high_v:.1f} V (stands {c.least_v:g} to {c.most_v:g} V)"
            for c in state.controls
        ]
        rows.append((state.words, "\n".join(supplies), "\n".join(controls) or "no common at any control"))
    head = ("Call", "Drawn from the transformer", "Supply of the control's own electronics")
    return Table("Supplies", head, tuple(rows), (1.6, 2.6, 2.8))


def reading_tables(readings: Sequence[ExpectedReading]) -> tuple[Table, ...]:
    """Return what a meter must read: a row for each pair of terminals, a column for each call; one table a place."""
    states = tuple(dict.fromkeys(r.state for r in readings))
    known = {(r.between, r.state): r for r in readings}
    pairs = tuple(dict.fromkeys(r.between for r in readings))
    tables = []
    for place in dict.fromkeys(split_terminal(pair[0])[0] for pair in pairs):
        here = [pair for pair in pairs if split_terminal(pair[0])[0] == place]
        for first in range(0, len(states), STATES_ABREAST):
            some = states[first : first + STATES_ABREAST]
            rows = tuple(
                (pair_words(pair).removeprefix(f"{place} "), *(_reading(known.get((pair, state))) for state in some))
                for pair in here
            )
            title = f"At {place}, continued" if first else f"At {place}"
            tables.append(Table(title, ("Between", *some), rows, (1.6, *[1.0] * len(some))))
    return tuple(tables)


def _reading(reading: ExpectedReading | None) -> str:
    if reading is None:
        return "–"
    if reading.high_v <= NOTHING_V:
        return f"0\nup to {reading.high_v:.1f}"
    return f"{reading.volts:.1f}\n{reading.low_v:.1f} to {reading.high_v:.1f}"


# --- routes, parts, cautions, sources --------------------------------------------------------------------------------


def route_table(routes: Sequence[Route], chosen: Route | None = None) -> Table:
    """Return the routes that would work, side by side."""
    rows = tuple(
        (
            "chosen" if route == chosen else "",
            route.title,
            ", ".join(route.lost) or "nothing",
            str(sum(part.count for part in route.parts)),
            str(route.moved),
            f"{route.minutes}",
            f"{route.proof.margin:.0%}" if route.proof else "",
        )
        for route in routes
        if route.offered
    )
    head = ("", "Route", "Gives up", "Parts", "Landings", "Minutes", "Margin")
    note = "Minutes are judgement, for comparing. Margin: distance to the nearest limit at the worst corner."
    return Table("Routes that would work", head, rows, (0.8, 3.4, 1.4, 0.6, 0.9, 0.9, 0.8), note)


def refusal_table(routes: Sequence[Route]) -> Table:
    """Return the routes that were refused, with every reason; routes refused for the same reason together."""
    by_reason: dict[str, list[str]] = {}
    for route in routes:
        if not route.offered:
            by_reason.setdefault(" ".join(route.reasons), []).append(route.title)
    rows = tuple(("; ".join(titles), reason) for reason, titles in by_reason.items())
    return Table("Routes refused, and why", ("Route", "Why"), rows, (2.2, 5.0))


def parts_table(plan: Plan) -> Table:
    """Return what to bring."""
    counts: dict[str, int] = {}
    for item in plan.controls:
        for part in item.chosen.parts:
            counts[part.what] = counts.get(part.what, 0) + part.count
    rows = [(str(count), what) for what, count in counts.items()] or [("", "no parts beside the new control")]
    return Table("Parts", ("Count", "Part"), tuple(rows), (0.5, 6.0))


TOOLS = (
    "digital multimeter with a range for millivolts, its rating on it (at least CAT III where it touches fixed mains)",
    "known live source to prove the meter on",
    "lock and tag for the disconnect",
    "screwdrivers, stripper, small pliers",
    "wire nuts or splices for 18 to 22 AWG, caps for spare conductors",
    "level, drill and anchors for the wall plate; sealant for the hole behind it",
    "labels of this packet, scissors, clear tape",
)
"""What such a job needs (common practice, no source; meter categories: IEC 61010-1)."""


def caution_table(plan: Plan) -> Table:
    """Return every caution with its source."""
    rows = tuple((caution.text, caution.source) for caution in plan.cautions)
    return Table("Cautions", ("Caution", "Source"), rows, (4.6, 2.0))


def source_table(plan: Plan) -> Table:
    """Return where the numbers of the circuit come from: catalogue values and nameplates of this house."""
    survey = plan.left or plan.found or plan.survey
    parts: dict[tuple[str, str, str], list[str]] = {}
    for place, item in survey.equipment.items():
        if isinstance(item.kind, Unknown) or item.kind not in plan.catalog:
            continue
        for part in plan.catalog[item.kind].parts:
            shown = part.model_copy(update=item.nameplate.get(part.id, {}))
            values = part_values(shown)
            if values and part.id not in item.without:
                source = "nameplate or change named in this plan" if part.id in item.nameplate else part.source
                parts.setdefault((place, values, source), []).append(part.what or part.id.replace("-", " "))
    for place, transformer in survey.transformers.items():
        if not isinstance(transformer.va, Unknown) and not isinstance(transformer.volts, Unknown):
            values = f"{transformer.va:g} VA, {transformer.volts:g} V, regulation {transformer.regulation:.1%}"
            parts[place, values, "survey"] = ["transformer"]
    rows = tuple((place, "; ".join(names), values, source) for (place, values, source), names in parts.items())
    return Table("Values of the equipment", ("Place", "Part", "Value", "Source"), rows, (1.1, 1.9, 1.9, 3.3))


def part_values(part: Part) -> str:
    """Return the numbers of a part that the circuit uses; empty when it has none."""
    match part:
        case TransformerPart():
            return f"{part.va:g} VA, {part.volts:g} V, regulation {part.regulation:.1%}"
        case FusePart():
            return f"{part.rating_a:g} A"
        case LoadPart():
            inrush = f", {part.va_inrush:g} VA pulling in" if part.va_inrush else ""
            return f"{part.va:g} VA{inrush}; pulls in at {part.pull_in:.0%} of {part.volts:g} V"
        case ResistorPart():
            return f"{part.ohm:g} ohm"
        case _:
            return ""


RULES: Rows = (
    (
        "Class 2 supply",
        f"at most {CLASS_2_MOST_VA:g} VA and {CLASS_2_MOST_V:g} V",
        "NFPA 70, chapter 9, table 11(A), inherently limited source (from memory; the edition in force decides)",
    ),
    ("Line voltage", f"{LOW.primary - 1:+.0%} to {HIGH.primary - 1:+.0%}".replace("-", "−"), "asked for of this plan"),
    ("Regulation, loads, copper", "±10 %, ±5 %, 0 to 50 °C, all at their worst together", "judgement"),
    ("Copper", "1/58 ohm·mm²/m at 20 °C, 0.00393 per K", "IEC 60028 (from memory)"),
    ("Gauge", "d = 0.005 in × 92^((36 − n)/39)", "ASTM B258 (from memory)"),
    ("Meter and leads", "3 % of reading and 0.5 V added to every range", "judgement"),
)
"""(what, value, source) of the rules behind the proof and the readings."""


def rules_table() -> Table:
    """Return the rules behind the proof and the readings."""
    return Table("Rules and constants", ("What", "Value", "Source"), RULES, (1.5, 2.4, 3.6))


# --- for spreadsheets ------------------------------------------------------------------------------------------------


def conductor_rows(found: Survey, left: Survey) -> Rows:
    """Return every conductor of the house with its landings as found and as left, under a head."""
    head = (
        "cable", "conductor", "colour_at_first_end", "colour_at_second_end",
        "first_end_found", "first_end_left", "second_end_found", "second_end_left",
    )  # fmt: skip
    rows = [head]
    for cable, _, name, conductor in left.conductors():
        before = found.cables[cable].conductors.get(name) if cable in found.cables else None
        was = ("", "") if before is None else (_landing(before.from_), _landing(before.to))
        ends = (was[0], _landing(conductor.from_), was[1], _landing(conductor.to))
        rows.append((cable, name, *conductor.colours, *ends))
    return tuple(rows)


def _landing(value: str | Unknown) -> str:
    if isinstance(value, Unknown):
        return "not known"
    return value


def reading_rows(readings: Sequence[ExpectedReading]) -> Rows:
    """Return every expected reading under a head, volts to a hundredth."""
    rows = [("call", "from", "to", "expect_v", "low_v", "high_v", "note")]
    rows += [(r.state, *r.between, f"{r.volts:.2f}", f"{r.low_v:.2f}", f"{r.high_v:.2f}", r.note) for r in readings]
    return tuple(rows)
