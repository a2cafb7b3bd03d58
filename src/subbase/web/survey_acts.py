"""What the buttons of the survey page do to a document: add a part, take one out, fill in a usual set."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from subbase.catalog import Catalog
from subbase.web.survey_document import (
    UNKNOWN,
    Document,
    anchor,
    at,
    fresh_name,
    listed,
    named,
    names_used,
    put,
    split,
)
from subbase.web.survey_names import removed
from subbase.web.survey_wires import ONE_COLOUR
from subbase.words import _, mark

Args = tuple[str, ...]
USUAL_OLD: tuple[tuple[str, ...], ...] = (
    ("R", "W"), ("R", "W", "G"), ("R", "W", "Y", "G"), ("R", "C", "W", "Y", "G"), ("R", "C", "Y", "G", "O", "W1"),
)  # fmt: skip
USUAL_NEW: tuple[tuple[str, ...], ...] = (("R", "C", "W1", "W2", "Y1", "Y2", "G", "O/B"), ("R", "C", "W"))
USUAL_DRAW_VA = ("0.6", "3")
"""Asleep and awake, of a connected control (judgement; the maker's sheet overrides)."""
GROUP_NAME = {
    "heating": mark("furnace"), "cooling": mark("outdoor"), "heat pump": mark("outdoor"), "air handler": mark("handler"),
    "hydronic": mark("boiler"), "zoning": mark("panel"), "adapter": mark("adapter"), "power": mark("transformer"),
}  # fmt: skip
KIND_NAME = {
    "humidifier": mark("humidifier"), "dehumidifier": mark("dehumidifier"), "ventilator": mark("damper"),
    "float-switch": mark("float switch"), "limit-switch": mark("limit switch"), "fan-centre": mark("fan centre"),
    "isolation-relay": mark("relay"), "circulator-relay": mark("relay"), "electric-heat-relay": mark("heat relay"),
    "zone-valve-heat-motor": mark("valve"), "zone-valve-motor": mark("valve"), "packaged-unit-gas": mark("unit"),
    "packaged-unit-heat-pump-o": mark("unit"),
}  # fmt: skip
MOST_PARTS = 60
"""Of one sort in a document; the pages of a house never need so many."""


def act(document: Document, name: str, inputs: Mapping[str, str], catalog: Catalog) -> tuple[Document, str]:
    """Return the document after a button, and the id of the place on the page to go to next.

    Parameters
    ----------
    name
        As ``survey_document.joined`` made it: what to do, then what with. One that is not known changes nothing.
    inputs
        Fields of the form that belong to buttons (``x/...``).
    """
    what, *args = split(name)
    if what == "add-equipment":
        return _equipment(document, tuple(args), catalog)
    found = _ACTS.get(what)
    return found(document, tuple(args), inputs) if found is not None else (document, "")


def _room(document: Document, group: str) -> bool:
    return len(named(document, group)) < MOST_PARTS


def _equipment(document: Document, args: Args, catalog: Catalog) -> tuple[Document, str]:
    kind = catalog.get(args[0]) if args else None
    if kind is None or not _room(document, "equipment"):
        return document, ""
    wanted = _(KIND_NAME.get(kind.kind) or GROUP_NAME.get(kind.group) or kind.kind)
    name = fresh_name(wanted, names_used(document))
    return put(document, ("equipment", name), {"kind": kind.kind}), "equipment"


def _control(document: Document, args: Args, inputs: Mapping[str, str]) -> tuple[Document, str]:
    wanted = (args[0] if args else "") or inputs.get("x/control", "")
    if not wanted.strip() or not _room(document, "controls"):
        return document, "controls"
    name = fresh_name(wanted, names_used(document))
    return put(document, ("controls", name), {"old": {"terminals": []}, "new": {"terminals": []}}), "controls"


def _transformer(document: Document, __: Args, ___: Mapping[str, str]) -> tuple[Document, str]:
    if not _room(document, "transformers"):
        return document, ""
    name = fresh_name(_("transformer"), names_used(document))
    return put(document, ("transformers", name), {"va": UNKNOWN}), "transformers"


def _cable(document: Document, args: Args, inputs: Mapping[str, str]) -> tuple[Document, str]:
    ends = args if len(args) == 2 else (inputs.get("x/from", ""), inputs.get("x/to", ""))
    if not all(ends) or ends[0] == ends[1] or not _room(document, "cables"):
        return document, "cables"
    name = fresh_name(_("{first} to {second}").format(first=ends[0], second=ends[1]), names_used(document))
    made = {"from": ends[0], "to": ends[1], "length": UNKNOWN, "conductors": {}}
    return put(document, ("cables", name), made), "cables"


def _conductor(document: Document, args: Args, inputs: Mapping[str, str]) -> tuple[Document, str]:
    if not args or not isinstance(at(document, "cables", args[0]), dict):
        return document, ""
    cable = args[0]
    colour = args[1] if len(args) > 1 else _striped(inputs, cable)
    held = named(document, "cables", cable, "conductors")
    if not colour or len(held) >= MOST_PARTS:
        return document, ""
    name = fresh_name(colour, set(held))
    # Where it lands is never guessed from its colour.
    return put(document, ("cables", cable, "conductors", name), UNKNOWN), anchor("cables", cable)


def _striped(inputs: Mapping[str, str], cable: str) -> str:
    base, stripe = inputs.get(f"x/base/{cable}", ""), inputs.get(f"x/stripe/{cable}", "")
    return f"{base}-{stripe}" if base in ONE_COLOUR and stripe in ONE_COLOUR and base != stripe else ""


def _terminals(document: Document, args: Args, __: Mapping[str, str]) -> tuple[Document, str]:
    if len(args) < 3 or args[1] not in ("old", "new") or not isinstance(at(document, "controls", *args[:2]), dict):
        return document, ""
    control, which, terminals = args[0], args[1], list(args[2:])
    made = put(document, ("controls", control, which, "terminals"), terminals)
    if which == "new" and "C" in terminals:
        for word, value in (("power", "common"), ("asleep_va", USUAL_DRAW_VA[0]), ("awake_va", USUAL_DRAW_VA[1])):
            if at(made, "controls", control, which, word) is None:
                made = put(made, ("controls", control, which, word), value)
    return made, anchor("controls", control)


def _replace(document: Document, args: Args, __: Mapping[str, str]) -> tuple[Document, str]:
    if not args or not isinstance(at(document, "controls", args[0]), dict):
        return document, ""
    return put(document, ("controls", args[0], "new"), {"terminals": []}), anchor("controls", args[0])


def _jumper(document: Document, __: Args, inputs: Mapping[str, str]) -> tuple[Document, str]:
    first, second = inputs.get("x/jumper/0", ""), inputs.get("x/jumper/1", "")
    return _row(document, "jumpers", [first, second] if first and second else None)


def _reading(document: Document, __: Args, inputs: Mapping[str, str]) -> tuple[Document, str]:
    first, second = inputs.get("x/reading/0", ""), inputs.get("x/reading/1", "")
    value, unit = inputs.get("x/reading/value", ""), inputs.get("x/reading/unit", "volts")
    if not (first and second and value) or unit not in ("volts", "ohms"):
        return document, "readings"
    made = {"between": [first, second], unit: value}
    for word in ("call", "control"):
        said = inputs.get(f"x/reading/{word}", "")
        if said and said != "off":
            made[word] = said
    return _row(document, "readings", made)


def _row(document: Document, group: str, row: object) -> tuple[Document, str]:
    held: Sequence[object] = listed(document, group)
    if row is None or len(held) >= MOST_PARTS:
        return document, group
    return put(document, (group,), [*held, row]), group


def _remove(document: Document, args: Args, __: Mapping[str, str]) -> tuple[Document, str]:
    removable = (
        len(args) == 2 and args[0] in ("controls", "equipment", "transformers", "cables", "jumpers", "readings")
    ) or (args[:1], args[2:3]) in ((("cables",), ("conductors",)), (("controls",), ("new",)))
    return (removed(document, args), args[0]) if removable else (document, "")


_ACTS: Mapping[str, Callable[[Document, Args, Mapping[str, str]], tuple[Document, str]]] = {
    "add-control": _control,
    "add-transformer": _transformer,
    "add-cable": _cable,
    "add-conductor": _conductor,
    "terminals": _terminals,
    "replace": _replace,
    "add-jumper": _jumper,
    "add-reading": _reading,
    "remove": _remove,
}
