"""The part that equipment plays in heating, where a survey does not say: what is usual beside a heat pump.

Strips beside a heat pump help it and stand in for it; a furnace or boiler beside one takes over below a changeover point
(common practice, no source). Taken for the main heat, either would run against the compressor.
"""

from __future__ import annotations

from typing import Any

from subbase.catalog import Catalog, Kind
from subbase.survey.yaml_tree import Tree

Item = dict[str, Any]


def fill_in_roles(data: dict[str, Any], catalog: Catalog, tree: Tree) -> None:
    """Write into plain data the role of each piece of equipment that has none and stands beside a heat pump."""
    found = data.get("equipment")
    items = {name: item for name, item in found.items() if isinstance(item, dict)} if isinstance(found, dict) else {}
    kinds = {name: _kinds(item.get("kind"), catalog) for name, item in items.items()}
    pumps = [
        items[name]
        for name, known in kinds.items()
        if known and all(kind.group == "heat pump" for kind in known) and items[name].get("role", "main") == "main"
    ]
    for name, known in kinds.items():
        item = items[name]
        if "role" in item or ("equipment", name, "role") in tree.dropped:
            continue
        heats = bool(known) and all(kind.heats and kind.group != "heat pump" for kind in known)
        if heats and any(_share_a_control(item, pump) for pump in pumps):
            item["role"] = "auxiliary" if all(kind.heats_by_electricity for kind in known) else "second fuel"


def _kinds(said: Any, catalog: Catalog) -> tuple[Kind, ...]:
    """Return the kinds that equipment is or may be; none when one of them is no kind."""
    either = said.get("either") if isinstance(said, dict) else [said]
    names = either if isinstance(either, list | tuple) else []
    known = all(isinstance(name, str) and name in catalog for name in names)
    return tuple(catalog[name] for name in names) if known else ()


def _share_a_control(one: Item, other: Item) -> bool:
    """Return whether a control may call both; equipment that names none works for all."""
    first, second = one.get("serves"), other.get("serves")
    if not (isinstance(first, list) and first and isinstance(second, list) and second):
        return True
    return any(control in second for control in first)
