"""The race while coils pull in: whose inrush sags the supply so far that another coil falls out, or itself again.

``settle`` tells where coils come to rest but has no clock: a sealed coil that sags while another is still on its way
acts at once or not at all. Here each coil takes time. From the moment its voltage suffices, an armature travels for
``travel_s`` (after the coil's own ``delay_s``) and draws its inrush current all that while; a sealed one lets go only
when its voltage stays under drop-out for ``release_s``. Between two moments nothing moves, and the phasor circuit is
solved as ever: what lasts less than a cycle (the first half-wave's offset, saturation) is not in this model.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Set
from dataclasses import dataclass, replace

from subbase.circuit.netlist import Coil, Netlist, Source, Tag
from subbase.circuit.settle import Settled, Step, settle, wants_change
from subbase.circuit.solve import NO_TAGS, Solution, solve

INRUSH_SHARE = 0.2
"""A coil that is out and has more than this share of its pull-in voltage draws inrush current; less is leakage."""
MOST_PULL_INS = 3
"""A coil that pulls in this often in one race is taken to do so for ever."""
SAME_MOMENT_S = 1e-9
OPEN_OHM = 1e9


@dataclass(frozen=True, slots=True)
class Times:
    """How long armatures take [s].

    A published table gives a large contactor (NEMA size 3) 35 ms to pick up and 18 ms to drop out (read second-hand);
    the small ones of the trade are quicker, about 10 to 30 ms and 5 to 15 ms (from memory). The values here are slow
    to pull in and quick to let go, so they err towards falling out.
    """

    travel_s: float = 0.03
    release_s: float = 0.005


@dataclass(frozen=True, slots=True)
class Moment:
    """Coils that acted together, and when, counted from the switches' action."""

    time_s: float
    step: Step


@dataclass(frozen=True, slots=True)
class Fall:
    """A sealed coil that let go though its switches did not ask for it."""

    tag: Tag
    time_s: float
    volts: float
    """Across it while it sagged, under ``drop_out_v``."""
    drop_out_v: float
    without_inrush_v: float
    """What it would have had if all coils had drawn their sealed current."""
    because_of: tuple[Tag, ...]
    """Coils whose current took the voltage away, sorted."""
    pulled_in_before: bool
    """It had only just pulled in, in this same race."""

    @property
    def only_inrush(self) -> bool:
        """Whether it would have stayed in but for inrush; otherwise the sealed current alone is too much."""
        return self.without_inrush_v >= self.drop_out_v


@dataclass(frozen=True, slots=True)
class Dip:
    """The lowest voltage that a sealed coil, or a supply, saw while others drew inrush current."""

    tag: Tag
    before_v: float
    """Before the switches acted; for a coil that pulled in later, 0 or what it then had."""
    lowest_v: float
    drop_out_v: float
    """Of the coil; 0 for a supply."""
    because_of: tuple[Tag, ...]
    """Coils that drew inrush current then, sorted."""


@dataclass(frozen=True, slots=True)
class Race:
    """What happened after the switches acted."""

    moments: tuple[Moment, ...]
    falls: tuple[Fall, ...]
    coil_dips: tuple[Dip, ...]
    supply_dips: tuple[Dip, ...]
    end: Settled | None
    """At rest; None when coils pull in and fall out without end."""
    cycling: tuple[Tag, ...]
    """Coils that do, sorted."""

    @property
    def fell_out(self) -> tuple[Tag, ...]:
        """Return coils that were in before and fell out because of others, sorted."""
        return tuple(sorted({fall.tag for fall in self.falls if not fall.pulled_in_before}))

    @property
    def fell_back(self) -> tuple[Tag, ...]:
        """Return coils that pulled in and fell out again because of others, sorted."""
        return tuple(sorted({fall.tag for fall in self.falls if fall.pulled_in_before}))


def pull_in_race(
    netlist: Netlist, *, before: Set[Tag] = NO_TAGS, after: Set[Tag] = NO_TAGS, times: Times | None = None
) -> Race:
    """Return what follows when switches go from one position to another.

    Parameters
    ----------
    before, after
        Tags of switches that are not in their normal position, before and after.
    times
        How long armatures take; the same for every coil, beside its own ``delay_s``.

    Raises
    ------
    Chatter
        When the circuit was not at rest before.
    """
    times = times or Times()
    start = settle(netlist, operated=before)
    coils = tuple(netlist.of(Coil))
    state, pull_ins = start.coils_in, Counter[Tag]()
    left_s: dict[Tag, float] = {}
    moments: list[Moment] = []
    falls: list[Fall] = []
    watch = _Watch(start)
    time_s = 0.0
    while True:
        solution = solve(netlist, operated=after, coils_in=state)
        inrush = _drawing_inrush(solution, state)
        watch.look(solution, state, inrush)
        # A coil that no longer wants to move starts afresh when it next does.
        left_s = {
            c.tag: left_s.get(c.tag, _needed_s(c, state, times)) for c in coils if wants_change(c, solution, state)
        }
        if not left_s:
            end = Settled(solution, state, tuple(moment.step for moment in moments))
            return Race(tuple(moments), tuple(falls), *watch.seen(), end, ())
        wait_s = min(left_s.values())
        acting = frozenset(tag for tag, seconds in left_s.items() if seconds - wait_s <= SAME_MOMENT_S)
        left_s = {tag: seconds - wait_s for tag, seconds in left_s.items() if tag not in acting}
        time_s += wait_s
        moments.append(Moment(time_s, _step(acting, solution, state, wait_s)))
        for tag in sorted(acting & state):
            falls += _why(solution, tag, inrush, frozenset(pull_ins), time_s)
        pull_ins.update(acting - state)
        state = state ^ acting
        cycling = tuple(sorted(tag for tag, count in pull_ins.items() if count >= MOST_PULL_INS))
        if cycling:
            return Race(tuple(moments), tuple(falls), *watch.seen(), None, cycling)


class _Watch:
    """Keeps the deepest dip of each sealed coil and of each supply."""

    def __init__(self, start: Settled) -> None:
        self.before = start.solution
        self.deepest: dict[Tag, Dip] = {}

    def look(self, solution: Solution, state: Set[Tag], inrush: Set[Tag]) -> None:
        """Take in what is so between two moments."""
        if not inrush:
            return
        netlist = solution.netlist
        watched = [(coil.tag, coil.drop_out_v) for coil in netlist.of(Coil) if coil.tag in state]
        watched += [(source.tag, 0.0) for source in netlist.of(Source)]
        for tag, drop_out_v in watched:
            dip = Dip(tag, abs(self.before.across(tag)), abs(solution.across(tag)), drop_out_v, tuple(sorted(inrush)))
            if tag not in self.deepest or dip.lowest_v < self.deepest[tag].lowest_v:
                self.deepest[tag] = dip

    def seen(self) -> tuple[tuple[Dip, ...], tuple[Dip, ...]]:
        """Return the dips of (coils, supplies), the deepest first."""
        coils = [dip for dip in self.deepest.values() if dip.drop_out_v > 0.0]
        supplies = [dip for dip in self.deepest.values() if dip.drop_out_v == 0.0]
        coils.sort(key=lambda dip: (dip.lowest_v / dip.drop_out_v, dip.tag))
        supplies.sort(key=lambda dip: (dip.lowest_v, dip.tag))
        return tuple(coils), tuple(supplies)


def _needed_s(coil: Coil, state: Set[Tag], times: Times) -> float:
    return coil.delay_s + (times.release_s if coil.tag in state else times.travel_s)


def _drawing_inrush(solution: Solution, state: Set[Tag]) -> frozenset[Tag]:
    return frozenset(
        coil.tag
        for coil in solution.netlist.of(Coil)
        if coil.tag not in state and abs(solution.across(coil.tag)) > INRUSH_SHARE * coil.pull_in_v
    )


def _step(acting: Set[Tag], solution: Solution, state: Set[Tag], wait_s: float) -> Step:
    pulled_in, dropped_out = tuple(sorted(acting - state)), tuple(sorted(acting & state))
    volts = tuple(abs(solution.across(tag)) for tag in pulled_in)
    amperes = tuple(abs(solution.current_a(tag)) for tag in pulled_in)
    return Step(pulled_in, dropped_out, wait_s, volts, amperes)


def _why(solution: Solution, tag: Tag, inrush: Set[Tag], pulled_in: Set[Tag], time_s: float) -> Iterator[Fall]:
    """Yield the fall of a coil when other coils' current is to blame; nothing when its own circuit changed.

    The same moment is solved again with those in inrush drawing sealed current, and with them and all that have pulled
    in gone: only what that gives back was taken by them. No contact moves meanwhile.
    """
    coil = solution.netlist.by_tag[tag]
    others = frozenset((inrush | (pulled_in & solution.coils_in)) - {tag})
    if not isinstance(coil, Coil) or not others:
        return
    without_inrush_v = abs(_altered(solution, inrush, gone=False).across(tag))
    if max(without_inrush_v, abs(_altered(solution, others, gone=True).across(tag))) >= coil.drop_out_v:
        because_of = inrush if without_inrush_v >= coil.drop_out_v else others
        volts = abs(solution.across(tag))
        again = tag in pulled_in
        yield Fall(tag, time_s, volts, coil.drop_out_v, without_inrush_v, tuple(sorted(because_of)), again)


def _altered(solution: Solution, tags: Set[Tag], *, gone: bool) -> Solution:
    """Solve one moment again with some coils as if sealed, or as if not there."""

    def changed(coil: Coil) -> Coil:
        if gone:
            return replace(coil, z_out_ohm=OPEN_OHM, z_in_ohm=OPEN_OHM)
        return replace(coil, z_out_ohm=coil.z_in_ohm)

    branches = tuple(changed(b) if isinstance(b, Coil) and b.tag in tags else b for b in solution.netlist.branches)
    return solve(Netlist(branches), operated=solution.operated, coils_in=solution.coils_in)
