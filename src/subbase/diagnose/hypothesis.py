"""One thing that may be wrong with a house, and the circuit that it leaves.

A hypothesis is one cause in the house's own words. What it does may take several forms (a poor joint of more or fewer
ohms; a short that has blown the fuse, or not yet); forms are alternatives, with shares that add up to 1.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

from subbase.circuit import Netlist, Switch
from subbase.circuit.changes import Change, changed, opened
from subbase.survey import Survey
from subbase.wiring import House, Settings, State, build_house, outputs_on
from subbase.wiring.states import operated_switches

FaultKind = Literal[
    "conductor open",
    "poor joint",
    "short",
    "coil open",
    "shorted turns",
    "coil does not act",
    "part open",
    "contact dead",
    "contact welded",
    "fuse open",
    "supply dead",
    "supply weak",
    "supply mis-tapped",
    "supplies out of phase",
    "safety switch open",
    "switch stuck",
    "link missing",
    "link extra",
    "landings swapped",
    "wrong terminal",
    "adapter mis-wired",
    "changeover set wrong",
    "equipment type set wrong",
    "output dead",
    "output welded",
    "control dead",
    "control overdraws",
    "beyond the circuit",
    "nothing wrong",
]
FAULT_KINDS: tuple[FaultKind, ...] = get_args(FaultKind)


@dataclass(frozen=True, slots=True)
class Form:
    """One way in which a fault shows; all of its parts hold together."""

    share: float = 1.0
    """Of the hypothesis's probability."""
    changes: tuple[Change, ...] = ()
    """To the netlist, two at most."""
    gone: tuple[str, ...] = ()
    """Tags of parts that the fault has taken with it, such as the fuse that a short has blown; they are open."""
    survey: Survey | None = None
    """The house wired otherwise, where the fault is in the wiring's shape."""
    settings: tuple[tuple[str, Settings], ...] = ()
    """(control, its settings) where they are not what the equipment needs."""
    silent: frozenset[str] = frozenset()
    """Controls that close no output and show no display, whatever feeds them."""
    without_effect: frozenset[str] = frozenset()
    """Loads that act and yet do nothing: the fault lies beyond the control circuit."""
    always_running: frozenset[str] = frozenset()
    """Loads whose work goes on whether they are energised or not: line contacts welded."""
    degree: str = ""
    """What differs by degree from one form to the next, as 'ohm' of a poor joint; empty where there is no next."""
    alone: bool = False
    """Whether it is weighed as a single fault only: a degree between two others, fine enough for one, too many for pairs."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One cause."""

    id: str
    """Stable within one house: ``conductor open: wall/red``."""
    kind: FaultKind
    words: str
    """In the house's own terms, as 'red of wall is open (...)'."""
    tags: tuple[str, ...]
    """Branches of the netlist, or places, that it is about."""
    site: str
    """Where a person stands to repair it."""
    odds: float
    """Prior odds against a fault-free house, a judgement (``odds.toml``)."""
    forms: tuple[Form, ...] = (Form(),)


def netlist_of(house: House, form: Form, *others: Form) -> Netlist:
    """Return the circuit that one form leaves, or several at once; at most one may bring a survey of its own.

    Raises
    ------
    ValueError
        When two forms change the same branch, or each brings its own wiring.
    """
    surveys = [item.survey for item in (form, *others) if item.survey is not None]
    if len(surveys) > 1:
        raise ValueError("Two faults in the wiring's shape cannot be put together; give one survey that has both.")
    base = build_house(surveys[0], house.catalog).netlist if surveys else house.netlist
    changes: dict[str, Change] = {}
    for item in (form, *others):
        for change in item.changes:
            if change.tag in changes and changes[change.tag] != change:
                raise ValueError(f"{change.tag} is changed twice; these faults cannot be told as two.")
            changes[change.tag] = change
    changes = {tag: _moved(base, change) for tag, change in changes.items()}
    gone = {tag for item in (form, *others) for tag in item.gone}
    changes |= {tag: opened(tag) for tag in gone if tag in base.by_tag}
    return changed(base, changes.values())


def _moved(netlist: Netlist, change: Change) -> Change:
    """Return a change between the points at which its branch lands in this netlist."""
    old, becomes = netlist.by_tag.get(change.tag), change.becomes
    if old is None or becomes is None:
        return change
    return Change(change.tag, replace(becomes, tail=old.tail, head=old.head))


def operated_in(house: House, state: State, *forms: Form, asleep: frozenset[str] = frozenset()) -> frozenset[str]:
    """Return the switches out of their normal position in a call, with controls set or silent as the forms say.

    Parameters
    ----------
    asleep
        Controls that close no output because nothing feeds them.
    """
    quiet = asleep.union(*(form.silent for form in forms))
    awake = State(tuple((name, calls) for name, calls in state.calls if name not in quiet), state.condition)
    operated = set(operated_switches(house, awake))
    for control, settings in (pair for form in forms for pair in form.settings):
        profile = house.survey.controls[control].old
        operated -= {f"{control}/{terminal}" for terminal in profile.terminals}
        operated |= {f"{control}/{output}" for output in outputs_on(profile, settings, awake.of(control))}
    return frozenset(operated & {switch.tag for switch in house.netlist.of(Switch)})


__all__ = ["FAULT_KINDS", "FaultKind", "Form", "Hypothesis", "netlist_of", "operated_in"]
