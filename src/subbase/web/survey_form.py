"""What a form sends, brought into a document: each field by the rule of its path, everything else left where it stands.

A form sends every field that it shows. One that says what the document says already changes nothing, so a form sent
back untouched leaves the document as it was, to the letter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from subbase.survey.fields import matches, may_be_unknown
from subbase.web.survey_document import (
    UNKNOWN,
    Document,
    at,
    is_either,
    listed,
    plain,
    put,
    rewrapped,
    split,
    texts,
    words_of,
)
from subbase.web.survey_names import conductor_renamed, renamed
from subbase.web.survey_wires import AS_WRITTEN, with_colour, with_landing

Path = tuple[str, ...]
MOST_TEXT = 2000
MOST_TERMINALS = 40
ASKED = "asked"
"""Sent beside a set, so that an empty one is told from one that was not on the page."""
NONE_SEEN = "none of these"


@dataclass(frozen=True, slots=True)
class Rule:
    """How one value is put."""

    blank: str = ""
    """What a blank field stands for: nothing, or ``unknown``."""
    usual: str = ""
    """What the survey takes for said when nothing is: choosing it leaves nothing behind."""


TEXT, MEASURE = Rule(), Rule(blank=UNKNOWN)
RULES: dict[Path, Rule] = {
    ("name",): TEXT,
    ("units",): Rule(usual="us"),
    ("notes",): TEXT,
    **{("place", word): TEXT for word in ("year_built", "latitude_deg", "longitude_deg")},
    **{("transformers", "*", word): TEXT for word in ("fuse_a", "at", "feeds")},
    ("transformers", "*", "va"): MEASURE,
    ("transformers", "*", "volts"): Rule(usual="24"),
    ("transformers", "*", "class_2"): Rule(usual="yes"),
    ("equipment", "*", "at"): TEXT,
    ("equipment", "*", "role"): Rule(usual="as usual"),
    ("equipment", "*", "zones", "*"): TEXT,
    ("equipment", "*", "nameplate", "*", "*"): TEXT,
    ("controls", "*", "at"): TEXT,
    **{
        ("controls", "*", which, word): rule
        for which in ("old", "new")
        for word, rule in {
            "wiring": Rule(usual="low voltage"),
            # Of a new control 'nothing' must be said: else it would be a mechanical one by default.
            "power": Rule(usual="none" if which == "old" else ""),
            "battery": Rule(usual="no"),
            "supplies": Rule(usual="one"),
            "asleep_va": TEXT,
            "awake_va": TEXT,
            "outputs": Rule(usual="relay"),
            "mercury": Rule(usual="no"),
        }.items()
    },
    ("cables", "*", "from"): TEXT,
    ("cables", "*", "to"): TEXT,
    ("cables", "*", "length"): MEASURE,
    ("cables", "*", "gauge"): Rule(usual="18"),
    ("jumpers", "*", "present"): Rule(usual="yes"),
    **{("readings", "*", word): TEXT for word in ("volts", "ohms", "control")},
    ("readings", "*", "call"): Rule(usual="off"),
}
"""Path (``*`` stands for any name) -> how a single value there is put."""
SETS: tuple[Path, ...] = (
    ("signs",), ("wishes",), ("equipment", "*", "kind"), ("equipment", "*", "serves"), ("equipment", "*", "without"),
    ("controls", "*", "old", "terminals"), ("controls", "*", "new", "terminals"),
)  # fmt: skip
PAIRS: tuple[Path, ...] = (("jumpers", "*", "between"), ("readings", "*", "between"))


def with_fields(document: Document, fields: Iterable[tuple[str, str]]) -> Document:
    """Return the document with what a form sent; fields of no known path are passed over.

    Parameters
    ----------
    fields
        (name, value) as sent. ``f/PATH`` one value, ``s/PATH`` one item of a set, ``p/PATH`` one of a pair,
        ``w/CABLE/CONDUCTOR/END`` a landing, ``c/...`` a colour, ``t/PATH`` more terminals, ``n/PATH`` a new name.
    """
    singles: dict[tuple[str, Path], str] = {}
    many: dict[tuple[str, Path], list[str]] = {}
    for name, value in fields:
        sort, *steps = split(name)
        path = tuple(steps)
        text = value[:MOST_TEXT].replace("\x00", "").strip()
        if sort in _MANY:
            many.setdefault((sort, path), []).append(text)
        elif sort in _SINGLE:
            singles[(sort, path)] = text
    made = document
    # New names come last: every other field still speaks of the old ones.
    for sort in ("s", "p"):
        for (found, path), values in many.items():
            if found == sort:
                made = _MANY[sort](made, path, values)
    for sort in ("f", "w", "c", "t", "n"):
        for (found, path), value in singles.items():
            if found == sort:
                made = _SINGLE[sort](made, path, value)
    return made


def _rule(path: Path) -> Rule | None:
    return next((rule for pattern, rule in RULES.items() if matches(path, pattern)), None)


def _single(document: Document, path: Path, text: str) -> Document:
    rule = _rule(path)
    if rule is None or text == AS_WRITTEN or not _holder_is_there(document, path):
        return document
    before = at(document, *path)
    inner = plain(before)
    if not (inner is None or isinstance(inner, str) or is_either(inner)) or text in (words_of(before), inner):
        return document
    if before is None and text == rule.usual:
        return document
    value: Any = text or rule.blank
    if value in ("", rule.usual):
        value = None
    marks = tuple(int(step) if step.isdigit() and n == 1 else step for n, step in enumerate(path))
    if isinstance(value, str) and " or " in value and may_be_unknown(marks):
        value = {"either": [item.strip() for item in value.split(" or ") if item.strip()]}
    row = at(document, *path[:2])
    if path[0] == "jumpers" and isinstance(row, list):
        # The short way of writing a jumper has no room for more than its two terminals.
        return document if value is None else put(document, path[:2], {"between": row, path[2]: value})
    return put(document, path, rewrapped(before, value))


def _holder_is_there(document: Document, path: Path) -> bool:
    """Return whether the named thing that a field belongs to is still there; a field never brings one back."""
    if len(path) > 1 and path[0] in ("controls", "equipment", "transformers", "cables"):
        held = at(document, *path[:2])
        if path[0] == "controls" and len(path) == 4:
            return isinstance(at(held, path[2]), dict)
        return isinstance(held, dict)
    return path[0] not in ("jumpers", "readings") or at(document, *path[:2]) is not None


def _set(document: Document, path: Path, values: list[str]) -> Document:
    if not any(matches(path, pattern) for pattern in SETS) or not _holder_is_there(document, path):
        return document
    chosen = [value for value in dict.fromkeys(values) if value not in (ASKED, "")]
    if path[-1] == "kind":
        return _kinds(document, path, chosen)
    none_seen = NONE_SEEN in chosen
    chosen = [value for value in chosen if value != NONE_SEEN]
    before = listed(document, *path)
    if sorted(chosen) == sorted(set(texts(before))) and (before or not none_seen):
        return document if before or path[-1] != "signs" else put(document, path, None)
    kept = [item for item in texts(before) if item in chosen]
    made = [*kept, *(item for item in chosen if item not in kept)]
    keeps_empty = path[-1] == "terminals" or none_seen
    return put(document, path, made if made or keeps_empty else None)


def _kinds(document: Document, path: Path, chosen: list[str]) -> Document:
    before = plain(at(document, *path))
    held = (
        [str(item) for item in before["either"]] if is_either(before) else [before] if isinstance(before, str) else []
    )
    if sorted(held) == sorted(chosen):
        return document
    value: Any = {"either": chosen} if len(chosen) > 1 else chosen[0] if chosen else UNKNOWN
    return put(document, path, value)


def _pair(document: Document, path: Path, values: list[str]) -> Document:
    if not any(matches(path, pattern) for pattern in PAIRS) or len(values) != 2:
        return document
    row = at(document, *path[:2])
    if isinstance(row, list):
        return document if row == values else put(document, path[:2], values)
    if not isinstance(row, dict) or at(row, "between") == values:
        return document
    return put(document, path, values)


def _landing(document: Document, path: Path, value: str) -> Document:
    return with_landing(document, (path[0], path[1], path[2]), value) if len(path) == 3 else document


def _colour(document: Document, path: Path, value: str) -> Document:
    return with_colour(document, (path[0], path[1], path[2]), value) if len(path) == 3 else document


def _more_terminals(document: Document, path: Path, text: str) -> Document:
    """Put further terminals, as marked, at the end of a list."""
    before = list(texts(listed(document, *path)))
    added = [word[:20] for word in text.replace(",", " ").split() if word not in before]
    if not added or not matches(path, ("controls", "*", "*", "terminals")) or not _holder_is_there(document, path):
        return document
    return put(document, path, [*before, *dict.fromkeys(added)][:MOST_TERMINALS])


def _name(document: Document, path: Path, text: str) -> Document:
    if len(path) == 4 and path[0] == "cables" and path[2] == "conductors":
        return conductor_renamed(document, path[1], path[3], text)
    return renamed(document, path[0], path[1], text) if len(path) == 2 else document


_MANY: Mapping[str, Callable[[Document, Path, list[str]], Document]] = {"s": _set, "p": _pair}
_SINGLE: Mapping[str, Callable[[Document, Path, str], Document]] = {
    "f": _single, "w": _landing, "c": _colour, "t": _more_terminals, "n": _name,
}  # fmt: skip
