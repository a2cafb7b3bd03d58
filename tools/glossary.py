"""Write docs/glossary.md from the terms that translations keep to: ``python -m tools.glossary``; ``--check`` only compares."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

from tools import own_labels

ROOT = Path(__file__).parents[1]
TERMS = ROOT / "src" / "subbase" / "locale" / "terms.toml"
PAGE = ROOT / "docs" / "glossary.md"
KINDS = {
    "trade": "Words of the trade",
    "standard": "Words of standards",
    "own": "Words of this program",
}
_HEAD = """# Glossary

Every translation keeps to these words: English as the messages have it, Spanish as the trade speaks it in the United
States and Mexico. A word of the trade has no published source, and says so; nobody of the trade who speaks Spanish first
has read this list yet. Made by `python -m tools.glossary` from `src/subbase/locale/terms.toml`.
"""
_LABELS = """Commands, options, stages, headings, survey fields and words with a meaning, gathered from the code and read through: no
label, layout or colour code is taken from a product made for this job. *trade*: used by the trade at large. *standard*: of an
open standard, or common use in programs of every sort. *own*: plain English of our own.
"""


def page() -> str:
    """Return the glossary as Markdown."""
    terms = tomllib.loads(TERMS.read_text("utf-8"))["term"]
    lines = [_HEAD]
    for kind, title in KINDS.items():
        lines += [f"## {title}", "", "| English | Spanish | Source |", "|---|---|---|"]
        for term in sorted((t for t in terms if t["kind"] == kind), key=lambda t: t["en"].lower()):
            note = f" ({term['note']})" if "note" in term else ""
            lines.append(f"| {term['en']} | {term['es']}{note} | {term['source']} |")
        lines.append("")
    lines += ["## Labels", "", _LABELS]
    marked = own_labels.marks()
    for kind in KINDS:
        said = ", ".join(f"`{label}`" for label in sorted((x for x in marked if marked[x] == kind), key=str.lower))
        lines += [f"**{kind}**: {said}", ""]
    return "\n".join(lines)


def main() -> int:
    """Write the page, or tell whether it is as the terms have it."""
    if "--check" in sys.argv:
        same = PAGE.exists() and PAGE.read_text("utf-8") == page()
        print(
            "docs/glossary.md is as the terms have it."
            if same
            else "docs/glossary.md is old; run 'python -m tools.glossary'."
        )
        return 0 if same else 1
    PAGE.write_text(page(), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
