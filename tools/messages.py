"""Bring the message catalogues up to what the code says: ``python -m tools.messages``; ``--check`` only tells what is amiss.

Messages are gathered by ``message_sources``. The catalogues are standard gettext files:
``src/subbase/locale/LANGUAGE/LC_MESSAGES/subbase.po``, and ``.mo`` made from it. ``--template FILE`` writes the messages
alone, as a .pot file for a new language.
"""

from __future__ import annotations

import datetime
import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from subbase.words import LANGUAGES
from tools.message_sources import NotAMessage, messages

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "subbase"
LOCALE = SOURCE / "locale"
_NO_DATE = datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)
_NOT_KEPT = re.compile(
    rb'"(POT-Creation-Date|PO-Revision-Date|Generated-By|Last-Translator|Language-Team|Report-Msgid-Bugs-To):[^\n]*\n'
)


def template() -> Catalog:
    """Return every message of the code.

    Raises
    ------
    NotAMessage
        When something is asked for that no catalogue can hold.
    """
    catalog = Catalog(project="subbase", charset="utf-8")
    for file, line, message in messages():
        catalog.add(message, locations=[(str(file.relative_to(ROOT)), line)])
    return catalog


def brought_up(code: str, source: Catalog) -> Catalog:
    """Return a language's catalogue with all messages of the code and none that the code has no more."""
    file = po_file(code)
    found = read_po(io.BytesIO(file.read_bytes()), locale=code) if file.exists() else Catalog(locale=code)
    found.update(source, no_fuzzy_matching=True)
    found.obsolete.clear()
    found.project, found.version, found.fuzzy = "subbase", "1", False
    found.header_comment = (
        f"# The sentences of subbase in {LANGUAGES[code]}; words of the trade as in locale/terms.toml."
    )
    return found


def amiss(code: str, source: Catalog) -> Iterator[str]:
    """Yield what is wrong with a language: its catalogue, message by message, and the file made from it."""
    if not po_file(code).exists():
        yield f"{code}: there is no catalogue; run 'python -m tools.messages'."
        return
    raw = po_file(code).read_bytes()
    found = read_po(io.BytesIO(raw), locale=code)
    yield from (f"{code}: {line}" for line in amiss_in(found, source))
    if not mo_file(code).exists() or mo_bytes(found) != mo_file(code).read_bytes():
        yield f"{code}: subbase.mo is not made from this subbase.po; run 'python -m tools.messages'."


def amiss_in(found: Catalog, source: Catalog) -> Iterator[str]:
    """Yield what is wrong with a catalogue against the messages of the code."""
    wanted = {message.id for message in source if message.id}
    there = {message.id: message for message in found if message.id}
    yield from (f"not in the catalogue: {name(message)}" for message in sorted(wanted - there.keys(), key=name))
    yield from (f"not used any more: {name(message)}" for message in sorted(there.keys() - wanted, key=name))
    yield from (f"kept though obsolete: {name(message)}" for message in found.obsolete)
    for message in there.values():
        yield from (f"{what}: {name(message.id)}" for what in amiss_with(message, found.num_plurals))


def amiss_with(message: Message, plurals: int) -> Iterator[str]:
    """Yield what is wrong with one translated message."""
    texts, ids = _texts(message.string), _texts(message.id)
    if message.fuzzy:
        yield "marked fuzzy, so not used"
    if not texts or not all(texts):
        yield "not translated"
        return
    if len(ids) > 1 and len(texts) != plurals:
        yield f"needs {plurals} forms for counts, has {len(texts)}"
    wanted, known = fields(ids[-1]), frozenset[str]().union(*map(fields, ids))
    for text in texts:
        given = fields(text)
        # The form for one may leave its count out, as 'one step is left'.
        if given - known or (wanted - given if len(ids) == 1 or text == texts[-1] else ()):
            yield f"fields in braces are {shown(given)}, not {shown(wanted)}"
        if text != text.strip() or text.count("\n") != ids[-1].count("\n"):
            yield "blanks at an end, or other line breaks"


def unsound(source: Catalog) -> Iterator[str]:
    """Yield messages of the code that no translator can do right: cut at a blank, or with fields that have no name."""
    for message in source:
        for text in _texts(message.id):
            if text != text.strip():
                yield f"begins or ends with a blank, so it is a piece of a sentence: {name(message.id)}"
            if any(not field or field.isdigit() for field in fields(text)):
                yield f"has a field without a name: {name(message.id)}"


def _texts(found: object) -> tuple[str, ...]:
    """Return the forms of a message, or of its translation, as texts."""
    return tuple(str(text or "") for text in (found if isinstance(found, tuple | list) else (found,)))


def name(message: object) -> str:
    """Return a message as it is shown in a complaint."""
    return repr(message[0] if isinstance(message, tuple | list) else message)


def fields(text: str) -> frozenset[str]:
    """Return the names in braces; what is doubled is no field; text that is not meant for ``format`` has none."""
    try:
        return frozenset(part[1] for part in Formatter().parse(text) if part[1] is not None)
    except ValueError:
        return frozenset()


def shown(names: frozenset[str]) -> str:
    """Return names of fields as a complaint lists them."""
    return ", ".join(sorted(names)) or "none"


def po_file(code: str) -> Path:
    """Return where a language's messages are."""
    return LOCALE / code / "LC_MESSAGES" / "subbase.po"


def mo_file(code: str) -> Path:
    """Return where they are for the program."""
    return po_file(code).with_suffix(".mo")


def mo_bytes(catalog: Catalog) -> bytes:
    """Return a catalogue as the program reads it, the same every time."""
    catalog.creation_date = catalog.revision_date = _NO_DATE
    stream = io.BytesIO()
    write_mo(stream, catalog)
    return stream.getvalue()


def po_bytes(catalog: Catalog) -> bytes:
    """Return a catalogue as translators read it, the same every time."""
    stream = io.BytesIO()
    write_po(stream, catalog, sort_output=True, width=0, no_location=True, omit_header=False)
    return _NOT_KEPT.sub(b"", stream.getvalue())


def main() -> int:
    """Write the catalogues, or only check them."""
    try:
        source = template()
    except NotAMessage as error:
        print(error)
        return 1
    others = [code for code in LANGUAGES if code != "en"]
    if "--template" in sys.argv:
        file = Path(sys.argv[sys.argv.index("--template") + 1])
        file.write_bytes(po_bytes(source))
        print(f"{len(source)} messages in {file}.")
        return 0
    if "--check" in sys.argv:
        complaints = [*unsound(source), *(line for code in others for line in amiss(code, source))]
        print(
            "\n".join(complaints) or f"{len(source)} messages, translated in {', '.join(others) or 'no language yet'}."
        )
        return 1 if complaints else 0
    for code in others:
        found = brought_up(code, source)
        po_file(code).parent.mkdir(parents=True, exist_ok=True)
        po_file(code).write_bytes(po_bytes(found))
        again = read_po(io.BytesIO(po_file(code).read_bytes()), locale=code)
        mo_file(code).write_bytes(mo_bytes(again))
        missing = sum(
            "not translated" in set(amiss_with(message, again.num_plurals)) for message in again if message.id
        )
        print(f"{code}: {len(again)} messages, {missing} not translated.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
