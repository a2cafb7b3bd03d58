"""Where things are: the site at which a person stands, and words for the points and parts of a house."""

from __future__ import annotations

from subbase.circuit import Contact, Impedance, Switch
from subbase.survey import NOWHERE, Survey, is_inner_point, split_terminal
from subbase.wiring import House
from subbase.words import _


def site_of(survey: Survey, place: str) -> str:
    """Return where a person stands to reach a place: a control's own wall, or the outermost cabinet that it is in."""
    seen: set[str] = set()
    while place not in survey.controls and place not in seen:
        seen.add(place)
        item = survey.equipment.get(place) or survey.transformers.get(place)
        if item is None or item.at not in survey.places():
            return place
        place = item.at
    return place


def place_of_node(node: str) -> str:
    """Return the place in which a node lies; of a loose end the cable's name."""
    return node.partition("/")[0] if is_inner_point(node) else split_terminal(node)[0]


def site_of_node(survey: Survey, node: str) -> str:
    """Return where a person stands to hold a probe on a node."""
    if " end at " in node:
        return site_of(survey, node.rpartition(" end at ")[2])
    return site_of(survey, place_of_node(node))


def is_inside(node: str) -> bool:
    """Tell whether a node is a point inside equipment that bears no terminal's name."""
    return is_inner_point(node) and " end at " not in node


def node_words(house: House, node: str) -> str:
    """Return a node as people say it: ``furnace.W``, or what an inner point lies between."""
    if not is_inside(node):
        return node
    place = place_of_node(node)
    beside = [
        house.part_words(branch.tag).removesuffix(f" ({place})")
        for branch in house.netlist.branches
        if node in (branch.tail, branch.head)
    ]
    if len(beside) < 2:
        return _("the point {name} in {place}").format(name=node.partition("/")[2].replace("-", " "), place=place)
    return _("the point between {one} and {other} in {place}").format(one=beside[0], other=beside[1], place=place)


def part_name(house: House, tag: str) -> str:
    """Return a branch as people say it: 'red of wall', 'gas valve (furnace)', 'output W of hall'."""
    place, __, name = tag.partition("/")
    if place in house.survey.cables:
        return _("{conductor} of {cable}").format(conductor=name, cable=place)
    if place in house.survey.controls:
        branch = house.netlist.by_tag.get(tag)
        if isinstance(branch, Switch):
            return _("output {terminal} of {control}").format(terminal=name, control=place)
        return _("{part} of {control}").format(part=_(name), control=place)
    if tag.startswith("jumper "):
        one, __, other = tag.removeprefix("jumper ").partition(" to ")
        return _("link {one} to {other}").format(one=one, other=other)
    words = house.part_words(tag)
    branch = house.netlist.by_tag.get(tag)
    if place in house.survey.equipment and isinstance(branch, Contact) and "contact" not in house.part_name(tag):
        return _("{part} contact ({place})").format(part=words.removesuffix(f" ({place})"), place=place)
    return words


def conductors_of(house: House) -> dict[str, tuple[str, str]]:
    """Return each conductor of the circuit, by tag, with the names of the two places at its ends."""
    return {
        f"{cable_name}/{name}": (cable.from_, cable.to)
        for cable_name, cable, name, _ in house.survey.conductors()
        if isinstance(house.netlist.by_tag.get(f"{cable_name}/{name}"), Impedance)
    }


def landing_words(house: House, tag: str) -> str:
    """Return where a conductor lands: 'hall.R to furnace.R'."""
    branch = house.netlist.by_tag[tag]
    one, other = (_("nothing") if end in NOWHERE or " end at " in end else end for end in (branch.tail, branch.head))
    return _("{one} to {other}").format(one=one, other=other)


__all__ = [
    "conductors_of",
    "is_inside",
    "landing_words",
    "node_words",
    "part_name",
    "place_of_node",
    "site_of",
    "site_of_node",
]
