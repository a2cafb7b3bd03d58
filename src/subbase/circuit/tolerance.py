"""The least and the most that a reading can be while supplies, loads, copper and contacts vary within their ranges.

One state of the contacts is taken as given: whether coils stay in over the whole range is read from the bounds of their
own voltages. Ranges are independent of each other unless they are said to move together, as the emfs of two transformers do
on one line.

Each impedance enters the nodal equations as a term of rank one, so a reading is a fraction of two polynomials that are of
first degree in each parameter. With resistances and emfs in phase it is therefore monotone in each parameter alone, and
its extremes stand at corners of the ranges. Loads of different power factor can bend it. So nothing is taken for granted:
``enclosure`` bounds the slope along each parameter over a whole box of ranges. Where its sign is sure, the search goes on
at that face; where it is not, the box is halved, until what is left cannot exceed the largest reading found by more than
half a hundredth of the range (branch and bound with a monotonicity test: Hansen, Global Optimization Using Interval
Analysis, 1992, from memory). Bounds so found are 'guaranteed', up to rounding, for which a billionth is added. Where the
search ends before every box could be enclosed, the bounds are those of cases tried, and are called 'sampled'.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass
from typing import Literal

import numpy as np

from subbase.circuit.conductor import TEMPERATURE_COEFFICIENT_20C_PER_K
from subbase.circuit.enclosure import Ints, Network, enclose
from subbase.circuit.extremes import ROUNDING, Extremes, extremes
from subbase.circuit.influence import Shape
from subbase.circuit.netlist import Branch, Contact, Netlist, Node, Source, Switch, Tag
from subbase.circuit.solve import NO_TAGS, branch_impedances, solve

SAMPLES = 2000
"""Cases tried where nothing could be proven."""


@dataclass(frozen=True, slots=True)
class Spread:
    """How far one branch may be from its netlist value, as factors on it; 1 where nothing is said.

    ``z`` acts on the impedance that the branch shows in the state at hand (of a coil the inrush or the sealed one), but
    not on the leakage of an open contact, which has ``leak``. All impedances with the same ``z_with``, and all emfs with the
    same ``emf_with``, are at the same share of the way from their low to their high; without a name each goes its own way.
    """

    tag: Tag
    z_low: float = 1.0
    z_high: float = 1.0
    emf_low: float = 1.0
    emf_high: float = 1.0
    leak_low: float = 1.0
    leak_high: float = 1.0
    z_with: str = ""
    emf_with: str = ""

    def __post_init__(self) -> None:
        for name, low, high in (
            ("impedance", self.z_low, self.z_high),
            ("emf", self.emf_low, self.emf_high),
            ("leakage", self.leak_low, self.leak_high),
        ):
            if not 0.0 < low <= high < float("inf"):
                raise ValueError(
                    f"{self.tag}: the factors on its {name} run from {low:g} to {high:g}; "
                    "give the lower one first, and both above 0."
                )

    @staticmethod
    def either_way(tag: Tag, share: float) -> Spread:
        """Return a load of which the draw [VA] may be a share more or less than given."""
        return Spread(tag, z_low=1.0 / (1.0 + share), z_high=1.0 / (1.0 - share))

    @staticmethod
    def supply(tag: Tag, *, line_share: float, regulation_share: float, line: str = "line") -> Spread:
        """Return a transformer on a line that is a share high or low, of regulation a share stiffer or weaker.

        Transformers on the same ``line`` are high or low together.
        """
        return Spread(
            tag,
            z_low=1.0 - regulation_share,
            z_high=1.0 + regulation_share,
            emf_low=1.0 - line_share,
            emf_high=1.0 + line_share,
            emf_with=line,
        )

    @staticmethod
    def copper(tag: Tag, *, from_c: float, to_c: float, built_at_c: float = 20.0) -> Spread:
        """Return a conductor between two temperatures, whose netlist value is at a third [°C]."""
        at_c = (from_c, to_c, built_at_c)
        low, high, built = (1.0 + TEMPERATURE_COEFFICIENT_20C_PER_K * (celsius - 20.0) for celsius in at_c)
        return Spread(tag, z_low=low / built, z_high=high / built)

    @staticmethod
    def contact(branch: Contact | Switch, *, from_ohm: float, to_ohm: float) -> Spread:
        """Return a contact that when closed has from one resistance to another."""
        return Spread(branch.tag, z_low=from_ohm / branch.r_closed_ohm, z_high=to_ohm / branch.r_closed_ohm)


@dataclass(frozen=True, slots=True)
class Between:
    """The voltage between two nodes [V rms]."""

    a: Node
    b: Node


@dataclass(frozen=True, slots=True)
class Through:
    """The current in a branch [A rms]."""

    tag: Tag


Reading = Between | Through


@dataclass(frozen=True, slots=True)
class Bound:
    """What the modulus of one reading can be [V or A rms]."""

    reading: Reading
    low: float
    high: float
    kind: Literal["guaranteed", "sampled"]
    reached_low: float
    """The least found in a case that was solved; ``low`` is not above it."""
    reached_high: float
    """The largest found in a case that was solved; ``high`` is not below it."""
    boxes: int
    """How many boxes the search looked at."""

    @property
    def excess(self) -> float:
        """How much wider the bounds are than the range reached [V or A]."""
        return (self.high - self.low) - (self.reached_high - self.reached_low)


def bounds(
    netlist: Netlist,
    spreads: Sequence[Spread],
    readings: Sequence[Reading],
    *,
    operated: Set[Tag] = NO_TAGS,
    coils_in: Set[Tag] = NO_TAGS,
) -> tuple[Bound | None, ...]:
    """Return the bounds of each reading in one state; None where no path joins its two nodes.

    Raises
    ------
    ValueError
        When a spread or reading names what is not there, a tag has two spreads, or an emf spreads that is no source's.
    NoSolution
        When inductance and capacitance cancel exactly at a node in some case that was tried.
    """
    _require_known(netlist, spreads, readings)
    solution = solve(netlist, operated=operated, coils_in=coils_in)
    ranged = _Ranged.of(netlist, tuple(branch_impedances(netlist, operated, coils_in)), spreads, readings)
    return tuple(
        None
        if isinstance(reading, Between) and solution.between(reading.a, reading.b) is None
        else ranged.bound(reading)
        for reading in readings
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Ranged:
    """The network of one state with the ranges of its factors."""

    network: Network
    place_of: dict[Reading, int]
    """As ``enclose`` counts readings; none for currents of branches that do not conduct."""

    @staticmethod
    def of(
        netlist: Netlist,
        conducting: Sequence[tuple[Branch, complex]],
        spreads: Sequence[Spread],
        readings: Sequence[Reading],
    ) -> _Ranged:
        """Return the network in which everything is driven that varies, gives or is read."""
        spread_of = {spread.tag: spread for spread in spreads}
        read = {reading.tag for reading in readings if isinstance(reading, Through)}
        driven = tuple(
            i
            for i, (branch, _) in enumerate(conducting)
            if branch.tag in spread_of or branch.tag in read or isinstance(branch, Source)
        )
        pairs = tuple(dict.fromkeys(reading for reading in readings if isinstance(reading, Between)))
        index = netlist.index
        shape = Shape(
            netlist.elimination,
            tuple((index[branch.tail], index[branch.head]) for branch, _ in conducting),
            driven,
            tuple((index[pair.a], index[pair.b]) for pair in pairs),
        )
        place_of: dict[Reading, int] = {pair: i for i, pair in enumerate(pairs)}
        for column, position in enumerate(driven):
            place_of[Through(conducting[position][0].tag)] = len(pairs) + column
        branches = [conducting[position] for position in driven]
        ranges = [_factors(branch, z_ohm, spread_of.get(branch.tag, Spread(branch.tag))) for branch, z_ohm in branches]
        ordered = [z for z, _ in ranges] + [emf for _, emf in ranges]
        return _Ranged(
            Network(
                shape,
                np.array([z_ohm for _, z_ohm in conducting], dtype=np.complex128),
                np.array([b.emf_v if isinstance(b, Source) else 0.0 for b, _ in branches], dtype=np.complex128),
                np.array([low for low, _, _ in ordered], dtype=np.float64),
                np.array([high for _, high, _ in ordered], dtype=np.float64),
                _numbered([name for _, _, name in ordered]),
            ),
            place_of,
        )

    def bound(self, reading: Reading) -> Bound:
        """Return the bounds of one reading."""
        place = self.place_of.get(reading)
        if place is None:
            return Bound(reading, 0.0, 0.0, "guaranteed", 0.0, 0.0, 0)
        nothing = ROUNDING * float(np.abs(self.network.emf_v).sum())
        if isinstance(reading, Through):
            nothing /= float(abs(self.network.driven_z_ohm[place - len(self.network.shape.ports)]))
        found = extremes(self.network, place, nothing)
        if not found.proven:
            found = self._sampled(place, found)
        kind: Literal["guaranteed", "sampled"] = "guaranteed" if found.proven else "sampled"
        return Bound(reading, found.low, found.high, kind, found.reached_low, found.reached_high, found.boxes)

    def _sampled(self, place: int, found: Extremes) -> Extremes:
        """Widen what a search found by corners and inner points drawn at random, always the same ones."""
        cases = np.random.default_rng(0).random((SAMPLES, self.network.parameter_count))
        cases[::2] = cases[::2] > 0.5
        parts = [cases[first : first + 100] for first in range(0, SAMPLES, 100)]
        found2 = np.concatenate([enclose(self.network, p, p, np.full(len(p), place)).middle2 for p in parts])
        low = min(found.reached_low, float(np.sqrt(found2.min())))
        high = max(found.reached_high, float(np.sqrt(found2.max())))
        return Extremes(low, high, low, high, False, found.boxes)


Range = tuple[float, float, str]
"""Least and largest factor, and what it moves with."""


def _factors(branch: Branch, z_ohm: complex, spread: Spread) -> tuple[Range, Range]:
    """Return the ranges of the impedance that the branch shows in this state, and of its emf."""
    is_open = isinstance(branch, Contact | Switch) and z_ohm != branch.r_closed_ohm
    z_low, z_high = (spread.leak_low, spread.leak_high) if is_open else (spread.z_low, spread.z_high)
    z_with = f"impedances {spread.z_with}" if spread.z_with else ""
    emf_with = f"emfs {spread.emf_with}" if spread.emf_with else ""
    return (z_low, z_high, z_with), (spread.emf_low, spread.emf_high, emf_with)


def _numbered(names: Sequence[str]) -> Ints:
    """Return a number for each name, the same for the same name; every empty name is one of its own."""
    number_of: dict[str | int, int] = {}
    keys: list[str | int] = [name or i for i, name in enumerate(names)]
    return np.array([number_of.setdefault(key, len(number_of)) for key in keys], dtype=np.int64)


def _require_known(netlist: Netlist, spreads: Sequence[Spread], readings: Sequence[Reading]) -> None:
    seen: set[Tag] = set()
    for spread in spreads:
        branch = netlist.by_tag.get(spread.tag)
        if branch is None:
            raise ValueError(f"There is no branch {spread.tag} to spread; its tag must be one of the netlist's.")
        if spread.tag in seen:
            raise ValueError(f"{spread.tag} has two spreads; put both into one.")
        seen.add(spread.tag)
        if (spread.emf_low, spread.emf_high) != (1.0, 1.0) and not isinstance(branch, Source):
            raise ValueError(f"{spread.tag} is no source, so it has no emf to spread.")
    for reading in readings:
        if isinstance(reading, Through):
            if reading.tag not in netlist.by_tag:
                raise ValueError(f"There is no branch {reading.tag} whose current could be read.")
        else:
            for node in (reading.a, reading.b):
                if node not in netlist.index:
                    raise ValueError(f"There is no node {node} to read at.")
