"""A control that lives on what leaks through its loads: do they let go, and does it keep its own supply?

The model. With no call, the control's draw passes through its open output and the load behind it; that draw is the
output's ``z_open_ohm``, linear at supply frequency. Its supply is the voltage across that open output. On call the output
closes and the voltage across it is gone, so the control must live on another output that is still open, or on what it has
stored. When neither carries it, it lets the call go, finds its supply again, wakes and calls again: the load short-cycles.
Controls that open their output for a moment in every half-wave to feed themselves, or feed in series with the closed
output, are not in this model; treat them as stored supply.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, replace
from typing import Literal

from subbase.circuit.netlist import Coil, Contact, Netlist, Switch, Tag
from subbase.circuit.settle import settle
from subbase.circuit.solve import NO_TAGS, solve
from subbase.errors import Chatter

Verdict = Literal[
    "fed without leakage", "pulls in without a call", "short-cycles", "holds in after its call", "lets go"
]


@dataclass(frozen=True, slots=True)
class OffState:
    """What leakage leaves across one coil when nothing calls for it."""

    tag: Tag
    out_v: float
    """Across it while it is out (inrush impedance)."""
    in_v: float
    """Across it while it is still in (sealed impedance)."""
    of_pull_in: float
    """``out_v`` over its pull-in voltage: from 1 up, it pulls in."""
    of_drop_out: float
    """``in_v`` over its drop-out voltage: from 1 up, it stays in."""
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Stealing:
    """How a power-stealing control and its loads get on."""

    coils: tuple[OffState, ...]
    """In the order of the netlist."""
    idle_v: float
    """The control's supply when nothing is called: the largest voltage across an open output that it can use."""
    call_v: float
    """The same during the call, once coils have acted."""
    least_v: float
    sleeps_idle: bool
    """It cannot live even when idle."""
    cycles: bool
    """It lives when idle but its supply is gone on call and it has no store: the call comes and goes."""
    chattering: tuple[Tag, ...] = ()
    """Coils that never come to rest with the control's leakage, idle or during the call."""


def off_states(netlist: Netlist, *, idle: Set[Tag] = NO_TAGS) -> tuple[OffState, ...]:
    """Return what leakage through open switches leaves across each coil, and whether it lets go.

    Each coil is judged in the state where the others are as they would be without leakage.

    Parameters
    ----------
    idle
        Tags of switches that are not in their normal position when nothing is called.

    Raises
    ------
    Chatter
        When the circuit does not come to rest even without leakage.
    """
    fed = settle(_without_leakage(netlist), operated=idle).coils_in
    return tuple(_off_state(netlist, coil, idle, fed) for coil in netlist.of(Coil))


def power_stealing(
    netlist: Netlist,
    through: tuple[Tag, ...],
    *,
    idle: Set[Tag] = NO_TAGS,
    call: Set[Tag],
    least_v: float,
    stored: bool = False,
) -> Stealing:
    """Return whether loads let go of a power-stealing control, and whether it keeps its supply on call.

    Parameters
    ----------
    through
        Tags of the switches that it can feed itself across.
    idle, call
        Tags of switches that are not in their normal position without and with the call.
    least_v
        The least voltage on which the control runs [V rms].
    stored
        It has a store that carries it through a call; when idle it must still find its supply.

    Raises
    ------
    Chatter
        When the circuit does not come to rest even without leakage.
    ValueError
        When ``through`` names something that is no switch.
    """
    for tag in through:
        if not isinstance(netlist.by_tag.get(tag), Switch):
            raise ValueError(f"{tag!r} is no switch of this circuit, so a control cannot feed itself across it.")
    idle_v, idle_chatter = _supply_v(netlist, through, idle)
    call_v, call_chatter = _supply_v(netlist, through, call)
    return Stealing(
        off_states(netlist, idle=idle),
        idle_v,
        call_v,
        least_v,
        sleeps_idle=idle_v < least_v,
        cycles=idle_v >= least_v > call_v and not stored,
        chattering=tuple(sorted({*idle_chatter, *call_chatter})),
    )


def _off_state(netlist: Netlist, coil: Coil, idle: Set[Tag], fed: Set[Tag]) -> OffState:
    out_v = abs(solve(netlist, operated=idle, coils_in=fed - {coil.tag}).across(coil.tag))
    in_v = abs(solve(netlist, operated=idle, coils_in=fed | {coil.tag}).across(coil.tag))
    verdict: Verdict
    if coil.tag in fed:
        verdict = "fed without leakage"
    elif out_v >= coil.pull_in_v:
        verdict = "pulls in without a call" if in_v >= coil.drop_out_v else "short-cycles"
    else:
        verdict = "holds in after its call" if in_v >= coil.drop_out_v else "lets go"
    return OffState(coil.tag, out_v, in_v, _over(out_v, coil.pull_in_v), _over(in_v, coil.drop_out_v), verdict)


def _over(volts: float, limit_v: float) -> float:
    return volts / limit_v if limit_v > 0.0 else float("inf")


def _supply_v(netlist: Netlist, through: tuple[Tag, ...], operated: Set[Tag]) -> tuple[float, tuple[Tag, ...]]:
    """Return (voltage that the control can live on, coils that chatter).

    While coils chatter the supply is only as good as in the worse of their two positions.
    """
    try:
        at_rest = settle(netlist, operated=operated)
    except Chatter as chatter:
        coils = frozenset(chatter.coils)
        worst = min(
            max((abs(solve(netlist, operated=operated, coils_in=state).across(tag)) for tag in through), default=0.0)
            for state in (frozenset[Tag](), coils)
        )
        return worst, chatter.coils
    return max((abs(at_rest.solution.across(tag)) for tag in through), default=0.0), ()


def _without_leakage(netlist: Netlist) -> Netlist:
    return Netlist(
        tuple(replace(b, z_open_ohm=None) if isinstance(b, Switch | Contact) else b for b in netlist.branches)
    )
