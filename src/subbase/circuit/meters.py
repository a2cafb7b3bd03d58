"""What a meter shows: its own impedance loads the circuit, its leads stand in series, and dead circuits are told by ohms.

A voltmeter is a branch like any other, so it may even work a coil: the circuit is brought to rest with the meter on it.
A phasor has no diode, so the diode range is not here; nor is what an ohmmeter sees of a rectifier or of electronics,
which the caller says with ``dc_ohm``.

An ohmmeter shows the truth on dead circuits only. Before it is used: supplies locked out, and proven dead with a meter
that was tried on a known live point before and after (NFPA 70E 120.5(7), editions 2018 and 2021; 120.6(7), 2024).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass

from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Netlist, Node, Source, Switch, Tag
from subbase.circuit.settle import Settled, settle
from subbase.circuit.solve import NO_TAGS, impedance_ohm, solve
from subbase.circuit.spice import FREQUENCY_HZ

GOOD_LEADS_OHM = 0.2
"""Both leads of a meter in order, together (common practice, no source)."""
BAD_LEADS_OHM = (5.0, 50.0)
"""A frayed, corroded or loose lead adds this much (judgement)."""
BROKEN_LEADS_OHM = math.inf
CONTINUITY_OHM = 30.0
"""Below this a continuity range beeps; meters differ, from about 20 to 50 ohm (common practice, no source)."""
MOST_OHM = 40e6
"""Above this a common digital meter shows OL (common practice, no source)."""
SECONDARY_SHARE = 0.5
"""Of a transformer's series resistance that is its secondary's own; the rest is its primary's, seen through the turns.
Designs share the copper loss about equally (from memory); where the winding was measured, say so with ``dc_ohm``."""
LEAST_DC_OHM = 1e-3
"""Of a branch that is a reactance alone at supply frequency."""
OHMMETER_OHM = 1e6
"""Inside the ohmmeter; of no consequence, since ohms are volts over amperes."""

METER_TAG = "meter"


@dataclass(frozen=True, slots=True)
class Meter:
    """A voltmeter: its input resistance, and the capacitance beside it."""

    words: str
    input_ohm: float
    input_f: float = 0.0
    leads_ohm: float = GOOD_LEADS_OHM

    def z_ohm(self) -> complex:
        """Return what stands between the tips at supply frequency [ohm]; infinite with a broken lead."""
        siemens = 1.0 / self.input_ohm + 2j * math.pi * FREQUENCY_HZ * self.input_f
        return self.leads_ohm + 1.0 / siemens


DIGITAL = Meter("digital meter", 10e6, 100e-12)
"""10 Mohm beside 100 pF (common practice, no source)."""
MIDDLE = Meter("meter of 400 kohm", 400e3)
"""About what a low-impedance range that limits its own current shows (common practice, no source)."""
LOW_IMPEDANCE = Meter("low-impedance meter", 3e3)
"""About 3 kohm: loads a ghost voltage away (common practice, no source)."""


def volts_seen(settled: Settled, a: Node, b: Node, *, meter: Meter = DIGITAL) -> float:
    """Return what a meter shows between two nodes of a circuit at rest [V rms].

    The meter is added and the circuit brought to rest again, coils starting as they were. Between nodes that no path
    joins it shows 0, and so it does anywhere with a broken lead.

    Raises
    ------
    ValueError
        When a node is not in the circuit.
    Chatter
        When the meter makes coils pull in and fall out by turns.
    """
    netlist = settled.solution.netlist
    _require_nodes(netlist, a, b)
    z_ohm = meter.z_ohm()
    if a == b or math.isinf(z_ohm.real):
        return 0.0
    metered = netlist.with_branches((Impedance(METER_TAG, a, b, z_ohm),))
    at_rest = settle(metered, operated=settled.solution.operated, coils_in=settled.coils_in).solution
    # The volts at the input, not at the tips: what drops in the leads is not shown.
    return abs(at_rest.across(METER_TAG) * (z_ohm - meter.leads_ohm) / z_ohm)


@dataclass(frozen=True, slots=True)
class OhmReading:
    """What an ohmmeter shows; infinite ohms are OL."""

    ohm: float
    beeps: bool
    """On the continuity range."""

    @property
    def words(self) -> str:
        """As the display reads: three figures at most, or OL."""
        if math.isinf(self.ohm):
            return "OL"
        return ohm_words(self.ohm, ".1f")


def ohm_words(ohm: float, below_1000: str) -> str:
    """Return a resistance in the unit that fits, with three figures from 1000 ohm on and as this format says below."""
    for size, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if ohm >= size:
            return f"{ohm / size:.3g} {unit}"
    return f"{ohm:{below_1000}} ohm"


def ohms_seen(
    netlist: Netlist,
    a: Node,
    b: Node,
    *,
    operated: Set[Tag] = NO_TAGS,
    dc_ohm: Mapping[Tag, float] | None = None,
    leads_ohm: float = GOOD_LEADS_OHM,
) -> OhmReading:
    """Return what an ohmmeter shows between two nodes with every supply locked out and every coil out.

    Parameters
    ----------
    operated
        Switches that are mechanically not in their normal position, such as a limit or float that stands open.
    dc_ohm
        As ``dead_netlist`` takes it.
    leads_ohm
        Both leads together: ``GOOD_LEADS_OHM``, somewhere in ``BAD_LEADS_OHM``, or ``BROKEN_LEADS_OHM``.

    Raises
    ------
    ValueError
        When a node or a tag is not in the circuit, or a resistance is below 0.
    """
    _require_nodes(netlist, a, b)
    ohm = _ohms_between(dead_netlist(netlist, operated=operated, dc_ohm=dc_ohm), a, b) + leads_ohm
    return OhmReading(ohm if ohm <= MOST_OHM else math.inf, ohm < CONTINUITY_OHM)


def ohms_with_a_bad_lead(reading: OhmReading, *, leads_ohm: float = GOOD_LEADS_OHM) -> tuple[OhmReading, ...]:
    """Return what the same place shows through a lead at either end of ``BAD_LEADS_OHM``, and through a broken one.

    ``leads_ohm`` is what the leads in order had added.
    """
    found = (reading.ohm - leads_ohm + bad_ohm for bad_ohm in (*BAD_LEADS_OHM, BROKEN_LEADS_OHM))
    return tuple(OhmReading(ohm if ohm <= MOST_OHM else math.inf, ohm < CONTINUITY_OHM) for ohm in found)


def dead_netlist(
    netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, dc_ohm: Mapping[Tag, float] | None = None
) -> Netlist:
    """Return what direct current sees of a circuit whose supplies are locked out: resistances only.

    A locked-out primary is open, so a transformer is its secondary winding; that winding still joins R to C. A coil is
    taken to have the resistance that its sealed impedance shows, which is too high by what its iron and shading ring
    take. An impedance whose reactance is capacitive blocks direct current, as a capacitor in series with a resistor.

    Parameters
    ----------
    dc_ohm
        Known or measured resistances by tag, which replace all of this, of a contact only while it is closed; infinite
        where nothing conducts, as in the power supply of an electronic control seen with less than a volt.
    """
    known = dict(dc_ohm or {})
    unknown = sorted(known.keys() - netlist.by_tag.keys())
    if unknown:
        raise ValueError(f"A resistance is given for what is not in the circuit: {', '.join(unknown)}.")
    below = sorted(tag for tag, ohm in known.items() if not ohm >= 0.0)
    if below:
        raise ValueError(f"A resistance cannot be below 0: {', '.join(below)}.")
    return Netlist(tuple(_resistances(netlist, operated, known)))


def _resistances(netlist: Netlist, operated: Set[Tag], known: Mapping[Tag, float]) -> Iterator[Branch]:
    for branch in netlist.branches:
        ohm = known[branch.tag] if branch.tag in known and not _stands_open(branch, operated) else None
        if ohm is None:
            ohm = _dc_ohm(branch, operated)
        if math.isfinite(ohm):
            yield Impedance(branch.tag, branch.tail, branch.head, max(ohm, LEAST_DC_OHM))


def _stands_open(branch: Branch, operated: Set[Tag]) -> bool:
    """Tell whether a contact is at rest in its open position."""
    if isinstance(branch, Switch):
        return (branch.tag in operated) == branch.normally_closed
    return isinstance(branch, Contact) and not branch.normally_closed


def _dc_ohm(branch: Branch, operated: Set[Tag]) -> float:
    """Return the resistance of a branch at rest [ohm]; infinite when direct current does not pass."""
    # A sealed coil is nearer to its winding than one that is out, whose impedance is that of its inrush.
    shown = {branch.tag} if isinstance(branch, Coil) else NO_TAGS
    z_ohm = impedance_ohm(branch, operated, shown)
    if z_ohm is None or complex(z_ohm).imag < 0.0:
        return math.inf
    ohm = complex(z_ohm).real
    return ohm * SECONDARY_SHARE if isinstance(branch, Source) else ohm


def _ohms_between(dead: Netlist, a: Node, b: Node) -> float:
    if a == b:
        return 0.0
    if a not in dead.index or b not in dead.index or solve(dead).between(a, b) is None:
        return math.inf
    probed = solve(dead.with_branches((Source(METER_TAG, b, a, 1.0, OHMMETER_OHM),)))
    shown_v, passed_a = abs(probed.across(METER_TAG)), abs(probed.current_a(METER_TAG))
    return shown_v / passed_a if passed_a > 0.0 else math.inf


def _require_nodes(netlist: Netlist, *nodes: Node) -> None:
    missing = sorted(set(nodes) - netlist.index.keys())
    if missing:
        raise ValueError(f"There is nothing to read at {', '.join(missing)}; name nodes of the circuit.")
