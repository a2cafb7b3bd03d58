"""The one door to the PDF engine: a template of this package set from plain data, the same bytes for the same data.

Every PDF is tagged (PDF/UA-1) and fit to be kept (PDF/A-2a); the engine refuses to write one that is not. Nothing is
taken from the clock, the machine or its fonts.
"""

from __future__ import annotations

import datetime
import json
from importlib import resources
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal

from subbase.words import _, current_language


def typeset_pdf(template: str, data: dict[str, Any], *, date: datetime.date) -> bytes:
    """Return a template of this package set as a tagged PDF/A that bears ``date``."""
    # The PDF engine takes a tenth of a second to load; drawings and tables must not wait for it.
    import typst

    midnight = datetime.datetime(date.year, date.month, date.day, tzinfo=datetime.UTC)
    with resources.as_file(resources.files("subbase.papers") / template) as file:
        return typst.compile(
            file,
            format="pdf",
            sys_inputs={"data": _text(data)},
            font_paths=font_paths(),
            ignore_system_fonts=True,
            pdf_standards=["ua-1", "a-2a"],
            timestamp=int(midnight.timestamp()),
        )


def typeset_pictures(template: str, data: dict[str, Any], kind: Literal["svg", "png"], *, ppi: float) -> list[bytes]:
    """Return every page of a template as a picture; letters in an SVG are outlines and need no font where it is opened."""
    import typst

    with resources.as_file(resources.files("subbase.papers") / template) as file:
        # Of several pages the engine returns a list, which its types do not tell.
        found: Any = typst.compile(
            file, format=kind, ppi=ppi, sys_inputs={"data": _text(data)}, font_paths=font_paths(), ignore_system_fonts=True
        )  # fmt: skip
    return found if isinstance(found, list) else [found]


def _text(data: dict[str, Any]) -> str:
    shared = {"lang": current_language(), "page_words": _("page {number} of {count}")}
    return json.dumps(shared | data, ensure_ascii=False)


def font_paths() -> list[Path]:
    """Return the folders of the fonts that papers embed: one for every letter of the languages there are, one behind it.

    Names in other scripts (Greek, Cyrillic, Vietnamese) come from the second; without it the engine's own serif stands in.
    """
    from fontpkg_atkinson_hyperlegible import ROOT

    found = [Path(ROOT) / "files"]
    behind = find_spec("fontpkg_noto_sans")
    if behind is not None and behind.origin is not None:
        found.append(Path(behind.origin).parent / "files")
    return found
