"""The control circuit as a network of branches, and the one physics that everything else reads.

It knows nothing of thermostats. The rooms:

netlist, conductor, solve, settle
    nodes and branches, the reference solver, relay logic brought to rest; the standard library only
batch, elimination, kernel
    very many states of one netlist; must agree with the reference
changes, variants, variant_kernel, variant_program
    one netlist with one or two things broken or otherwise, in bulk
kept, kept_elimination
    one netlist with its conductors landed otherwise, again and again; the standard library only
tolerance, extremes, enclosure, influence
    guaranteed bounds of a reading over ranges of everything at once
ghost, meters, many_ohms
    capacitance between conductors, and what a meter shows on each range
diodes, pieces, halfwave, diode_range
    rectifiers, half-wave fed coils, solenoids behind a bridge
transients, fuses, stealing
    pull-in races, melting times, controls that feed themselves through a load
spice, spice_reader, views
    decks that ngspice runs, reading them back, tables and drawings

Modules that need numpy or numba are imported by whoever needs them, never from here.
"""

from subbase.circuit.conductor import conductor_ohm
from subbase.circuit.netlist import Coil, Contact, Impedance, Netlist, Source, Switch
from subbase.circuit.settle import Settled, settle
from subbase.circuit.solve import Solution, solve

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
    "settle",
    "solve",
]
