"""A whole run: rows are read into blocks, blocks screened, structures planned once each, blocks finished, results written.

Each piece is kept as soon as it is done (``keeper``), so that a stopped run goes on; pieces are put together in the order
of the list, so that results do not depend on who did them, or when.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from subbase import __version__
from subbase.catalog import load_catalog
from subbase.errors import Fault, InputError
from subbase.fleet.chunks import (
    THIN,
    Setting,
    choose_batch,
    decide,
    expand,
    finish_rows,
    screen_rows,
    structures_in,
    table_bytes,
    table_of,
    thin_outcome,
)
from subbase.fleet.counts import Counts
from subbase.fleet.fields import MISSING
from subbase.fleet.keeper import Keeper, clear, opened
from subbase.fleet.mapping import Mapping
from subbase.fleet.outcome import Outcome, outcome_from
from subbase.fleet.pools import Job, Pool, pool_of
from subbase.fleet.records import declared_values, plain_text
from subbase.fleet.results import write_results
from subbase.fleet.sources import CHUNK_ROWS, Block, blocks_of, fingerprint
from subbase.fleet.totals import Totals, totals_of
from subbase.words import _, current_language, mark

if TYPE_CHECKING:
    from subbase.fleet.savings import Saving

BATCH = 24
"""Houses chosen for in one piece, unless one wiring has more."""
EXPANDED = 100
"""Structures expanded or decided in one piece."""


@dataclass(frozen=True, slots=True)
class Order:
    """What a run is asked to do."""

    source: Path
    out: Path
    mapping: Mapping | None = None
    folders: tuple[Path, ...] = ()
    workers: int | None = None
    scheduler: str | None = None
    chunk_rows: int = CHUNK_ROWS
    encoding: str | None = None


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run is."""

    step: str
    """'read', 'screen', 'expand', 'choose', 'decide' or 'finish'."""
    done: int
    all: int | None
    """None while the end is not known."""
    kept: int = 0
    """Of those done, how many an earlier run had done."""


@dataclass(frozen=True, slots=True)
class Done:
    """What a run came to."""

    totals: Totals
    rows: int
    structures: int
    outcomes: int
    files: tuple[Path, ...]


Tell = Callable[[Progress], None]


def run(order: Order, tell: Tell = lambda _: None) -> Done:
    """Screen and plan a whole list, and write what came out.

    Raises
    ------
    InputError
        When the source, the mapping or the catalogue cannot be read, when the folder holds a run of something else, or
        when the counts do not add up.
    OSError
        When results cannot be written.
    """
    setting = _setting(order)
    keeper, counts = _begun(order, setting, tell)
    with pool_of(workers=order.workers, scheduler=order.scheduler) as pool:
        return _Run(order, setting, keeper, pool, counts, tell).finish()


@dataclass(frozen=True, slots=True)
class Look:
    """What reading and screening alone tell of a list."""

    rows: int
    refused: int
    structures: int


def look_over(order: Order, tell: Tell = lambda _: None) -> Look:
    """Read and screen a whole list and plan nothing; a run into the same folder goes on from there.

    Raises
    ------
    InputError
        As ``run``.
    """
    setting = _setting(order)
    keeper, counts = _begun(order, setting, tell)
    with pool_of(workers=order.workers, scheduler=order.scheduler) as pool:
        work = _Run(order, setting, keeper, pool, counts, tell)
        work.screen()
        refused = 0
        for number in range(len(counts)):
            wrong = table_of(keeper.need(f"screened/{number:05d}")).column("wrong").to_pylist()
            refused += sum(1 for text in wrong if text)
        return Look(sum(counts), refused, len(work.structures()))


def _setting(order: Order) -> Setting:
    if order.mapping is not None:
        try:
            declared_values(order.mapping)
        except ValueError as error:
            raise InputError((Fault(str(error)),)) from None
    kinds = dict(load_catalog(order.folders)) if order.folders else None
    return Setting(order.mapping, kinds, current_language())


def _made_from(order: Order, setting: Setting) -> dict[str, str]:
    kinds = (
        "" if setting.catalog_kinds is None else repr(sorted((n, repr(k)) for n, k in setting.catalog_kinds.items()))
    )
    return {
        mark("source"): fingerprint(order.source),
        mark("mapping"): order.mapping.digest() if order.mapping is not None else "",
        mark("catalogue"): str(hash_of(kinds)),
        mark("version of subbase"): __version__,
        mark("size of pieces"): str(order.chunk_rows),
        mark("encoding"): order.encoding or "",
        mark("language"): setting.language,
    }


def hash_of(text: str) -> str:
    """Return a short name of a text."""
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _begun(order: Order, setting: Setting, tell: Tell) -> tuple[Keeper, list[int]]:
    """Return the keeper of a run, and how many rows each of its blocks has.

    Of a source that cannot be read nothing stays behind: mended, it is begun anew without being asked for ``--anew``.
    """
    blocks = blocks_of(order.source, order.mapping, rows=order.chunk_rows, encoding=order.encoding)
    order.out.mkdir(parents=True, exist_ok=True)
    keeper = opened(order.out, _made_from(order, setting))
    try:
        return keeper, _read(blocks, order.source, keeper, tell)
    except InputError:
        clear(order.out)
        raise


def _read(blocks: Iterator[Block], source: Path, keeper: Keeper, tell: Tell) -> list[int]:
    """Read the source into blocks of rows, and return how many rows each has."""
    kept = keeper.get("rows/all.json")
    if kept is not None:
        found: list[int] = json.loads(kept)
        tell(Progress("read", sum(found), sum(found), sum(found)))
        return found
    counts: list[int] = []
    seen: dict[str, int] = {}
    for block in blocks:
        _mark_doubles(block, seen)
        keeper.put(f"rows/{len(counts):05d}", table_bytes(block.table()))
        counts.append(len(block.lines))
        tell(Progress("read", sum(counts), None))
    if not counts:
        raise InputError((Fault(_("There is not one home in it."), file=str(source)),))
    keeper.put("rows/all.json", json.dumps(counts).encode())
    return counts


def _mark_doubles(block: Block, seen: dict[str, int]) -> None:
    """Mark rows whose id an earlier row has: the same home must not be visited, or counted, twice."""
    if "id" not in block.names:
        return
    at = block.names.index("id")
    for row, cells in enumerate(block.cells):
        home = plain_text(cells[at] or "")
        if home.casefold() in MISSING or block.problems[row]:
            continue
        first = seen.setdefault(home, block.lines[row])
        if first != block.lines[row]:
            block.problems[row] = _("The id is also on line {line}; one home is one row.").format(line=first)


@dataclass(slots=True)
class _Run:
    """One run, with what it knows by now."""

    order: Order
    setting: Setting
    keeper: Keeper
    pool: Pool
    rows: list[int]
    tell: Tell
    outcomes: dict[int, Outcome] = field(default_factory=dict)
    _number_of: dict[str, int] = field(default_factory=dict)
    _known: dict[str, tuple[int, float | None]] = field(default_factory=dict)

    def finish(self) -> Done:
        self.screen()
        texts = self.structures()
        self._plan(texts)
        counts = self._finish()
        totals = totals_of(
            counts,
            self.outcomes,
            minutes_per_call=self.order.mapping.minutes_per_call if self.order.mapping is not None else 0,
        )
        if totals.verdicts.all != sum(self.rows):
            message = _("{rows} rows went in and {homes} came out; nothing of this run may be used.").format(
                rows=sum(self.rows), homes=totals.verdicts.all
            )
            raise InputError((Fault(message, file=str(self.order.out)),))
        structures = {key: self._known[key][0] for key in texts}
        savings: tuple[Saving, ...] = ()
        if self.order.mapping is not None and "climate" in self.order.mapping.columns:
            # The year's kernel takes seconds to load; lists that name no climate do not wait for it.
            from subbase.fleet.savings import savings_of

            savings = savings_of(counts, self.outcomes)
        files = write_results(
            self.order, self.keeper, totals, (self.outcomes, structures, texts), blocks=len(self.rows), savings=savings
        )
        return Done(totals, sum(self.rows), len(texts), len(self.outcomes), files)

    def _missing(self, step: str, count: int) -> list[int]:
        return [number for number in range(count) if self.keeper.get(f"{step}/{number:05d}") is None]

    def screen(self) -> None:
        missing = self._missing("screened", len(self.rows))
        kept = sum(self.rows) - sum(self.rows[number] for number in missing)
        done = kept
        self.tell(Progress("screen", done, sum(self.rows), kept))

        def jobs() -> Iterator[Job]:
            for number in missing:
                yield str(number), (self.setting, self.keeper.need(f"rows/{number:05d}"))

        for name, result in self.pool.done(screen_rows, jobs()):
            self.keeper.put(f"screened/{int(name):05d}", result)
            done += self.rows[int(name)]
            self.tell(Progress("screen", done, sum(self.rows), kept))

    def structures(self) -> dict[str, str]:
        texts: dict[str, str] = {}
        for number in range(len(self.rows)):
            texts.update(structures_in(self.keeper.need(f"screened/{number:05d}")))
        return dict(sorted(texts.items()))

    def _plan(self, texts: dict[str, str]) -> None:
        keys = list(texts)
        parts = [keys[begin : begin + EXPANDED] for begin in range(0, len(keys), EXPANDED)]
        self._pieces("expand", expand, [([texts[key] for key in part],) for part in parts], [len(p) for p in parts])
        houses: dict[str, tuple[str, ...]] = {}
        wirings: dict[str, dict[str, str]] = {}
        for number, part in enumerate(parts):
            found = json.loads(self.keeper.need(f"expand/{number:05d}"))
            for key, (choices, told) in zip(part, found, strict=True):
                houses[key] = tuple(choices)
                for choice, wiring, text in told:
                    wirings.setdefault(wiring, {})[choice] = text
        shared, rows = self._choose(wirings)
        work = [
            ([texts[key] for key in part], *_chosen_of({c for key in part for c in houses[key]}, shared, rows))
            for part in parts
        ]
        self._pieces("decide", decide, work, [len(part) for part in parts])
        for number, part in enumerate(parts):
            for key, data in zip(part, json.loads(self.keeper.need(f"decide/{number:05d}")), strict=True):
                self._learn(key, outcome_from(data))

    def _choose(self, wirings: dict[str, dict[str, str]]) -> tuple[list[str], dict[str, tuple[int, float | None]]]:
        """Choose for every house, those of one wiring together; return choices, each once, and which is whose."""
        batches = list(_batches(wirings))
        work = [([[text for _, text in sorted(wirings[wiring].items())] for wiring in batch],) for batch in batches]
        self._pieces("choose", choose_batch, work, [sum(len(wirings[w]) for w in batch) for batch in batches])
        place: dict[str, int] = {}
        rows: dict[str, tuple[int, float | None]] = {}
        for number, batch in enumerate(batches):
            data = json.loads(self.keeper.need(f"choose/{number:05d}"))
            order = (key for wiring in batch for key in sorted(wirings[wiring]))
            for key, (at, margin) in zip(order, data["rows"], strict=True):
                rows[key] = (place.setdefault(data["shared"][at], len(place)), margin)
        return list(place), rows

    def _pieces(
        self, step: str, function: Callable[..., bytes], work: Sequence[tuple[Any, ...]], sizes: Sequence[int]
    ) -> None:
        """Do the pieces of one step that are not done yet."""
        missing = self._missing(step, len(work))
        kept = done = sum(sizes) - sum(sizes[number] for number in missing)
        self.tell(Progress(step, done, sum(sizes), kept))
        # The largest first: begun last, it would leave the other workers idle.
        jobs = ((str(n), (self.setting, *work[n])) for n in sorted(missing, key=lambda n: (-sizes[n], n)))
        for name, result in self.pool.done(function, jobs):
            self.keeper.put(f"{step}/{int(name):05d}", result)
            done += sizes[int(name)]
            self.tell(Progress(step, done, sum(sizes), kept))

    def _learn(self, key: str, outcome: Outcome) -> None:
        """Keep what comes out for a structure; outcomes that differ in the margin alone are kept once."""
        data = {**outcome.data(), "margin": None}
        number = self._number_of.setdefault(json.dumps(data, sort_keys=True), len(self._number_of))
        self.outcomes.setdefault(number, outcome_from(data))
        self._known[key] = (number, outcome.margin)

    def _finish(self) -> Counts:
        done = 0
        counts = Counts()
        self.tell(Progress("finish", 0, sum(self.rows)))
        for name, result in self.pool.done(finish_rows, self._finishing()):
            number = int(name)
            self.keeper.put(f"homes/{number:05d}", result.homes)
            self.keeper.put(f"reasons/{number:05d}", result.reasons)
            self.keeper.put(f"refused/{number:05d}", json.dumps(result.refused, ensure_ascii=False).encode())
            counts.merge(result.counts)
            done += self.rows[number]
            self.tell(Progress("finish", done, sum(self.rows)))
        return counts

    def _finishing(self) -> Iterator[Job]:
        for number in range(len(self.rows)):
            screened = self.keeper.need(f"screened/{number:05d}")
            keys = set(table_of(screened).column("key").unique().to_pylist()) - {""}
            for key in sorted(key for key in keys if key.startswith(THIN) and key not in self._known):
                self._learn(key, thin_outcome(key))
            known = {key: self._known[key] for key in keys}
            used = {number for number, __ in known.values()}
            yield str(number), (screened, {n: self.outcomes[n].data() for n in sorted(used)}, known)


def _chosen_of(
    keys: set[str], shared: list[str], rows: dict[str, tuple[int, float | None]]
) -> tuple[list[str], dict[str, tuple[int, float | None]]]:
    """Return the choices that some houses need, and which is whose, so that a piece carries no others."""
    used = sorted({rows[key][0] for key in keys})
    place = {old: new for new, old in enumerate(used)}
    return [shared[old] for old in used], {key: (place[rows[key][0]], rows[key][1]) for key in sorted(keys)}


def _batches(wirings: dict[str, dict[str, str]]) -> Iterator[Sequence[str]]:
    """Yield wirings in batches of about the same number of houses."""
    batch: list[str] = []
    count = 0
    for wiring in sorted(wirings):
        batch.append(wiring)
        count += len(wirings[wiring])
        if count >= BATCH:
            yield batch
            batch, count = [], 0
    if batch:
        yield batch
