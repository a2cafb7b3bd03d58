"""Prior odds from a file that anybody may edit: ``odds.toml``, all of it judgement and said to be."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any

from subbase.diagnose.hypothesis import FAULT_KINDS
from subbase.errors import Fault, InputError
from subbase.files import read_at_most
from subbase.survey.faults import nearest
from subbase.words import _

MOST_BYTES = 200_000


@dataclass(frozen=True, slots=True)
class Odds:
    """Prior odds of every kind of fault, and what history makes of them."""

    of_kind: Mapping[str, float]
    doubles: float
    """Share of cases with two faults at once."""
    none_of_these: float
    """Share of cases with what is not listed."""
    history: Mapping[str, Mapping[str, float]]
    """Words -> kind -> factor on its odds."""

    def factor(self, kind: str, words: Iterable[str]) -> float:
        """Return what a history does to the odds of a kind."""
        factor = 1.0
        for word in words:
            factor *= self.history.get(word, {}).get(kind, 1.0)
        return factor


def load_odds(path: Path | None = None) -> Odds:
    """Return the prior odds in a file, or those that come with the package.

    Raises
    ------
    InputError
        When the file cannot be read, is too large or not TOML, lacks a kind, or holds what is no number above 0.
    """
    return _built_in() if path is None else _read(read_at_most(path, MOST_BYTES), str(path))


def built_in_text() -> str:
    """Return the file of odds that comes with the package, to begin one's own from."""
    return (resources.files("subbase.diagnose") / "odds.toml").read_text(encoding="utf-8")


@cache
def _built_in() -> Odds:
    return _read(built_in_text().encode(), "odds.toml")


def _read(raw: bytes, file: str) -> Odds:
    if len(raw) > MOST_BYTES:
        message = _("The file is larger than {most_bytes} bytes.").format(most_bytes=MOST_BYTES)
        raise InputError((Fault(message, file=file),))
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except ValueError as error:
        raise InputError((Fault(_("This is not readable TOML: {error}.").format(error=error), file=file),)) from None
    faults: list[Fault] = []
    of_kind = _numbers(data.get("odds"), "odds", file, faults)
    faults += [
        Fault(_("This kind of fault has no odds; give it a number above 0."), where=f"odds.{kind}", file=file)
        for kind in FAULT_KINDS
        if kind not in of_kind
    ]
    shares = _numbers(data.get("shares"), "shares", file, faults, kinds=("doubles", "none_of_these"), most=0.5)
    history = data.get("history")
    told = {
        word: _numbers(factors, f"history.{word}", file, faults)
        for word, factors in (history.items() if isinstance(history, dict) else ())
    }
    if faults:
        raise InputError(tuple(faults))
    return Odds(
        MappingProxyType(of_kind),
        shares.get("doubles", 0.0),
        shares.get("none_of_these", 0.0),
        MappingProxyType({word: MappingProxyType(factors) for word, factors in told.items()}),
    )


def _numbers(
    table: Any,
    where: str,
    file: str,
    faults: list[Fault],
    *,
    kinds: tuple[str, ...] = FAULT_KINDS,
    most: float = 1e6,
) -> dict[str, float]:
    if not isinstance(table, dict):
        faults.append(Fault(_("This table is missing; see the odds.toml that comes with the package."), where, file))
        return {}
    found = {}
    for word, number in table.items():
        if word not in kinds:
            faults.append(
                Fault(
                    _("'{word}' is not known here; {nearest}").format(word=word, nearest=nearest(word, list(kinds))),
                    f"{where}.{word}",
                    file,
                )
            )
        elif isinstance(number, bool) or not isinstance(number, int | float) or not 0.0 < number <= most:
            faults.append(
                Fault(_("Expected a number above 0 and at most {most:g}.").format(most=most), f"{where}.{word}", file)
            )
        else:
            found[word] = float(number)
    return found
