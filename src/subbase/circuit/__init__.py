"""The control circuit as a network of branches, and the one physics that everything else reads.

It knows nothing of thermostats: nodes, Thevenin sources, impedances, coils that pull in and drop out, contacts that
coils work, and switches that the caller closes. ``solve`` is the readable definition of what is right and needs only
the standard library; ``batch`` solves very many states of the same netlist and must agree with it.
"""

from subbase.circuit.conductor import conductor_ohm
from subbase.circuit.netlist import Coil, Contact, Impedance, Netlist, Source, Switch
from subbase.circuit.settle import Settled, settle
from subbase.circuit.solve import Solution, floating_nodes, solve

__all__ = [
    "Coil",
    "Contact",
    "Impedance",
    "Netlist",
    "Settled",
    "Solution",
    "Source",
    "Switch",
    "conductor_ohm",
    "floating_nodes",
    "settle",
    "solve",
]
