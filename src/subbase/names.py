"""How identifiers are called: the one place for what people see of colours, calls, kinds, places and the like.

An identifier (``heat 1``, ``red``, ``lock out``) stands in files, JSON and the journal in English and never changes with
the language; ``named`` says it to a person. Names of terminals, and places that a survey names itself, are data and stay.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from subbase.words import _, mark

CALL_NAMES = (
    mark("heat 1"), mark("heat 2"), mark("heat 3"), mark("cool 1"), mark("cool 2"), mark("fan"),
    mark("auxiliary heat 1"), mark("auxiliary heat 2"), mark("auxiliary heat 3"), mark("emergency heat 1"),
    mark("emergency heat 2"), mark("second fuel heat 1"), mark("second fuel heat 2"), mark("humidify"),
    mark("dehumidify"), mark("ventilate"), mark("off"), mark("defrost"),
)  # fmt: skip
"""Calls of a control, the state at rest, and what equipment brings about by itself."""
CARRIED_NAMES = (
    mark("common"), mark("changeover"), mark("nothing"), mark("cooling and fan, shared"), mark("equipment supply"),
)  # fmt: skip
"""What a conductor carries, besides a call."""
COLOUR_NAMES = (
    mark("red"), mark("white"), mark("green"), mark("yellow"), mark("blue"), mark("black"), mark("brown"),
    mark("orange"), mark("grey"), mark("gray"), mark("purple"), mark("violet"), mark("pink"), mark("tan"),
    mark("clear"), mark("unmarked"),
)  # fmt: skip
END_NAMES = (mark("loose"), mark("cut short"), mark("unknown"))
"""What an end of a conductor is on, when it is on no terminal."""
GROUP_NAMES = (
    mark("heating"), mark("cooling"), mark("heat pump"), mark("air handler"), mark("hydronic"), mark("zoning"),
    mark("air quality"), mark("device"), mark("adapter"), mark("power"),
)  # fmt: skip
"""Groups of equipment; heating and cooling are also what a changeover valve is energised in, and the season."""
PLACE_NAMES = (
    mark("attic"), mark("basement"), mark("cellar"), mark("closet"), mark("crawl space"), mark("dining room"),
    mark("east side"), mark("garage"), mark("hall"), mark("house"), mark("mechanical room"), mark("north side"),
    mark("outdoors"), mark("outside"), mark("parlour"), mark("rear"), mark("roof"), mark("side yard"),
    mark("south side"), mark("the house"), mark("utility room"), mark("west side"),
)  # fmt: skip
"""Where things stand; a place that a survey names in words of its own stays as it is written there."""
ROUTE_NAMES = (
    mark("common conductor"), mark("spare conductor"), mark("shared conductor"), mark("fan conductor given up"),
    mark("isolation relay"), mark("separate transformer"), mark("new cable"), mark("battery"),
)  # fmt: skip
PROFILE_NAMES = (
    mark("line voltage"), mark("low voltage"), mark("millivolt"), mark("serial data"), mark("relay"),
    mark("solid-state"), mark("stealing"), mark("mechanical"), mark("none"), mark("yes"), mark("no"),
)  # fmt: skip
HOW_NAMES = (mark("seen"), mark("measured"), mark("told"), mark("assumed"))
"""How a fact is known."""
WHO_NAMES = (
    mark("anyone"), mark("licensed electrician"), mark("licensed gas fitter"), mark("certified for refrigerant"),
    mark("electrician"), mark("gas fitter"),
)  # fmt: skip
VERDICT_NAMES = (
    mark("pass"), mark("fail"), mark("meter or lead suspect"), mark("not judged"), mark("planned"), mark("stopped"),
    mark("question"), mark("done"), mark("failed"), mark("skipped"), mark("open"), mark("blocked"), mark("not so"),
    mark("undone"), mark("read"), mark("skip"), mark("later"), mark("back"), mark("stop"), mark("lock out"),
)  # fmt: skip
SLIP_NAMES = (
    mark("swapped"), mark("left loose"), mark("wrong terminal"), mark("link left out"), mark("link forgotten"),
    mark("supplies linked"), mark("changeover set wrong"), mark("two at once"),
)  # fmt: skip
OUTCOME_NAMES = (
    mark("damage to the control"), mark("fuse opens or supply overloaded"), mark("supplies tied"),
    mark("strips without fan"), mark("safety bypassed"), mark("heat and cool together"), mark("relay chatters"),
    mark("wrong load"), mark("load missing"), mark("control unpowered"),
)  # fmt: skip
"""What a wrong landing does."""
MATERIAL_NAMES = (
    mark("plasterboard"), mark("plaster and lath"), mark("brick"), mark("concrete"), mark("wood"), mark("glass"),
)  # fmt: skip
THING_NAMES = (
    mark("supply register"), mark("return"), mark("radiator"), mark("baseboard heater"), mark("fireplace"),
    mark("stove"), mark("range"), mark("lamp"), mark("electronics"), mark("refrigerator"), mark("stairs from below"),
    mark("flue"), mark("hot pipe"), mark("cold pipe"), mark("warm duct"), mark("power cable"),
)  # fmt: skip
"""What stands in a room, or runs in a wall of it."""
SIDE_NAMES = (mark("left"), mark("top"), mark("right"), mark("bottom"), mark("near"), mark("far"))
"""Walls of a room as the plan shows them, and the ends of a cable."""
GRADE_NAMES = (
    mark("carries"), mark("should carry"), mark("doubtful"), mark("weak"), mark("does not carry"), mark("rules out"),
    mark("against"), mark("for"), mark("note"), mark("sun"), mark("wall"), mark("air"), mark("heat"), mark("reach"),
    mark("radio"),
)  # fmt: skip
FEEL_NAMES = (mark("warm"), mark("cold"), mark("neither"), mark("warmer"), mark("colder"), mark("cool"), mark("ohm"))

_COLOURS = frozenset(COLOUR_NAMES)
_SUPPLY = re.compile(r"24 V supply \((?P<terminal>[^()]+)\)")


def named(word: str) -> str:
    """Return an identifier as it is said in the language that is set; a word that is none stays as it is."""
    return _(word)


def list_words(words: Iterable[str]) -> str:
    """Return words one after the other: a, b, c."""
    return ", ".join(words)


def and_words(words: Iterable[str]) -> str:
    """Return words joined as people join them: a, b and c."""
    *most, last = tuple(words) or ("",)
    return _("{words} and {last}").format(words=", ".join(most), last=last) if most else last


def or_words(words: Iterable[str]) -> str:
    """Return words of which one holds: a, b or c."""
    *most, last = tuple(words) or ("",)
    return _("{words} or {last}").format(words=", ".join(most), last=last) if most else last


def colour_words(colour: str) -> str:
    """Return an insulation colour as it is said, a stripe behind it: ``white-red`` is white with a red stripe."""
    steps = re.split(r"([\s/-]+)", colour)
    whole = all(step in _COLOURS or not step.strip(" /-") for step in steps)
    return "".join(_(step) if step in _COLOURS else step for step in steps) if whole else colour


def conductor_words(name: str) -> str:
    """Return a conductor's name; one that is called by its colour is called so in the reader's language too."""
    return colour_words(name)


def carried_words(carries: str) -> str:
    """Return what a conductor carries: a call, the common, a supply, or nothing."""
    supply = _SUPPLY.fullmatch(carries)
    return _("24 V supply ({terminal})").format(terminal=supply["terminal"]) if supply else _(carries)


def landing_words(landing: str) -> str:
    """Return a landing: a terminal as it is marked, or what is said of an end that is on none."""
    return _(landing) if landing in END_NAMES else landing


def sentence(text: str) -> str:
    """Return words as a sentence: a capital at its head and a stop behind; a terminal's name keeps its own spelling."""
    head = text if "." in text.partition(" ")[0] else text[:1].upper() + text[1:]
    return head.rstrip(".") + "."
