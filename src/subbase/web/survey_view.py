"""A document as the survey page shows it: the parts of a house with their fields and anchors. Nothing is judged here.

It works on any document that can be read at all, so that a survey full of faults can still be put right by form.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Any, get_args

from subbase.catalog import CALLS, Catalog, Kind
from subbase.catalog.model import FusePart, LoadPart, TransformerPart
from subbase.survey.model import Sign
from subbase.web.survey_acts import USUAL_NEW, USUAL_OLD
from subbase.web.survey_document import (
    PLACES,
    UNKNOWN,
    Document,
    anchor,
    at,
    is_either,
    joined,
    listed,
    named,
    plain,
    texts,
)
from subbase.web.survey_fields import choice_field, said, select_field, text_field, toggle_field
from subbase.web.survey_parts import Act, Cable, Choice, End, Field, Place, Profile, Row, View, Wire
from subbase.web.survey_wires import AS_WRITTEN, ENDS, ONE_COLOUR, colours, is_open, landing
from subbase.words import _, mark

TERMINALS = (
    "R", "Rh", "Rc", "C", "W", "W1", "W2", "W3", "Y", "Y1", "Y2", "G", "O", "B", "O/B", "E", "AUX", "L", "HUM", "DH", "V",
)  # fmt: skip
"""Marks offered on a control; any other can be typed."""
SIGNS = {
    "thick conductors": mark("Thick conductors"),
    "wire nuts on two thick conductors": mark("Wire nuts on two thick conductors"),
    "120 or 240 marking": mark("A marking of 120 or 240"),
    "two thin conductors under one volt": mark("Two thin conductors with under one volt"),
    "numbered data terminals": mark("Numbered or lettered data terminals"),
    "scorched insulation": mark("Scorched insulation"),
    "water in the wall box": mark("Water in the wall box"),
}
ROOMS = (mark("hall"), mark("living room"), mark("bedroom"), mark("upstairs"))
SUGGESTED = 8
"""Cables offered by one tap; others by choosing both places."""


def view_of(document: Document, catalog: Catalog) -> View:
    """Return the form of a document."""
    every = tuple(
        f"{place}.{terminal}" for place in _places(document) for terminal in _terminals(document, catalog, place)
    )
    signs = listed(document, "signs")
    return View(
        house={word: text_field(document, word) for word in ("name", "notes")}
        | {"units": choice_field(document, "units", options="units", usual="us")}
        | {word: text_field(document, "place", word) for word in ("year_built", "latitude_deg", "longitude_deg")},
        signs=toggle_field(document, ("signs",), [(sign, _(SIGNS.get(sign, sign))) for sign in get_args(Sign)]),
        signs_asked=isinstance(document.get("signs"), list) and not signs,
        kinds=_kinds(catalog),
        equipment=tuple(_equipment(document, catalog, name) for name in _named(document, "equipment")),
        transformers=tuple(_transformer(document, name) for name in _named(document, "transformers")),
        controls=tuple(_control(document, name) for name in _named(document, "controls")),
        rooms=tuple(Act(joined("add-control", _(room)), _(room)) for room in ROOMS),
        suggested=_suggested(document, catalog),
        places=_places(document),
        cables=tuple(_cable(document, catalog, name) for name in _named(document, "cables")),
        terminals=every,
        jumpers=tuple(_row(document, "jumpers", index, every) for index in range(len(listed(document, "jumpers")))),
        readings=tuple(_row(document, "readings", index, every) for index in range(len(listed(document, "readings")))),
        calls=("off", *CALLS),
        wishes=toggle_field(document, ("wishes",), [(call, _(call)) for call in CALLS]),
    )


def _named(document: Document, group: str) -> list[str]:
    return [name for name, held in named(document, group).items() if isinstance(held, dict)]


def _places(document: Document) -> tuple[str, ...]:
    return tuple(name for group in PLACES for name in _named(document, group))


# --- places ----------------------------------------------------------------------------------------------------------


def _kinds(catalog: Catalog) -> tuple[tuple[str, tuple[Act, ...]], ...]:
    groups: dict[str, list[Kind]] = {}
    for kind in catalog.values():
        groups.setdefault(kind.group, []).append(kind)
    order = (
        "heating",
        "cooling",
        "heat pump",
        "air handler",
        "hydronic",
        "zoning",
        "device",
        "air quality",
        "power",
        "adapter",
    )
    return tuple(
        (
            _(group),
            tuple(
                Act(joined("add-equipment", k.kind), _(k.title)) for k in sorted(groups[group], key=lambda k: k.title)
            ),
        )
        for group in sorted(groups, key=lambda g: order.index(g) if g in order else len(order))
    )


def _place(group: str, name: str, title: str, **more: Any) -> Place:
    path = (group, name)
    return Place(name, title, joined("n", *path), anchor(*path), joined("remove", *path), **more)


def _kinds_held(document: Document, name: str) -> list[str]:
    value = plain(at(document, "equipment", name, "kind"))
    if is_either(value):
        return [str(item) for item in value["either"]]
    return [value] if isinstance(value, str) and value != UNKNOWN else []


def _equipment(document: Document, catalog: Catalog, name: str) -> Place:
    path = ("equipment", name)
    held = _kinds_held(document, name)
    groups = {catalog[item].group for item in held if item in catalog}
    # What one cannot tell apart is of one group; another group is another piece of equipment.
    near = [kind for kind in catalog.values() if kind.group in groups or not groups]
    options = [(kind.kind, _(kind.title)) for kind in sorted(near, key=lambda k: (k.group, k.title))]
    kind = toggle_field({"kind": held}, ("kind",), options)
    kind = Field(joined("s", *path, "kind"), anchor(*path, "kind"), "", kind.choices)
    found = [catalog[item] for item in held if item in catalog]
    zones = sorted({zone for item in found for zone in item.zones})
    controls = _named(document, "controls")
    titles = " / ".join(_(item.title) for item in found) or _("kind not known")
    return _place(
        *path,
        title=titles,
        fields={
            "kind": kind,
            "at": text_field(document, *path, "at"),
            "role": choice_field(document, *path, "role", options="role", usual="as usual"),
        },
        zones=tuple((str(zone), select_field(document, (*path, "zones", str(zone)), controls)) for zone in zones),
        nameplate=tuple(_nameplate(document, path, found)),
        serves=toggle_field(document, (*path, "serves"), [(item, item) for item in controls]),
        without=toggle_field(
            document, (*path, "without"), [(part.id, _(part.what or part.id)) for item in found for part in item.parts]
        ),
    )


def _nameplate(document: Document, path: tuple[str, ...], kinds: Sequence[Kind]) -> Iterable[tuple[str, Field]]:
    for part in (part for kind in kinds[:1] for part in kind.parts):
        word = (
            "rating_a" if isinstance(part, FusePart) else "va" if isinstance(part, TransformerPart | LoadPart) else ""
        )
        if word:
            unit = "A" if word == "rating_a" else "VA"
            here = (*path, "nameplate", part.id, word)
            yield f"{_(part.what or part.id)} [{unit}]", text_field(document, *here)


def _transformer(document: Document, name: str) -> Place:
    path = ("transformers", name)
    words = ("va", "volts", "fuse_a", "at", "feeds")
    fields = {word: text_field(document, *path, word) for word in words}
    fields["class_2"] = choice_field(document, *path, "class_2", options="class_2", usual="yes")
    return _place(*path, title=_("Transformer"), fields=fields)


def _control(document: Document, name: str) -> Place:
    path = ("controls", name)
    new = _profile(document, path, "new")
    return _place(
        *path,
        title=_("Control"),
        fields={"at": text_field(document, *path, "at")},
        old=_profile(document, path, "old"),
        new=new if new.there else None,
        replace=joined("replace", name),
        drop_new=joined("remove", *path, "new"),
    )


def _profile(document: Document, path: tuple[str, str], which: str) -> Profile:
    here = (*path, which)
    terminals = toggle_field(document, (*here, "terminals"), [(text, text) for text in TERMINALS])
    usual = USUAL_OLD if which == "old" else USUAL_NEW
    fields = {
        "power": choice_field(
            document, *here, "power", options=f"power of {which}", usual="none" if which == "old" else ""
        ),
        **{word: text_field(document, *here, word) for word in ("asleep_va", "awake_va")},
    }
    if which == "old":
        fields["wiring"] = choice_field(document, *here, "wiring", options="wiring", usual="low voltage")
        fields["mercury"] = choice_field(document, *here, "mercury", options="yes", usual="no")
    else:
        fields["battery"] = choice_field(document, *here, "battery", options="yes", usual="no")
    held = set(texts(listed(document, *here, "terminals")))
    if {"Rh", "Rc"} <= held or at(document, *here, "supplies") is not None:
        fields["supplies"] = choice_field(document, *here, "supplies", options="supplies", usual="one")
    return Profile(
        isinstance(at(document, *here), dict),
        terminals,
        joined("t", *here, "terminals"),
        tuple(Act(joined("terminals", path[1], which, *item), " ".join(item)) for item in usual),
        fields,
    )


# --- cables ----------------------------------------------------------------------------------------------------------


def _terminals(document: Document, catalog: Catalog, place: str) -> list[str]:
    """Return the terminals of a place as the document has them."""
    if place in named(document, "controls"):
        found = list(texts(listed(document, "controls", place, "old", "terminals")))
        return found or list(texts(listed(document, "controls", place, "new", "terminals")))
    if place in named(document, "transformers"):
        return ["hot", "common"]
    kinds = [catalog[kind] for kind in _kinds_held(document, place) if kind in catalog]
    return list(dict.fromkeys(terminal for kind in kinds for terminal in kind.terminals))


def _suggested(document: Document, catalog: Catalog) -> tuple[Act, ...]:
    """Return the cables that a house like this has most likely, of those that are not there yet."""
    there = {frozenset((str(at(c, "from")), str(at(c, "to")))) for c in named(document, "cables").values()}
    places = _places(document)
    controls = _named(document, "controls")
    beside = {name for name in places if at(document, "equipment", name, "at") in places}
    outdoors = {
        name
        for name in _named(document, "equipment")
        if any(kind in catalog and catalog[kind].site == "outdoor" for kind in _kinds_held(document, name))
    }
    pairs = [
        (a, b)
        for a, b in combinations([name for name in places if name not in beside], 2)
        if not ({a, b} <= set(controls) or (a in controls and b in outdoors) or {a, b} <= outdoors)
        and frozenset((a, b)) not in there
    ]
    return tuple(
        Act(joined("add-cable", a, b), _("{first} to {second}").format(first=a, second=b)) for a, b in pairs[:SUGGESTED]
    )


def _cable(document: Document, catalog: Catalog, name: str) -> Cable:
    path = ("cables", name)
    places = _places(document)
    wires = list(named(document, *path, "conductors"))
    return Cable(
        name,
        joined("n", *path),
        anchor(*path),
        joined("remove", *path),
        (select_field(document, (*path, "from"), places), select_field(document, (*path, "to"), places)),
        text_field(document, *path, "length"),
        choice_field(document, *path, "gauge", options="gauge", usual="18"),
        tuple(_wire(document, catalog, name, wire) for wire in wires),
        tuple(Act(joined("add-conductor", name, colour), colour) for colour in ONE_COLOUR),
        joined("add-conductor", name, "conductor"),
        joined("add-conductor", name),
    )


def _wire(document: Document, catalog: Catalog, cable: str, name: str) -> Wire:
    path = ("cables", cable, "conductors", name)
    both = colours(document, cable, name)
    return Wire(
        name,
        both,
        anchor(*path),
        joined("n", *path),
        joined("remove", *path),
        joined(cable, name),
        tuple(_end(document, catalog, (cable, name, end), both[index]) for index, end in enumerate(ENDS)),
    )


def _end(document: Document, catalog: Catalog, path: tuple[str, str, str], colour: str) -> End:
    cable, wire, end = path
    place = at(document, "cables", cable, end)
    place = place if isinstance(place, str) else ""
    value = landing(document, *path)
    chosen = value if isinstance(value, str) else "" if value is None else AS_WRITTEN
    offered = [(terminal, terminal) for terminal in _terminals(document, catalog, place)]
    for device in _named(document, "equipment"):
        if at(document, "equipment", device, "at") == place and device != place:
            offered += [(f"{device}.{t}", f"{device} {t}") for t in _terminals(document, catalog, device)]
    joints = 1 + max((int(j.removeprefix("joint ")) for j in _joints(document, place)), default=0)
    offered += [
        (f"joint {number}", _("joint {number}").format(number=number)) for number in range(1, min(joints, 9) + 1)
    ]
    offered += [("loose", _("loose")), ("cut short", _("cut short")), (UNKNOWN, _("not known"))]
    if chosen and chosen not in (item for item, _label in offered):
        offered.append((chosen, said(value)))
    field = Field(
        joined("w", *path),
        anchor("cables", cable, "conductors", wire, end),
        chosen,
        tuple(Choice(item, label, item == chosen) for item, label in offered),
    )
    colour_field = Field(joined("c", *path), anchor("cables", cable, "conductors", wire, f"colour {end}"), colour)
    return End(place or _("a place not named"), colour_field, field, is_open(value), joined(cable, end))


def _joints(document: Document, place: str) -> list[str]:
    """Return the wire nuts that conductors at a place lie in."""
    found = []
    for name, cable in named(document, "cables").items():
        for end in ENDS:
            if at(cable, end) != place:
                continue
            for wire in named(document, "cables", name, "conductors"):
                value = landing(document, name, wire, end)
                if isinstance(value, str) and value.startswith("joint ") and value[6:].isdigit() and len(value) < 9:
                    found.append(value)
    return found


# --- rows ------------------------------------------------------------------------------------------------------------


def _row(document: Document, group: str, index: int, terminals: Sequence[str]) -> Row:
    path = (group, str(index))
    row = at(document, *path)
    between = row if isinstance(row, list) else listed(row, "between")
    held = [item if isinstance(item, str) else "" for item in between[:2]] + [""] * (2 - len(between[:2]))
    name = joined("p", *path, "between")
    pair = [
        Field(
            name, anchor(*path), value, tuple(Choice(t, t, t == value) for t in dict.fromkeys((*terminals, value)) if t)
        )
        for value in held
    ]
    if group == "jumpers":
        fields = {"present": choice_field(document, *path, "present", options="present", usual="yes")}
    else:
        fields = {word: text_field(document, *path, word) for word in ("volts", "ohms")}
        fields["call"] = select_field(document, (*path, "call"), ("off", *CALLS), identifiers=True)
        fields["control"] = select_field(document, (*path, "control"), _named(document, "controls"))
    return Row(anchor(*path), joined("remove", *path), (pair[0], pair[1]), fields)
