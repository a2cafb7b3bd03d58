"""The fields of a sheet of readings, whatever they mean: lists, single values and free words, each fault kept where it stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from subbase.errors import Fault
from subbase.survey.faults import nearest
from subbase.survey.yaml_tree import Path, Tree, plain_words
from subbase.words import _
from subbase.work.taken_values import NOT_KNOWN, WrongValue

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class FieldReader:
    """Reads the fields of one tree; ``faults`` grows."""

    tree: Tree
    faults: list[Fault]

    def fault(self, path: Path, message: str) -> None:
        """Keep a fault."""
        self.faults.append(self.tree.fault(path, message))

    def only(self, path: Path, data: dict[str, Any], words: Sequence[str]) -> None:
        """Keep a fault for each field that is not known."""
        for word in data:
            if word not in words:
                self.fault(
                    (*path, word),
                    _("'{word}' is not a field here; {nearest}").format(
                        word=plain_words(word), nearest=nearest(word, list(words))
                    ),
                )

    def items(self, word: str, read: Callable[[Path, dict[str, Any]], T | None]) -> Iterator[T]:
        """Yield what can be read of a list."""
        data = self.tree.data.get(word)
        if data in (None, ""):
            return
        if not isinstance(data, list):
            self.fault((word,), _("'{word}' is a list: one item for each, each with its own fields.").format(word=word))
            return
        for index, item in enumerate(data):
            path: Path = (word, index)
            if not isinstance(item, dict):
                self.fault(
                    path,
                    _("Item {index} of '{word}' has no fields; expected named fields.").format(
                        index=index + 1, word=word
                    ),
                )
                continue
            found = read(path, item)
            if found is not None:
                yield found

    def value(self, path: Path, data: dict[str, Any], word: str, read: Callable[[str], T]) -> T | None:
        """Return one field read, None when it is left out, empty, not known or wrong."""
        written = data.get(word)
        if written is None or written == "":
            return None
        if not isinstance(written, str):
            self.fault(
                (*path, word),
                _("'{word}' is one value, not a {isinstance}.").format(
                    word=word, isinstance="list" if isinstance(written, list) else "set of fields"
                ),
            )
            return None
        if written.strip().lower() in NOT_KNOWN:
            return None
        try:
            return read(written.strip())
        except WrongValue as wrong:
            self.fault((*path, word), str(wrong))
            return None

    def text(self, path: Path, data: dict[str, Any], word: str) -> str:
        """Return a field of free words."""
        written = data.get(word) or ""
        if not isinstance(written, str):
            self.fault(path, _("'{word}' is plain words.").format(word=word))
            return ""
        return written
