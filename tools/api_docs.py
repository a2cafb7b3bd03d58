"""The reference page of the HTTP API, made from the OpenAPI document that the app serves."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from subbase.web.api_problem import PROBLEMS, type_of
from subbase.web.api_schema import ABOUT, operations, schema

PAGE = Path(__file__).parents[1] / "docs" / "reference" / "api.md"
MADE = "<!-- Made by `make docs` from the code; edit the code, not this page. -->\n\n"
TITLES = {
    "jobs": "Jobs and their entries",
    "survey and plan": "Survey, and what follows from it",
    "files": "Photos, papers, whole jobs",
    "catalogue": "Kinds of equipment",
    "about": "This description",
}


def pages() -> dict[Path, str]:
    """Return the made page by its path."""
    return {PAGE: MADE + api_page()}


def api_page() -> str:
    """Return every operation, problem and shape as Markdown."""
    return "\n".join([*_head(), *_operations(), *_problems(), *_shapes()]) + "\n"


def _head() -> Iterator[str]:
    yield from ("# The HTTP API, version 1", "", ABOUT.strip(), "")
    yield "The app serves the same as OpenAPI 3.1 at `/api/v1/openapi.json`, and as a page at `/api/v1/docs`. How to begin:"
    yield from ("[use the API](../how-to/use-the-api.md).", "")


def _operations() -> Iterator[str]:
    found = operations()
    for tag in dict.fromkeys(item.tag for item in found):
        yield from (f"## {TITLES.get(tag, tag.capitalize())}", "")
        for item in found:
            if item.tag != tag:
                continue
            yield from (f"### {item.method} `{item.path}`", "", f"{item.summary}. {item.about}".strip(), "")
            if item.asks:
                yield from ("| May be sent | Where | Meaning |", "|---|---|---|")
                yield from (f"| `{name}` | {where} | {_cell(about)} |" for name, where, about in item.asks)
                yield ""
            if item.takes:
                yield from (f"Takes {_linked(item.takes)}.", "")
            yield from (f"- {status}: {_linked(about)}" for status, about in item.answers)
            yield ""


def _problems() -> Iterator[str]:
    yield from (
        "## Problems",
        "",
        "Everything that goes wrong is `application/problem+json` (RFC 9457), a [Problem](#problem).",
        "",
    )
    yield from ("| Status | `type` | Meaning |", "|---:|---|---|")
    yield from (
        f"| {status} | `{type_of(status)}` | {_cell(meaning)} |" for status, (_slug, meaning) in PROBLEMS.items()
    )
    yield ""


def _shapes() -> Iterator[str]:
    yield from ("## Shapes", "", "A field without a mark may be left out; **bold** ones are always there.", "")
    for name, shape in sorted(schema()["components"]["schemas"].items()):
        fields: dict[str, Any] = shape.get("properties", {})
        yield from (f"### {name}", "")
        about = " ".join(str(shape.get("description", "")).split())
        if about:
            yield from (about, "")
        if not fields:
            continue
        needed = set(shape.get("required", ()))
        yield from ("| Field | Is | Meaning |", "|---|---|---|")
        for field, told in fields.items():
            shown = f"**`{field}`**" if field in needed else f"`{field}`"
            yield f"| {shown} | {_cell(_kind(told))} | {_cell(str(told.get('description', '')))} |"
        yield ""


def _kind(told: dict[str, Any]) -> str:
    if "$ref" in told:
        return _link(str(told["$ref"]).rpartition("/")[2])
    for word in ("anyOf", "oneOf"):
        if word in told:
            return " or ".join(dict.fromkeys(_kind(part) for part in told[word]))
    if "const" in told:
        return f"`{told['const']}`"
    if "enum" in told:
        return ", ".join(f"`{value}`" for value in told["enum"])
    if told.get("type") == "array":
        inner = told.get("items", {})
        return f"list of {_kind(inner)}" if inner else "list"
    return str(told.get("format") or told.get("type", "anything"))


def _link(name: str) -> str:
    return f"[{name}](#{name.lower()})"


def _linked(text: str) -> str:
    """Return words in which a shape, in brackets, is linked."""
    before, bracket, rest = text.partition(" (")
    name, closed, after = rest.partition(")")
    if not (bracket and closed and name in schema()["components"]["schemas"]):
        return text
    return f"{before}: {_link(name)}{_linked(after)}"


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


__all__ = ["api_page", "pages"]
