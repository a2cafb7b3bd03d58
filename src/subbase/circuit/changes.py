"""One thing wrong with a circuit: a branch become another, gone, or added where none was.

``changed`` says what each change means, by writing the netlist anew; ``variants`` settles very many changes of one
netlist at once and must agree with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Netlist, Node, Source, Switch, Tag

WELDED_OHM = 0.02
SHORT_OHM = 0.01
"""A dead short: metal on metal; from memory, any value far under the wiring's own serves."""


@dataclass(frozen=True, slots=True)
class Change:
    """The branch ``tag`` becomes another between the same nodes, or is gone when ``becomes`` is None.

    A coil that becomes anything but a coil never acts again, and its contacts stay as without it. A tag that the
    netlist does not have adds an impedance between two of its nodes.
    """

    tag: Tag
    becomes: Branch | None


def opened(tag: Tag) -> Change:
    """Return the change by which a branch conducts no more."""
    return Change(tag, None)


def with_impedance(branch: Branch, z_ohm: complex) -> Change:
    """Return the change by which a branch is a fixed impedance: a poor joint, a shorted coil, a welded contact."""
    return Change(branch.tag, Impedance(branch.tag, branch.tail, branch.head, z_ohm))


def bridged(a: Node, b: Node, z_ohm: complex = SHORT_OHM) -> Change:
    """Return the change by which two nodes touch."""
    tag = f"short {a} to {b}"
    return Change(tag, Impedance(tag, a, b, z_ohm))


def weakened(source: Source, *, emf: float = 1.0, z: float = 1.0) -> Change:
    """Return the change by which a source has ``emf`` times its volts behind ``z`` times its impedance."""
    return Change(source.tag, replace(source, emf_v=source.emf_v * emf, z_ohm=source.z_ohm * z))


def usual_changes(netlist: Netlist, *, touching: Iterable[Node] = (), poor_ohm: float = 100.0) -> Iterator[Change]:
    """Iterate over what commonly goes wrong: each branch in each of its ways, then every two of ``touching`` nodes.

    Impedances open or turn into ``poor_ohm``; coils open or short; contacts and switches stay open or weld; sources
    are dead or at 0.8 of their volts behind twice their impedance.
    """
    for branch in netlist.branches:
        yield opened(branch.tag)
        match branch:
            case Source():
                yield weakened(branch, emf=0.8, z=2.0)
            case Impedance():
                yield with_impedance(branch, branch.z_ohm + poor_ohm)
            case Coil():
                yield with_impedance(branch, SHORT_OHM)
            case Contact() | Switch():
                yield with_impedance(branch, WELDED_OHM)
    for a, b in combinations(touching, 2):
        yield bridged(a, b)


def changed(netlist: Netlist, changes: Iterable[Change]) -> Netlist:
    """Return the netlist with all of these changes.

    Raises
    ------
    ValueError
        When a change does not fit the netlist, or two are of the same branch.
    """
    becomes: dict[Tag, Branch | None] = {}
    for change in changes:
        require_fitting(netlist, change)
        if change.tag in becomes:
            raise ValueError(f"{change.tag} is changed twice; give one change that does both.")
        becomes[change.tag] = change.becomes
    branches = [*(becomes.get(branch.tag, branch) for branch in netlist.branches)]
    branches += [branch for tag, branch in becomes.items() if tag not in netlist.by_tag]
    left = [branch for branch in branches if branch is not None]
    coils = {branch.tag for branch in left if isinstance(branch, Coil)}
    return Netlist(tuple(_without_dead_coils(branch, coils) for branch in left))


def require_fitting(netlist: Netlist, change: Change) -> None:
    """Raise ValueError unless a change is one that this netlist can undergo."""
    old, new = netlist.by_tag.get(change.tag), change.becomes
    if old is None:
        if not isinstance(new, Impedance) or not {new.tail, new.head} <= netlist.index.keys():
            raise ValueError(f"{change.tag} is not in the netlist, so it can only be an impedance between its nodes.")
    elif new is not None:
        if (new.tail, new.head) != (old.tail, old.head):
            raise ValueError(f"{change.tag} must stay between {old.tail} and {old.head}; open it and add another.")
        if not isinstance(new, Impedance) and type(new) is not type(old):
            raise ValueError(f"{change.tag} can become an impedance or stay what it is, not a {type(new).__name__}.")
        if isinstance(old, Contact) and isinstance(new, Contact) and new.coils != old.coils:
            raise ValueError(f"{change.tag} must stay worked by the same coils.")
        if isinstance(old, Coil) and isinstance(new, Coil) and new.delay_s != old.delay_s:
            raise ValueError(f"{change.tag} must keep its delay.")
    if new is not None:
        if new.tag != change.tag:
            raise ValueError(f"{change.tag} must keep its tag; it would become {new.tag}.")
        Netlist((new,) if not isinstance(new, Contact) else (replace(new, coils=()),))


def _without_dead_coils(branch: Branch, alive: set[Tag]) -> Branch:
    if isinstance(branch, Contact) and not alive.issuperset(branch.coils):
        return replace(branch, coils=tuple(tag for tag in branch.coils if tag in alive))
    return branch
