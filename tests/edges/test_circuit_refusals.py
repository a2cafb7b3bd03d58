"""Circuits that cannot be built, and questions that have no answer, are told apart in a sentence."""

from __future__ import annotations

import pytest

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch
from subbase.circuit.changes import Change, require_fitting
from subbase.circuit.diodes import Diode, DiodeCircuit, Sine
from subbase.circuit.halfwave import steady_state
from subbase.circuit.kept import kept_circuit
from subbase.circuit.netlist import Branch
from subbase.circuit.tolerance import Between, Reading, Spread, Through, bounds
from subbase.errors import NoSolution

SUPPLY = Source("supply", "C", "R", 27.0, 1.8)
RELAY = Coil("relay", "R", "C", 100.0, 200.0 + 80.0j, 18.0, 9.0)


@pytest.mark.parametrize(
    ("branches", "says"),
    [
        ((SUPPLY, Impedance("supply", "R", "C", 9.0)), "unique; repeated: supply"),
        ((Impedance("loop", "R", "R", 1.0),), "loop joins node R to itself"),
        ((SUPPLY, Contact("made", "R", "fan", ("nobody",))), "coils that do not exist"),
        ((Impedance("short", "R", "C", 0.0),), "zero impedance"),
        ((Switch("Y", "R", "C", r_closed_ohm=0.0),), "zero impedance"),
    ],
)
def test_a_circuit_that_cannot_be_is_refused(branches: tuple[Branch, ...], says: str) -> None:
    """Two branches of one name, one from a node to itself, a contact of no coil, and nothing at all between two nodes."""
    with pytest.raises(ValueError, match=says):
        Netlist(branches)


def test_a_contact_cannot_be_given_to_another_coil() -> None:
    """A change keeps what works a contact; otherwise it would be another circuit."""
    netlist = Netlist((SUPPLY, RELAY, Contact("made", "R", "fan", ("relay",))))
    with pytest.raises(ValueError, match="worked by the same coils"):
        require_fitting(netlist, Change("made", Contact("made", "R", "fan", ())))
    require_fitting(netlist, Change("made", Contact("made", "R", "fan", ("relay",), r_closed_ohm=5.0)))


def test_a_circuit_with_diodes_needs_names_and_a_period() -> None:
    """Two diodes of one name and a frequency of nought are refused; so is a voltage across what is not there."""
    supply, diode = Sine("supply", "C", "R", 24.0, 1.0), Diode("d", "R", "C")
    with pytest.raises(ValueError, match="unique; repeated: d"):
        DiodeCircuit((supply, diode, diode))
    with pytest.raises(ValueError, match="has no period"):
        DiodeCircuit((supply, diode), hertz=0.0)
    with pytest.raises(KeyError, match="No branch is called 'nothing'"):
        steady_state(DiodeCircuit((supply, diode))).across("nothing")


@pytest.mark.parametrize(
    ("reading", "says"),
    [(Through("nothing"), "no branch nothing"), (Between("R", "nowhere"), "no node nowhere")],
)
def test_bounds_of_what_is_not_there_are_refused(reading: Reading, says: str) -> None:
    """A tag or a node that the circuit does not have is named."""
    with pytest.raises(ValueError, match=says):
        bounds(Netlist((SUPPLY, RELAY)), [Spread.either_way("supply", 0.1)], [reading])


def test_a_resonance_without_loss_has_no_voltages() -> None:
    """Where an inductance and a capacitance cancel exactly, every way of solving says so instead of dividing by nought."""
    netlist = Netlist(
        (
            SUPPLY,
            Impedance("choke", "R", "mid", 50.0j),
            Impedance("cap", "mid", "C", -50.0j),
            Impedance("wire", "R", "load", 1.0),
            Impedance("load", "load", "C", 90.0),
        )
    )
    with pytest.raises(NoSolution, match="cancel exactly"):
        kept_circuit(netlist)
    with pytest.raises(NoSolution, match="cancel exactly"):
        bounds(netlist, [Spread.either_way("load", 0.1)], [Between("R", "C")])
