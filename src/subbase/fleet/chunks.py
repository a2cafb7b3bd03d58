"""The pieces of work that a run is cut into; each takes bytes and gives bytes, wherever it is done.

``screen_rows``   rows of the list -> a structure for each home, or why it is refused
``expand``        structures -> the houses that each may be
``choose_batch``  houses of the same wirings -> the choice for each
``decide``        structures and their choices -> what comes out for each
``finish_rows``   both together -> the homes, their reasons, and counts

None of them knows of the others' machine, keeps anything, or depends on who did the piece before.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Map
from dataclasses import dataclass, field, replace
from typing import Any

import pyarrow as pa
from pyarrow import parquet

from subbase.catalog import Catalog, load_catalog
from subbase.errors import InputError
from subbase.fleet.choices import choice_from, choices_bytes, chosen_for, possible
from subbase.fleet.counts import Counts
from subbase.fleet.mapping import Mapping
from subbase.fleet.outcome import Asked, Outcome, outcome_from, outcome_of
from subbase.fleet.records import LONGEST_CELL, Record, RecordReader, Value, Wrong, declared_values, plain_text
from subbase.fleet.sources import SURVEY
from subbase.fleet.structure import beside, house_hazards, key_of, structure_text, text_of
from subbase.fleet.thin_survey import FIELD_PATHS, FIRST_ANSWERS, FIRST_QUESTIONS, TooThin, survey_of
from subbase.plan.cautions import LEAD_PAINT_YEAR
from subbase.plan.choose import HousePlan
from subbase.survey import Survey, read_survey
from subbase.words import _, language

THIN = "thin: "
LENGTHS = {"length": ("wall", 1_000_000.5), "outdoor_length": ("outside", 2_000_000.5)}
"""Facts that stand in a structure's text as they are: fact -> (cable, a length that no cable has, to be put in its place)."""
ROWS_SCHEMA = pa.schema(
    [
        ("file", pa.string()), ("line", pa.int64()), ("raw", pa.string()), ("id", pa.string()), ("area", pa.string()),
        ("day", pa.string()), ("climate", pa.string()), ("floor_area_m2", pa.float64()), ("key", pa.string()),
        ("wrong", pa.string()), ("beside", pa.string()),
    ]
)  # fmt: skip
HOMES_SCHEMA = pa.schema(
    [
        ("file", pa.string()), ("line", pa.int64()), ("id", pa.string()), ("area", pa.string()), ("day", pa.string()),
        ("climate", pa.string()), ("floor_area_m2", pa.float64()), ("verdict", pa.string()), ("structure", pa.string()),
        ("outcome", pa.int64()), ("route", pa.string()), ("title", pa.string()), ("minutes_least", pa.float64()),
        ("minutes_mean", pa.float64()), ("minutes_most", pa.float64()), ("margin", pa.float64()),
        ("licensed", pa.bool_()), ("first_question", pa.string()), ("question_bits", pa.float64()), ("why", pa.string()),
        ("house_hazards", pa.list_(pa.string())), ("trusted", pa.list_(pa.string())),
    ]
)  # fmt: skip
REASONS_SCHEMA = pa.schema(
    [
        ("file", pa.string()), ("line", pa.int64()), ("id", pa.string()), ("kind", pa.string()), ("rank", pa.int64()),
        ("field", pa.string()), ("text", pa.string()), ("to_do", pa.string()), ("bits", pa.float64()),
    ]
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Setting:
    """What all pieces of one run share."""

    mapping: Mapping | None
    catalog_kinds: Map[str, Any] | None = None
    """The catalogue itself, where there are kinds of the user's own: a cluster does not have their folder."""
    language: str = "en"
    """In which sentences are made, wherever the piece is done."""

    def catalog(self) -> Catalog:
        """Return the catalogue."""
        return load_catalog() if self.catalog_kinds is None else self.catalog_kinds


def table_bytes(table: pa.Table) -> bytes:
    """Return a table as the bytes of a Parquet file; the same table always gives the same bytes."""
    sink = io.BytesIO()
    parquet.write_table(table, sink, compression="zstd", row_group_size=1 << 20)
    return sink.getvalue()


def table_of(data: bytes) -> pa.Table:
    """Return the table in the bytes of a Parquet file."""
    return parquet.read_table(io.BytesIO(data))


def screen_rows(setting: Setting, rows: bytes) -> bytes:
    """Return, for a block of rows, each home's key or what refuses it, with the structures behind the keys as metadata."""
    with language(setting.language):
        return _screened(setting, rows)


def _screened(setting: Setting, rows: bytes) -> bytes:
    table = table_of(rows)
    names = [name.removeprefix("cell ") for name in table.column_names if name.startswith("cell ")]
    columns = [table.column(f"cell {name}").to_pylist() for name in names]
    problems, raws = table.column("problem").to_pylist(), table.column("raw").to_pylist()
    screener = Screener(setting)
    out: dict[str, list[Any]] = {name: [] for name in ROWS_SCHEMA.names if name not in ("file", "line")}
    files = table.column("file").to_pylist()
    for file, problem, raw, cells in zip(files, problems, raws, zip(*columns, strict=True), strict=True):
        extra = ""
        if problem:
            found: Record | tuple[Wrong, ...] = (Wrong("", "", problem),)
            key: str | tuple[Wrong, ...] = ()
        elif names == [SURVEY]:
            found, key, extra = screener.whole_survey(file, cells[0] or "")
        else:
            found = screener.reader.read(dict(zip(names, cells, strict=True)))
            key = screener.key(found) if isinstance(found, Record) else ()
            extra = screener.beside(found) if isinstance(found, Record) else ""
        record = found if isinstance(found, Record) else None
        wrong = found if isinstance(found, tuple) else (key if isinstance(key, tuple) else ())
        home = record.home if record else _id_in(names, cells)
        out["raw"].append(raw if wrong else "")
        out["id"].append(home)
        out["area"].append(record.area if record else "")
        out["day"].append(record.day if record else "")
        out["climate"].append(record.climate if record else "")
        out["floor_area_m2"].append(record.floor_area_m2 if record else None)
        out["key"].append(key if isinstance(key, str) else "")
        out["wrong"].append(json.dumps([(w.field, w.value, w.message) for w in wrong]) if wrong else "")
        out["beside"].append("" if wrong else extra)
    data = {"file": table.column("file"), "line": table.column("line"), **out}
    made = pa.table(data, schema=ROWS_SCHEMA)
    return table_bytes(made.replace_schema_metadata({"structures": json.dumps(screener.texts)}))


def structures_in(screened: bytes) -> dict[str, str]:
    """Return key -> structure text of a screened block."""
    metadata = parquet.read_schema(io.BytesIO(screened)).metadata or {}
    found: dict[str, str] = json.loads(metadata.get(b"structures", b"{}"))
    return found


def _id_in(names: Sequence[str], cells: Sequence[str | None]) -> str:
    return plain_text(cells[names.index("id")] or "")[:LONGEST_CELL] if "id" in names else ""


@dataclass(slots=True)
class Screener:
    """Turns records into keys of structures; each different set of facts is worked out once."""

    setting: Setting
    reader: RecordReader = field(init=False)
    texts: dict[str, str] = field(default_factory=dict)
    """Key -> structure text, of all that were met."""
    _declared: dict[str, Value] = field(init=False)
    _known: dict[tuple[tuple[str, Value], ...], str | tuple[Wrong, ...]] = field(default_factory=dict)
    _beside: dict[tuple[object, ...], str] = field(default_factory=dict)
    _patterns: dict[tuple[tuple[str, Value], ...], str | tuple[Wrong, ...] | TooThin] = field(default_factory=dict)

    def __post_init__(self) -> None:
        mapping = self.setting.mapping
        if mapping is not None:
            self.reader = RecordReader(mapping)
            self._declared = declared_values(mapping)

    def key(self, record: Record) -> str | tuple[Wrong, ...]:
        """Return the key of a record's structure, or what clashes in it."""
        if record.facts not in self._known:
            self._known[record.facts] = self._key_of(dict(record.facts))
        return self._known[record.facts]

    def beside(self, record: Record) -> str:
        """Return what a record's home bears beside its structure: cautions of its age, facts that were declared."""
        facts = dict(record.facts)
        said = tuple(name for name in self._declared if name not in facts)
        year, mercury = facts.get("year_built"), facts.get("mercury")
        old = float(year) < LEAD_PAINT_YEAR if isinstance(year, float) else None
        key = (said, old, mercury)
        if key not in self._beside:
            self._beside[key] = self._beside_of(said, old, mercury)
        return self._beside[key]

    def _beside_of(self, said: tuple[str, ...], old: bool | None, mercury: Value) -> str:
        mapping = self.setting.mapping
        year = None if old is None else LEAD_PAINT_YEAR - int(old)
        hazards = list(house_hazards(year, mercury=mercury is True))
        if mercury is None:
            hazards.append(_("Nobody said whether the old control holds mercury: look before it is taken down."))
        known = mapping.declared if mapping is not None else {}
        ways = {FIELD_PATHS[name]: known[name].known for name in said if name in FIELD_PATHS}
        trusted = [_("{field} was {how}, not seen.").format(field=path, how=how) for path, how in ways.items()]
        return text_of({"hazards": hazards, "trusted": trusted})

    def _key_of(self, facts: dict[str, Value]) -> str | tuple[Wrong, ...]:
        for name in ("year_built", "mercury"):
            facts.pop(name, None)
        lengths = {name: facts[name] for name in LENGTHS if name in facts}
        shape = tuple((name, 1.0 if name in lengths else value) for name, value in facts.items())
        if shape not in self._patterns:
            self._patterns[shape] = self._pattern(dict(shape), lengths)
        pattern = self._patterns[shape]
        if isinstance(pattern, TooThin):
            return THIN + "+".join(pattern.fields)
        if isinstance(pattern, tuple):
            return pattern
        text = pattern
        for name, value in lengths.items():
            text = text.replace(json.dumps(LENGTHS[name][1]), json.dumps(value))
        key = key_of(text)
        self.texts[key] = text
        return key

    def _pattern(self, facts: dict[str, Value], lengths: Map[str, Value]) -> str | tuple[Wrong, ...] | TooThin:
        """Return the text of a structure with stand-ins for the lengths that the record tells."""
        mapping = self.setting.mapping
        if mapping is None:
            raise ValueError("A table is read with a mapping.")
        made = survey_of(facts, self._declared, mapping, self.setting.catalog())
        if isinstance(made, Wrong):
            return (made,)
        if isinstance(made, TooThin):
            return made
        cables = dict(made.cables)
        for name in lengths:
            cable, stand_in = LENGTHS[name]
            if cable in cables:
                cables[cable] = cables[cable].model_copy(update={"length_m": stand_in})
        return structure_text(made.model_copy(update={"cables": cables}))

    def whole_survey(self, file: str, text: str) -> tuple[Record | tuple[Wrong, ...], str, str]:
        """Return the record, the key and what is beside it of a survey file."""
        try:
            survey = read_survey(text.encode(), file, self.setting.catalog())
        except InputError as error:
            faults = (
                Wrong(f"{fault.line}:{fault.column} {fault.where}".strip(), "", fault.message) for fault in error.faults
            )
            return tuple(faults), "", ""
        made = structure_text(survey)
        key = key_of(made)
        self.texts[key] = made
        record = Record(file.rpartition(".")[0], file.rpartition("/")[0], "", "", None, ())
        return record, key, beside(survey)


def expand(setting: Setting, texts: Sequence[str]) -> bytes:
    """Return the houses that each structure may be, in order, as JSON."""
    catalog = setting.catalog()
    found = [possible(text, catalog) for text in texts]
    return json.dumps([(item.keys, item.texts) for item in found], ensure_ascii=False).encode()


def choose_batch(setting: Setting, wirings: Sequence[Sequence[str]]) -> bytes:
    """Return the choice for each house of each wiring, in order, as JSON."""
    catalog = setting.catalog()
    with language(setting.language):
        return choices_bytes([plan for texts in wirings for plan in chosen_for(texts, catalog)])


def decide(
    setting: Setting, texts: Sequence[str], shared: Sequence[str], rows: Map[str, tuple[int, float | None]]
) -> bytes:
    """Return what comes out for each structure, in order, as JSON.

    Parameters
    ----------
    shared
        Choices as text, without their margins.
    rows
        Key of a choice -> (its place in ``shared``, its margin).
    """
    catalog = setting.catalog()
    read = [choice_from(json.loads(text)) for text in shared]
    chosen: dict[str, HousePlan] = {}
    for key, (place, margin) in rows.items():
        plan = read[place]
        if plan.proof is not None and margin is not None:
            plan = replace(plan, proof=replace(plan.proof, margin=margin))
        chosen[key] = plan
    with language(setting.language):
        outcomes = [outcome_of(Survey.model_validate_json(text), catalog, chosen).data() for text in texts]
    return json.dumps(outcomes, ensure_ascii=False).encode()


def thin_outcome(key: str) -> Outcome:
    """Return what comes out for homes of which too little is known to draw anything."""
    fields = key.removeprefix(THIN).split("+")
    return Outcome(
        "asked",
        questions=tuple(Asked(name, _(FIRST_QUESTIONS[name]), _(FIRST_ANSWERS[name]), 0.0, ()) for name in fields),
    )


@dataclass(frozen=True, slots=True)
class Finished:
    """One block of homes, done."""

    homes: bytes
    reasons: bytes
    refused: tuple[tuple[str, int, str, str, str, str, str], ...]
    """(file, line, id, field, value, why, the row as it stood there)."""
    counts: Counts


def finish_rows(
    screened: bytes, outcomes: Map[int, dict[str, Any]], known: Map[str, tuple[int, float | None]]
) -> Finished:
    """Return a block's homes and reasons.

    Parameters
    ----------
    outcomes
        Number -> outcome as data, of all that the block meets.
    known
        Key -> (number of its outcome, its own margin).
    """
    table = table_of(screened)
    rows = table.select(ROWS_SCHEMA.names).to_pylist()
    read = {number: outcome_from(data) for number, data in outcomes.items()}
    homes: dict[str, list[Any]] = {name: [] for name in HOMES_SCHEMA.names}
    reasons: dict[str, list[Any]] = {name: [] for name in REASONS_SCHEMA.names}
    refused: list[tuple[str, int, str, str, str, str, str]] = []
    counts = Counts()
    for row in rows:
        if row["wrong"]:
            wrong = json.loads(row["wrong"])
            _add_home(homes, row, None, None, None)
            homes["why"][-1] = wrong[0][2]
            refused += [(row["file"], row["line"], row["id"], *item, row["raw"]) for item in wrong]
            counts.refused += 1
            _add_reasons(reasons, row, (("refused", name, text, "", None) for name, __, text in wrong))
            continue
        number, margin = known[row["key"]]
        outcome = read[number]
        _add_home(homes, row, outcome, number, margin)
        _add_reasons(reasons, row, _reason_rows(outcome))
        counts.add(row, number)
    return Finished(
        table_bytes(pa.table(homes, schema=HOMES_SCHEMA)),
        table_bytes(pa.table(reasons, schema=REASONS_SCHEMA)),
        tuple(refused),
        counts,
    )


def _reason_rows(outcome: Outcome) -> Iterator[tuple[str, str, str, str, float | None]]:
    for question in outcome.questions:
        yield "question", question.field, question.text, question.how, question.bits
    for kind, seen, to_do in outcome.reasons:
        yield kind, "", seen, to_do, None


def _add_reasons(
    reasons: dict[str, list[Any]], row: Map[str, Any], found: Iterator[tuple[str, str, str, str, float | None]]
) -> None:
    for rank, (kind, name, text, to_do, bits) in enumerate(found, start=1):
        values = (row["file"], row["line"], row["id"], kind, rank, name, text, to_do, bits)
        for column, value in zip(reasons, values, strict=True):
            reasons[column].append(value)


def _add_home(
    homes: dict[str, list[Any]], row: Map[str, Any], outcome: Outcome | None, number: int | None, margin: float | None
) -> None:
    said = json.loads(row["beside"]) if row["beside"] else {"hazards": [], "trusted": []}
    minutes = outcome.minutes if outcome is not None and outcome.minutes is not None else (None, None, None)
    first = outcome.questions[0] if outcome is not None and outcome.questions else None
    reason = outcome.reasons[0][1] if outcome is not None and outcome.reasons else (first.text if first else "")
    values = (
        row["file"], row["line"], row["id"], row["area"], row["day"], row["climate"], row["floor_area_m2"],
        outcome.verdict if outcome else "refused", row["key"], number, "; ".join(outcome.routes) if outcome else "",
        "; ".join(outcome.titles) if outcome else "", *minutes, margin, outcome.licensed if outcome else False,
        first.field if first else "", first.bits if first else None, reason, said["hazards"], said["trusted"],
    )  # fmt: skip
    for column, value in zip(homes, values, strict=True):
        homes[column].append(value)


__all__ = [
    "HOMES_SCHEMA", "REASONS_SCHEMA", "THIN", "Finished", "Setting", "choose_batch", "decide", "expand", "finish_rows", "screen_rows",
    "structures_in", "table_bytes", "table_of", "thin_outcome",
]  # fmt: skip
