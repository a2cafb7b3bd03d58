"""A deck that was written can be read, and nothing else can."""

from __future__ import annotations

import json
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.circuit import Impedance, Netlist, Source, Switch, solve
from subbase.circuit.spice import spice_deck
from subbase.circuit.spice_reader import read_deck
from subbase.errors import Fault, InputError
from tests.laws.circuits import LAWS, circuits, random_circuit, random_state, seeds

RELATIVE = 1e-9
DECK = spice_deck(Netlist((Source("T", "C", "R", 24 + 1j, 1.8), Impedance("load", "R", "C", 30 - 4j))))


def assert_read_back(netlist: Netlist, operated: set[str], coils_in: set[str], title: str = "any") -> None:
    """Write a state, read it and compare node voltages; a node that only open branches had is left out, at 0 V."""
    solution = solve(netlist, operated=operated, coils_in=coils_in)
    read = solve(read_deck(spice_deck(netlist, operated=operated, coils_in=coils_in, title=title)))
    largest_v = max((abs(v) for v in solution.node_v.values()), default=0.0)
    assert read.node_v.keys() <= solution.node_v.keys()
    for node, v in solution.node_v.items():
        assert abs(read.node_v.get(node, 0j) - v) <= RELATIVE * largest_v, node


@LAWS
@given(circuits, seeds)
def test_a_deck_read_back_has_the_same_voltages(netlist: Netlist, seed: int) -> None:
    """Sources, resistors, inductors, capacitors and islands survive writing and reading."""
    assert_read_back(netlist, *random_state(Random(seed), netlist))


@LAWS
@given(circuits, seeds)
def test_a_deck_written_again_reads_alike(netlist: Netlist, seed: int) -> None:
    """What was read is written and read without a further change of tags, kinds or ends."""
    operated, coils_in = random_state(Random(seed), netlist)
    once = read_deck(spice_deck(netlist, operated=operated, coils_in=coils_in))
    twice = read_deck(spice_deck(once))
    assert [(type(b), b.tag, b.tail, b.head) for b in twice.branches] == [
        (type(b), b.tag, b.tail, b.head) for b in once.branches
    ]


@LAWS
@given(
    st.lists(st.text(), min_size=3, max_size=3, unique=True),
    st.text(),
    st.lists(st.text(), min_size=3, max_size=3, unique=True),
)
def test_any_names_survive(nodes: list[str], title: str, tags: list[str]) -> None:
    """Names of nodes and branches and the title may be any text at all."""
    a, b, c = nodes
    supply, load, loose = tags
    netlist = Netlist((Source(supply, a, b, 24j, 2.0), Impedance(load, b, a, 3j), Switch(loose, b, c)))
    assert_read_back(netlist, set(), set(), title)
    read = read_deck(spice_deck(netlist, operated={loose}, title=title))
    assert [(x.tag, x.tail, x.head) for x in read.branches] == [(supply, a, b), (load, b, a), (loose, b, c)]


def test_an_empty_netlist_survives() -> None:
    """A deck without branches is read as a netlist without branches."""
    assert read_deck(spice_deck(Netlist(()))).branches == ()


def netlist_or_fault(text: str) -> None:
    """Read anything; only an InputError with faults in order may come of it."""
    faults: tuple[Fault, ...] = ()
    try:
        made: Netlist | None = read_deck(text)
    except InputError as error:
        made, faults = None, error.faults
    assert (made is None) == bool(faults)
    assert [fault.line for fault in faults] == sorted(fault.line for fault in faults)


@settings(LAWS, max_examples=300)
@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    """Arbitrary text gives a netlist or an InputError, never another error."""
    netlist_or_fault(text)


PIECES = st.sampled_from(
    [
        *DECK.split("\n"),
        '* "x"',
        "R1_x n1_c n2_r 1e-300",
        "L1_x n1_c n1_c 1.0",
        "C1_t e1_t n1_c 1e-320",
        "V1_x a b DC 0 AC 1e999 0",
    ]
)
WORDS = st.sampled_from(
    ["n1_c", "n2_r", "0", "-1.0", "1e308", "1e-308", "AC", "R9_x", '"\\ud800"', '"\\q"', "*", "e1_t", "nan"]
)


@settings(LAWS, max_examples=400)
@given(st.data())
def test_any_damaged_deck_is_read_or_refused(data: st.DataObject) -> None:
    """Lines left out, repeated, moved or with a word exchanged give a netlist or an InputError."""
    lines = DECK.split("\n")
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.integers(0, 2)):
            case 0:
                lines[at] = data.draw(PIECES)
            case 1:
                lines.insert(at, data.draw(PIECES))
            case _:
                words = lines[at].split(" ")
                words[data.draw(st.integers(0, len(words) - 1))] = data.draw(WORDS)
                lines[at] = " ".join(words)
    netlist_or_fault("\n".join(lines))


@LAWS
@given(seeds)
def test_a_deck_cut_short_is_refused(seed: int) -> None:
    """A file that ends too early is never taken for a smaller circuit."""
    rng = Random(seed)
    lines = spice_deck(random_circuit(rng)).rstrip("\n").split("\n")
    with pytest.raises(InputError):
        read_deck("\n".join(lines[: rng.randrange(len(lines))]))


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("R1_t e1_t n2_r 1.8", "D1_t e1_t n2_r 1.8", 6, "not one that spice_deck writes"),
        ("R1_t e1_t n2_r 1.8", "R1_t e1_t n2_r 1k8", 6, "not one that spice_deck writes"),
        ("R1_t e1_t n2_r 1.8", "R1_t e1_t n2_r 0.0", 6, "cannot be 0"),
        ("0.0006631455962162307", "-0.0006631455962162307", 9, "cannot be -0.0006"),
        ("0.0006631455962162307", "1e-320", 7, "too large or too small"),
        ('* node n2_r is "R"', r'* node n2_r is "\q"', 3, "not a name in quotation marks"),
        ("Vref1 n1_c 0 DC 0 AC 0", "Vref1 n1_c 0 DC 0 AC 0\nVref2 n1_c 0 DC 0 AC 0", 11, "joined to ground twice"),
        ("R1_t e1_t n2_r 1.8", "R1_t e1_t n9_r 1.8", 4, "n9_r is not declared"),
        ("R1_t e1_t n2_r 1.8", "R1_t n1_c n2_r 1.8", 6, "must go on from e1_t"),
        ("C2_load m2_load n1_c", "C2_load m2_load n2_r", 7, "to itself"),
        ("C2_load m2_load", "C2_load e1_t", 9, "must go on from m2_load"),
        ('* "load"', '* "T"', 7, "also on line 4"),
        ('* node n2_r is "R"', '* node n2_r is "C"', 3, "comes twice"),
        ("Vref1 n1_c 0", "Vref1 n2_r 0", 10, "must not be joined to ground"),
        (".ac lin 1 60 60", ".ac lin 1 50 50", 12, "not one that spice_deck writes"),
        (".end\n", "\n", 21, "'.end' is missing"),
    ],
)
def test_faults_name_the_line_and_what_is_wrong(old: str, new: str, line: int, said: str) -> None:
    """Each departure from what is written is told in one sentence with its line."""
    assert DECK.count(old) >= 1, json.dumps(DECK)
    start, _, end = DECK.rpartition(old)
    with pytest.raises(InputError) as caught:
        read_deck(start + new + end, file="house.cir")
    assert any(fault.line == line and said in fault.message for fault in caught.value.faults), str(caught.value)
    assert str(caught.value).startswith("house.cir:")
