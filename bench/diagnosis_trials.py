"""Blind trials of the diagnosis in full, and the page that tells how they went: ``python -m bench.diagnosis_trials``.

Slow: an hour or more on one core. Each trial has a seed of its own and is added to the ``--kept`` file as soon as it is made, so a
run that was cut off goes on where it was; those made by another state of the diagnosis or of the trials are made anew. All
houses take turns, so that a part of the run holds some of each. ``--page-only`` writes the page from what is there.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import json
import math
import sys
import types
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

from bench.report import machine

if TYPE_CHECKING:
    from tests.outside.diagnosis_trials import Trial, Way

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "diagnosis-trials.md"
KEPT = ROOT / "out" / "diagnosis-trials.jsonl"
SEED = "blind trials 3"
LARGEST = "15-zone-panel-three-controls"
SINGLES, DOUBLES, COMPARED = 180, 45, 30
"""Of each house: single faults, double faults, and how many of the single ones the other two ways are given too."""
OF_LARGEST = (50, 12, 5)
WAYS: tuple[Way, ...] = ("tool", "fixed order", "any order")
ROUNDS = 15
"""Of all houses, each with its part of the trials."""
MOST_REPAIRS = 4
SHOWN_MISSES = 40


@dataclass(frozen=True, slots=True)
class Row:
    """A trial as it is kept in a file."""

    house: str
    kinds: tuple[str, ...]
    words: tuple[str, ...]
    seed: str
    way: str
    readings: int
    minutes: float
    wrong_answers: int
    rank: int
    rank_of_kind: int
    one_of_them: int
    group: int
    listed: bool
    probability: float
    gave_up: bool
    said_none: bool
    best: str
    unfelt: int
    state: str
    """What diagnosis and trials were like: ``state_of_code``."""
    put_right: bool
    """Whether all was well in the end, with repairs as the tool named them and all calls tried after each."""
    repairs: int
    needless: int
    readings_in_all: int
    hidden: bool = False
    """Of two faults: whether all that works or fails in any call, displays included, is the same with one of them alone."""

    @property
    def single(self) -> bool:
        """Tell whether one fault was put in."""
        return len(self.kinds) == 1

    @property
    def miss(self) -> str:
        """Return why the true cause is not first, as far as the trial itself shows it; empty when it is."""
        if self.rank == 1:
            return ""
        if not self.listed:
            return "not among the tool's causes at all"
        if self.gave_up:
            return "no decision after the most readings allowed"
        if self.hidden and self.one_of_them == 1:
            return "one of the two is first and hides the other: with it alone every call does and fails to do the same"
        if self.one_of_them == 1 and not self.single:
            return "one of the two is first, the other is not, though it shows in some call"
        if self.said_none:
            return "the tool said that nothing it thought of fits"
        if self.wrong_answers:
            return "stopped on a wrong cause after at least one wrong answer"
        return "stopped on a wrong cause though every answer was right"


def main(words: Sequence[str] | None = None) -> None:
    """Make the trials and write the page."""
    parser = argparse.ArgumentParser(prog="python -m bench.diagnosis_trials", description=__doc__)
    parser.add_argument("--kept", type=Path, default=KEPT, help="file of trials already made")
    parser.add_argument("--page", type=Path, default=PAGE, help="page to write")
    parser.add_argument("--share", type=float, default=1.0, help="share of the trials to make, for a quick look")
    parser.add_argument("--only", default="", help="houses whose name begins so")
    parser.add_argument("--page-only", action="store_true", help="make no trial, only the page")
    given = parser.parse_args(words)
    rows = list(_read(given.kept, of_any_state=True) if given.page_only else made(given.kept, given.share, given.only))
    given.page.parent.mkdir(parents=True, exist_ok=True)
    given.page.write_text(page(rows), encoding="utf-8")
    print(f"{len(rows)} trials; the page is {given.page}")


def made(kept: Path, share: float, only: str) -> Iterator[Row]:
    """Yield every trial, from the file where it is there, else made now and added to it."""
    trials = _own_tests("tests.outside.diagnosis_trials")
    known: dict[str, dict[str, Row]] = {}
    for row in _read(kept):
        known.setdefault(row.seed, {})[row.way] = row
    kept.parent.mkdir(parents=True, exist_ok=True)
    houses = [house for house in trials.HOUSES if house[0].startswith(only)]
    with kept.open("a", encoding="utf-8") as file:
        for turn in range(ROUNDS):
            for name, which in houses:
                counts = OF_LARGEST if name == LARGEST else (SINGLES, DOUBLES, COMPARED)
                for how_many, compared, seed in _seeds(name, [math.ceil(share * n) for n in counts], turn):
                    ways = WAYS if compared else WAYS[:1]
                    found = dict(known.get(seed, {}))
                    missing = tuple(way for way in ways if way not in found)
                    if missing:
                        for row in _tried(trials, (name, which), how_many, seed, missing):
                            file.write(json.dumps(asdict(row)) + "\n")
                            file.flush()
                            found[row.way] = row
                    yield from (found[way] for way in ways if way in found)
                print(f"round {turn + 1} of {ROUNDS}: {name}", file=sys.stderr, flush=True)


def _seeds(name: str, counts: Sequence[int], turn: int) -> Iterator[tuple[int, bool, str]]:
    """Yield (how many faults, whether every way is tried, seed) of one house in one round."""
    singles, doubles, compared = counts
    for how_many, count in ((1, singles), (2, doubles)):
        for number in range(turn, count, ROUNDS):
            yield how_many, how_many == 1 and number < compared, f"{SEED} {name} {how_many} {number}"


def _tried(trials: Any, house: tuple[str, int], how_many: int, seed: str, ways: Sequence[str]) -> Iterator[Row]:
    """Yield one trial for each way; of two faults, others are drawn while together they show nothing."""
    case, rng = trials.case_of(*house), Random(seed)
    while True:
        faults, unfelt = trials.drawn_faults(case, rng, how_many)
        rows = [_row(trials.run_trial(case, faults, seed, way), unfelt) for way in ways]
        if rows[0] is not None:
            break
    hidden = how_many > 1 and trials.one_hides_other(case, faults, f"{seed} house")
    yield from (replace(row, hidden=hidden) for row in rows if row is not None)


def _row(trial: Trial | None, unfelt: int) -> Row | None:
    if trial is None:
        return None
    return Row(
        trial.house, tuple(f.kind for f in trial.faults), tuple(f.words for f in trial.faults), trial.seed, trial.way,
        trial.readings, round(trial.minutes, 1), trial.wrong_answers, trial.rank, trial.rank_of_kind,
        trial.one_of_them, trial.group, trial.listed, round(trial.probability, 4), trial.gave_up, trial.said_none,
        trial.best, unfelt, state_of_code(), trial.put_right, trial.repairs, trial.needless, trial.readings_in_all,
    )  # fmt: skip


def _read(kept: Path, *, of_any_state: bool = False) -> Iterator[Row]:
    if kept.exists():
        for line in kept.read_text(encoding="utf-8").splitlines():
            data = json.loads(line)
            if of_any_state or data.get("state") == state_of_code():
                yield Row(**{**data, "kinds": tuple(data["kinds"]), "words": tuple(data["words"])})


@cache
def state_of_code() -> str:
    """Return letters and digits that change with any file of the diagnosis or of the trials."""
    files = [p for p in (ROOT / "src" / "subbase" / "diagnose").rglob("*") if p.suffix in (".py", ".toml")]
    files += [*(ROOT / "tests" / "outside").glob("blind_*.py"), ROOT / "tests" / "outside" / "diagnosis_trials.py"]
    return hashlib.sha256(b"".join(path.read_bytes() for path in sorted(files))).hexdigest()[:12]


def _own_tests(module: str) -> Any:
    """Return a module of this project's tests: another distribution brings a package of the same name, which comes first."""
    if "tests" not in sys.modules:
        own = types.ModuleType("tests")
        own.__path__ = [str(ROOT / "tests")]
        sys.modules["tests"] = own
    return importlib.import_module(module)


def page(rows: Sequence[Row]) -> str:
    """Return the page as Markdown."""
    tool = [row for row in rows if row.way == "tool"]
    singles, doubles = [row for row in tool if row.single], [row for row in tool if not row.single]
    return "\n".join(
        [
            "<!-- Made by `python -m bench.diagnosis_trials`; edit the code, not this page. -->",
            "",
            *_about(tool),
            "## Against what was aimed at",
            "",
            *_table(("What", "Aim", "Measured", "95 % interval"), _aims(singles, doubles)),
            *_ways(rows),
            "## House by house, the tool's own way",
            "",
            *_table(_HEADS, (_figures(name, own) for name, own in _by(tool, lambda r: f"{r.house}{_plural(r)}"))),
            "## Fault by fault, single ones",
            "",
            *_table(_HEADS, (_figures(kind, own) for kind, own in _by(singles, lambda row: row.kinds[0]))),
            *_LEARNED,
            *_misses("single", singles),
            *_misses("double", doubles),
        ]
    )


def _about(tool: Sequence[Row]) -> list[str]:
    singles = [row for row in tool if row.single]
    unfelt = sum(row.unfelt for row in singles)
    return [
        "# Blind trials of the diagnosis",
        "",
        *_part_only(tool),
        "Faults are put into houses that ngspice solves, by a list and with odds that the tool does not know "
        "(`tests/outside/blind_faults.py`). A simulated person (`tests/outside/blind_person.py`) tells the tool the complaint, does "
        "each test it asks for in the ngspice house, and tells the reading. Then the tool's verdict is held against what was put in.",
        "",
        "- The house differs from its survey's nominal values: line within 5 %, loads within 5 %, regulation within 10 %, "
        "copper from 0 to 40 °C, windings from 20 to 100 % of their sealed resistance for direct current, electronics at any "
        "ohms or OL, each control dying at volts of its own. A fuse that a short overloads has melted before anybody comes.",
        "- The meter is 10 Mohm beside 100 pF, within 1 % and 0.2 V, rounded to 0.1 V; an ohmmeter within 2 % and 0.3 ohm. "
        "Between points that no path joins it shows anything from 0 to the supply. Of all answers 5 % are wrong: lead on "
        "another pair, lead not touching, decimal point misread, the other answer. The complaint (displays, and what "
        "is seen in up to two of the calls that fail) is always right.",
        "- Each kind of fault is drawn as often as any other, then its place. Faults that nobody would notice "
        f"({unfelt:,} of {unfelt + len(singles):,} drawn) are drawn again.",
        "- *First* means that the first entry of the ranking names the true part and its true repair: where to go and what to do "
        "there are right. An entry holds what no test on offer tells apart (a tie), and all that the same work at the same part "
        "puts right: a conductor open or with a poor joint (both landings remade); a coil open, with shorted turns or stuck (its "
        "part replaced); a supply too weak or on the wrong tap (its tap looked at, then the transformer replaced). *Kind right "
        "too* is the strict figure: the likeliest of that entry, or one that no test tells from it, is the very kind of fault "
        "that was put in.",
        "- Of two faults both must be named, in one entry. Each alone would have been noticed, yet one may *hide* the other: with it "
        "alone every call, and every display, does the same as with both. No reading of what runs can then find the other "
        "before the first is repaired.",
        "- *Put right in the end*: the person does the repair that is named, and whatever is tied with it; tries every call (which is "
        f"not counted as readings); and when something still fails tells the tool so and goes on, at most {MOST_REPAIRS} "
        "repairs. A repair of what was not broken is a needless one, and the person is not told.",
        "- Readings count every question the tool asked, looks included; the complaint is not counted. After 15 the person gives up.",
        "- All three ways of choosing tests share one belief and one rule of when to stop.",
        "",
        f"Made on {machine()}; seed `{SEED}`; diagnosis and trials in the state `{', '.join(sorted({r.state for r in tool}))}`. To repeat or "
        "go on: `python -m bench.diagnosis_trials --kept FILE`; each trial has a seed of its own, so it is the same whenever it is made.",
        "",
    ]


def _part_only(tool: Sequence[Row]) -> list[str]:
    """Return a warning while the run is not whole."""
    whole = 9 * (SINGLES + DOUBLES) + sum(OF_LARGEST[:2])
    if len(tool) >= whole:
        return []
    houses = len({row.house for row in tool})
    return [
        f"**A part of the run only: {len(tool):,} of {whole:,} trials, in {houses} of ten houses.** Go by the intervals, not by the "
        "shares; the houses that are missing are the larger ones.",
        "",
    ]


_LEARNED = (
    "## What is honestly hard",
    "",
    "Seen while the model was made, on other seeds than this page's:",
    "",
    "- **How bad** a fault is, is not asked: a poor joint is one cause that may be of any ohms from 3 to 3,000, a short of any "
    "from 0.02 to 1.2 at either end of its cable, a transformer of any weakness. The belief is summed over these degrees, and "
    "between two of them the readings are spread as far as the next degree would move them. A relay within 8 % of its pull-in "
    "may do either.",
    "- **Open or poor, open or stuck coil, weak or wrong tap**: below 30 V and from outside some of these can't be told apart at "
    "some degrees, and where they can it changes nothing about where to go and what to do. They are one answer; the strict "
    "figure says how often the kind was right too.",
    "- **A blown fuse and what blew it**: with the fuse open everything is dark, and only ohms tell 'it is over' from a short "
    "that is still there. Each reading rules out a few of many shorts, so this is where most readings go, and a wrong one hurts.",
    "- **A conductor that touches another, or sits on the other's screw** reads alike at most points; one more reading at the far "
    "end tells.",
    "- **Two faults of which one hides the other**: a dead transformer beside a crossed lead. Before the repair there is nothing to "
    "see of the second. So the tool names the first, tells the person to try every call once it is repaired, and takes 'still "
    "not right' as evidence: what was read before the repair still counts, of the house with both.",
    "- Two wrong answers on one part make the truth look worse than a pair of faults, now and then. More readings cure that; the "
    "rule of when to stop weighs them against the time.",
    "",
)


def _aims(singles: Sequence[Row], doubles: Sequence[Row]) -> Iterator[tuple[str, ...]]:
    yield ("single and double faults tried", "2,000 on ten houses", f"{len(singles) + len(doubles):,}", "")
    yield ("single faults first", "97 %", *_rate(row.rank == 1 for row in singles))
    yield ("single faults first, the kind of fault right too", "", *_rate(row.rank_of_kind == 1 for row in singles))
    yield ("single faults in the first three", "", *_rate(0 < row.rank <= 3 for row in singles))
    yield ("readings, single faults: mean", "6 at most", f"{_mean(row.readings for row in singles):.2f}", "")
    yield ("readings, single faults: 95th percentile", "", f"{_percentile([r.readings for r in singles], 0.95)}", "")
    yield ("single faults put right in the end", "", *_rate(row.put_right for row in singles))
    yield ("readings until then: mean", "", f"{_mean(row.readings_in_all for row in singles):.2f}", "")
    yield ("needless repairs in a single fault: mean", "", f"{_mean(row.needless for row in singles):.2f}", "")
    if not doubles:
        return
    open_ones = [row for row in doubles if not row.hidden]
    yield ("double faults in the first three before any repair", "85 %", *_rate(0 < row.rank <= 3 for row in doubles))
    yield ("the same, where neither hides the other", "", *_rate(0 < row.rank <= 3 for row in open_ones))
    yield ("double faults of which one hides the other", "", *_rate(row.hidden for row in doubles))
    yield ("double faults, one of the two in the first entry", "", *_rate(row.one_of_them == 1 for row in doubles))
    yield ("double faults put right in the end, repair and go on", "", *_rate(row.put_right for row in doubles))
    yield ("readings before the first repair: mean", "", f"{_mean(row.readings for row in doubles):.2f}", "")
    yield ("readings until all is right: mean", "", f"{_mean(row.readings_in_all for row in doubles):.2f}", "")
    yield ("needless repairs in a double fault: mean", "", f"{_mean(row.needless for row in doubles):.2f}", "")


def _ways(rows: Sequence[Row]) -> list[str]:
    """Return the comparison of ways on the faults that every way was given."""
    given: dict[str, dict[str, Row]] = {}
    for row in rows:
        given.setdefault(row.seed, {})[row.way] = row
    all_three = [found for found in given.values() if len(found) == len(WAYS)]
    if not all_three:
        return []
    names = {"tool": "the tool's choice", "fixed order": "supply, fuse, common, call, load", "any order": "any order"}
    lines = (_figures(names[way], [found[way] for found in all_three]) for way in WAYS)
    return [
        "## Against two other ways of choosing the next reading",
        "",
        f"The same {len(all_three)} single faults, the same person, the same belief, and the same rule of when to stop; only the "
        "choice of tests differs.",
        "",
        *_table(_HEADS, lines),
    ]


_HEADS = (
    "",
    "Trials",
    "First",
    "First three",
    "Kind right too",
    "Readings: mean",
    "95 %",
    "Minutes: mean",
    "Answers in the entry",
)


def _figures(name: str, rows: Sequence[Row]) -> tuple[str, ...]:
    return (
        name, f"{len(rows)}", _share(row.rank == 1 for row in rows), _share(0 < row.rank <= 3 for row in rows),
        _share(row.rank_of_kind == 1 for row in rows), f"{_mean(row.readings for row in rows):.1f}",
        f"{_percentile([row.readings for row in rows], 0.95)}", f"{_mean(row.minutes for row in rows):.0f}",
        f"{_mean(row.group for row in rows):.1f}",
    )  # fmt: skip


def _misses(what: str, rows: Sequence[Row]) -> list[str]:
    missed = [row for row in rows if row.miss]
    if not missed:
        return []
    why = Counter(row.miss for row in missed)
    confused = Counter((" + ".join(row.kinds), _short(row.best)) for row in missed)
    return [
        f"## The {len(missed)} misses among {len(rows)} {what} faults",
        "",
        *_table(
            ("Why", "Misses", "Of these in the first three"),
            (
                (reason, f"{n}", f"{sum(0 < r.rank <= 3 for r in missed if r.miss == reason)}")
                for reason, n in why.most_common()
            ),
        ),
        "The commonest pairs of what it was and what came first instead:",
        "",
        *_table(
            ("It was", "First came", "Times"),
            ((true, said, f"{n}") for (true, said), n in confused.most_common(SHOWN_MISSES // 2)),
        ),
        f"The first {min(SHOWN_MISSES, len(missed))} in full:",
        "",
        *_table(
            ("House", "It was", "First came", "Worth", "Rank of the truth", "Readings", "Wrong answers"),
            (
                (
                    r.house[:2], "; ".join(r.words), r.best, f"{r.probability:.0%}",
                    f"{r.rank or ('over 25' if r.listed else 'not listed')}", f"{r.readings}", f"{r.wrong_answers}",
                )
                for r in missed[:SHOWN_MISSES]
            ),
        ),
    ]  # fmt: skip


_KIND_WORDS = (
    "poor joint", "is open", "touch", "swapped", "in place of", "shorted turns", "does not act", "never makes", "never opens",
    "wrong primary tap", "is weak", "gives nothing", "is missing", "stands open", "does not run", "changeover", "is set",
    "is dead", "draws far more", "out of phase", "a link joins", "nothing is wrong", "what blew it is over", "welded",
)  # fmt: skip


def _short(words: str) -> str:
    """Return what kind of cause a sentence names, without the part."""
    parts = words.split("; and ")
    return " + ".join(next((kind for kind in reversed(_KIND_WORDS) if kind in part), part[:40]) for part in parts)


def _plural(row: Row) -> str:
    return "" if row.single else ", two faults"


def _by(rows: Iterable[Row], key: Callable[[Row], str]) -> list[tuple[str, list[Row]]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(key(row), []).append(row)
    return sorted(found.items())


def _table(heads: Sequence[str], lines: Iterable[Sequence[str]]) -> list[str]:
    rows = [" | ".join(cell.replace("|", "/") for cell in line) for line in lines]
    return [f"| {' | '.join(heads)} |", f"|{'---|' * len(heads)}", *(f"| {row} |" for row in rows), ""]


def _mean(values: Iterable[float]) -> float:
    found = list(values)
    return sum(found) / len(found) if found else math.nan


def _percentile(values: Sequence[int], share: float) -> int:
    """Return the least value that a share of all do not exceed."""
    return sorted(values)[math.ceil(share * len(values)) - 1] if values else 0


def _share(hits: Iterable[bool]) -> str:
    found = list(hits)
    return f"{sum(found) / len(found):.0%}" if found else "-"


def _rate(hits: Iterable[bool]) -> tuple[str, str]:
    """Return (share, its interval at 95 %) (Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212; from memory)."""
    found = list(hits)
    if not found:
        return "-", ""
    n, p, z = len(found), sum(found) / len(found), 1.959964
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    low, high = ((middle + sign * half) / (1 + z * z / n) for sign in (-1, 1))
    return f"{p:.1%} of {n:,}", f"{low:.1%} to {high:.1%}"


if __name__ == "__main__":
    main()
