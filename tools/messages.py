"""Bring the message catalogues up to what the code says: ``python -m tools.messages``; ``--check`` only tells what is amiss.

Messages are gathered from ``_``, ``plural`` and ``mark`` in Python and from ``_`` in templates. The catalogues are
standard gettext files: ``src/subbase/locale/LANGUAGE/LC_MESSAGES/subbase.po``, and ``.mo`` made from it.
"""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from subbase.words import LANGUAGES

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "subbase"
LOCALE = SOURCE / "locale"
KEYWORDS = {"_": None, "mark": None, "plural": (1, 2)}
METHODS = [("**.py", "python"), ("web/templates/**.html", "jinja2.ext:babel_extract")]
_FIELD = re.compile(r"\{([^{}]*)\}")


def template() -> Catalog:
    """Return every message of the code."""
    catalog = Catalog(project="subbase", charset="utf-8")
    options = {"**.html": {"trimmed": "true"}}
    for file, line, message, comments, _ in extract_from_dir(SOURCE, METHODS, options, keywords=KEYWORDS):
        catalog.add(message, locations=[(file, line)], auto_comments=comments)
    return catalog


def brought_up(code: str, source: Catalog) -> Catalog:
    """Return a language's catalogue with all messages of the code and none that the code has no more."""
    file = po_file(code)
    found = read_po(io.BytesIO(file.read_bytes()), locale=code) if file.exists() else Catalog(locale=code)
    found.update(source, no_fuzzy_matching=True)
    found.obsolete.clear()
    return found


def amiss(code: str, source: Catalog) -> Iterator[str]:
    """Yield what is wrong with a catalogue: messages not translated, not used any more, or with other fields."""
    found = read_po(io.BytesIO(po_file(code).read_bytes()), locale=code)
    wanted = {message.id for message in source if message.id}
    there = {message.id: message for message in found if message.id}
    yield from (f"{code}: not in the catalogue: {name(message)}" for message in wanted - there.keys())
    yield from (f"{code}: not used any more: {name(message)}" for message in there.keys() - wanted)
    for message in there.values():
        texts = [
            text or "" for text in (message.string if isinstance(message.string, tuple | list) else (message.string,))
        ]
        if not all(texts):
            yield f"{code}: not translated: {name(message.id)}"
        elif any(fields(text) - fields_of(message.id) for text in texts) or fields_of(message.id) != fields(texts[-1]):
            yield f"{code}: other fields in braces: {name(message.id)}"
    if mo_bytes(found) != mo_file(code).read_bytes():
        yield f"{code}: subbase.mo is not made from this subbase.po; run 'python -m tools.messages'."


def done(string: object) -> bool:
    """Return whether a message is translated, in every form that it has."""
    return all(string) if isinstance(string, tuple | list) else bool(string)


def name(message: object) -> str:
    """Return a message as it is shown in a complaint."""
    return repr(message[0] if isinstance(message, tuple | list) else message)


def fields(text: str) -> set[str]:
    """Return the names in braces; what is doubled is no field."""
    return set(_FIELD.findall(text.replace("{{", "").replace("}}", "")))


def fields_of(message: object) -> set[str]:
    """Return the names in braces of a message, of its last form where it has several."""
    return fields(str(message[-1] if isinstance(message, tuple | list) else message))


def po_file(code: str) -> Path:
    """Return where a language's messages are."""
    return LOCALE / code / "LC_MESSAGES" / "subbase.po"


def mo_file(code: str) -> Path:
    """Return where they are for the program."""
    return po_file(code).with_suffix(".mo")


def mo_bytes(catalog: Catalog) -> bytes:
    """Return a catalogue as the program reads it."""
    stream = io.BytesIO()
    write_mo(stream, catalog)
    return stream.getvalue()


def main() -> int:
    """Write the catalogues, or only check them."""
    source = template()
    others = [code for code in LANGUAGES if code != "en"]
    if "--check" in sys.argv:
        complaints = [line for code in others for line in amiss(code, source)]
        print("\n".join(complaints) or f"{len(source)} messages, translated in {', '.join(others)}.")
        return 1 if complaints else 0
    for code in others:
        found = brought_up(code, source)
        stream = io.BytesIO()
        write_po(stream, found, sort_output=True, width=0, no_location=True, omit_header=False)
        text = re.sub(
            rb'"(POT-Creation-Date|PO-Revision-Date|Generated-By|Last-Translator|Language-Team|Report-Msgid-Bugs-To):[^\n]*\n',
            b"",
            stream.getvalue(),
        )
        po_file(code).parent.mkdir(parents=True, exist_ok=True)
        po_file(code).write_bytes(text)
        again = read_po(io.BytesIO(text), locale=code)
        mo_file(code).write_bytes(mo_bytes(again))
        missing = sum(
            1
            for message in again
            if message.id and not (all(message.string) if isinstance(message.string, tuple | list) else message.string)
        )
        print(f"{code}: {len(again)} messages, {missing} not translated.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
