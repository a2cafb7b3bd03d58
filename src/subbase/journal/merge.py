"""Two edits of one survey brought together, field by field; where both changed one field, both values are named.

The texts are compared as plain data (``read_tree``), so that two phones that worked on different parts of a house
lose nothing. Comments are kept only where nothing had to be merged; the texts as typed stay in the events.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import yaml

from subbase.errors import InputError
from subbase.survey.yaml_tree import MOST_BYTES, read_tree

WHOLE = ""
"""Field of a clash where a text cannot be read, so that it can only be taken or left whole."""
SETS = frozenset({"signs", "wishes"})
"""Lists whose order means nothing; so are all lists of named fields (jumpers, readings)."""
MOST_SHOWN = 300
"""Characters of a value that a clash repeats."""


class _Absent:
    """Stands for a field that is not there."""


ABSENT: Final = _Absent()


@dataclass(frozen=True, slots=True)
class Clash:
    """One field that two people set to different values."""

    field: str
    """As in the survey file; empty for the whole text."""
    ours: str
    """What stands in the merged text; empty when the field is not there."""
    theirs: str
    """What the later edit wanted."""


@dataclass(frozen=True, slots=True)
class Merged:
    """What comes of two edits."""

    text: str
    clashes: tuple[Clash, ...] = ()


def text_hash(text: str) -> str:
    """Return the SHA-256 by which a survey text is known."""
    return hashlib.sha256(text.encode()).hexdigest()


def merge_texts(base: str, ours: str, theirs: str) -> Merged:
    """Return ``ours`` with what ``theirs`` changed since ``base``; of a field that both changed, ours stays."""
    if theirs in (base, ours):
        return Merged(ours)
    if ours == base:
        return Merged(theirs)
    trees = [_data(text) for text in (base, ours, theirs)]
    if any(tree is None for tree in trees[1:]):
        return Merged(ours, (Clash(WHOLE, _shown(ours), _shown(theirs)),))
    data = [tree if tree is not None else {} for tree in trees]
    clashes: list[Clash] = []
    merged = _merge(*data, path=(), clashes=clashes)
    if merged == data[1]:
        return Merged(ours, tuple(clashes))
    if merged == data[2]:
        return Merged(theirs, tuple(clashes))
    return Merged(written(merged), tuple(clashes))


def fields_changed(before: str, after: str) -> frozenset[str] | None:
    """Return the fields in which two texts differ; None when one of them cannot be read."""
    old, new = _data(before), _data(after)
    if old is None or new is None:
        return None
    found: set[str] = set()
    _differences(old, new, (), found)
    return frozenset(found)


def written(data: Any) -> str:
    """Return plain data as a survey text that reads back the same."""
    text: str = yaml.dump(data, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=110, default_flow_style=None)
    return text if _data(text) == data else json.dumps(data, indent=1, ensure_ascii=False) + "\n"


class _Plain(yaml.SafeDumper):
    """Writes every scalar without quotes where it can, since a survey's scalars are text anyway."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012 - PyYAML's own way to say so

    def ignore_aliases(self, data: Any) -> bool:  # noqa: ARG002
        return True


def _data(text: str) -> Any:
    """Return a text as plain data, or None when it cannot be read or says a thing twice."""
    raw = text.encode()
    if not text.strip() or len(raw) > MOST_BYTES:
        return {} if not text.strip() else None
    try:
        tree = read_tree(raw, "")
    except InputError:
        return None
    return None if tree.faults or not isinstance(tree.data, dict) else tree.data


def _merge(base: Any, ours: Any, theirs: Any, *, path: tuple[str, ...], clashes: list[Clash]) -> Any:
    if theirs in (ours, base):
        return ours
    if ours == base:
        return theirs
    if isinstance(ours, Mapping) and isinstance(theirs, Mapping):
        held = base if isinstance(base, Mapping) else {}
        merged = {}
        for key in (*ours, *(key for key in theirs if key not in ours)):
            parts = [side.get(key, ABSENT) for side in (held, ours, theirs)]
            value = _merge(*parts, path=(*path, str(key)), clashes=clashes)
            if value is not ABSENT:
                merged[key] = value
        return merged
    if _is_set(path, ours, theirs):
        return _merged_items(base if isinstance(base, list) else [], ours, theirs)
    clashes.append(Clash(".".join(path), _shown(ours), _shown(theirs)))
    return ours


def _is_set(path: tuple[str, ...], *lists: Any) -> bool:
    if not all(isinstance(items, list) for items in lists):
        return False
    named = path[-1] in SETS
    return named or all(isinstance(item, Mapping) for items in lists for item in items)


def _merged_items(base: Sequence[Any], ours: Sequence[Any], theirs: Sequence[Any]) -> list[Any]:
    """Return ours without what theirs took out, and with what theirs put in; equal items are counted."""
    merged = list(ours)
    for item in _minus(base, theirs):
        if item in merged:
            merged.remove(item)
    new_here = _minus(ours, base)
    merged.extend(item for item in _minus(_minus(theirs, base), new_here))
    return merged


def _minus(some: Sequence[Any], others: Sequence[Any]) -> list[Any]:
    left = list(some)
    for item in others:
        if item in left:
            left.remove(item)
    return left


def _differences(old: Any, new: Any, path: tuple[str, ...], found: set[str]) -> None:
    if old == new:
        return
    if path:
        found.add(".".join(path))
    if isinstance(old, Mapping) or isinstance(new, Mapping):
        left = old if isinstance(old, Mapping) else {}
        right = new if isinstance(new, Mapping) else {}
        for key in {*left, *right}:
            _differences(left.get(key, ABSENT), right.get(key, ABSENT), (*path, str(key)), found)


def _shown(value: Any) -> str:
    if value is ABSENT:
        return ""
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]} ..."
