"""What in a survey is likelier a slip of whoever wrote it than a fact: the circuit as written could not have worked.

A house whose control is to be replaced mostly worked yesterday. Where the circuit of the survey cannot do what the old
control was there for, either the house is broken or the survey is wrong; nobody but the person there can tell, so they
are told, and the plan is not held up.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Literal

from subbase.catalog import Catalog, TransformerPart
from subbase.names import conductor_words, list_words, named, or_words
from subbase.plan.proof import prove
from subbase.plan.proposal import wanted_calls
from subbase.plan.proven import Proof
from subbase.plan.result import Caution
from subbase.survey import NOWHERE, ConductorEnd, Survey, Unknown, with_landing
from subbase.wiring import system_calls
from subbase.wiring.outputs import outputs_on, settings_for
from subbase.words import _

DEAD_RULES = ("missing load", "wrong load", "control unpowered")
"""Rules that a circuit breaks by how it is wired, and not by being weak."""
MOST_CAUSES = 3
CLASS_2_V = 30.0
NOMINAL_V = 24.0


def proof_as_found(found: Survey, catalog: Catalog) -> Proof:
    """Return the proof of a house as found; calls that are not wired through today are not held against it."""
    unwired = (frozenset(system_calls(found, catalog, c)) - wanted_calls(found, catalog, c) for c in found.controls)
    return prove(found, catalog, lost=frozenset().union(*unwired))


def look_again(found: Survey, catalog: Catalog, proof: Proof) -> tuple[Caution, ...]:
    """Return what to look at again before anything is moved.

    Parameters
    ----------
    proof
        Of the house as found.
    """
    return (*_does_not_work(found, catalog, proof), *_reaches_nothing(found, catalog), *_volts_for_va(found, catalog))


def _does_not_work(found: Survey, catalog: Catalog, proof: Proof) -> Iterator[Caution]:
    told: dict[str, list[str]] = {}
    for failure in proof.failures:
        if failure.rule in DEAD_RULES:
            told.setdefault(failure.state, []).append(failure.cause)
    if not told:
        return
    state, causes = next(iter(told.items()))
    text = _(
        "As the survey has it, the house does not work today, in {state}: {causes}. If it did work, something in the survey is not so: look again at both ends of each conductor, and for a jumper that was left out."
    ).format(state=state, causes="; ".join(dict.fromkeys(causes[:MOST_CAUSES])))
    # Two conductors that changed places bring on what must stay off; where nothing comes on, no exchange would mend it.
    crossed = any(failure.rule == "wrong load" for failure in proof.failures)
    swaps = [words for words, changed in _swaps(found) if _works(changed, catalog)] if crossed else []
    if swaps:
        text = " ".join((text, _("It would work if {swaps}.").format(swaps=or_words(swaps[:MOST_CAUSES]))))
    yield Caution(text, _("the circuit as found"))


def _reaches_nothing(found: Survey, catalog: Catalog) -> Iterator[Caution]:
    """Yield conductors that the old control drives in a call which the equipment could answer, and that end before it.

    Such a call counts as never wired, and a plan would take the conductor off.
    """
    for name, control in found.controls.items():
        wanted = wanted_calls(found, catalog, name)
        settings = settings_for(found, catalog, name)
        used = {terminal for call in wanted for terminal in outputs_on(control.old, settings, {call})}
        for call in system_calls(found, catalog, name):
            ends = {f"{name}.{terminal}" for terminal in outputs_on(control.old, settings, {call}) - used}
            for cable, _held, wire, conductor in found.conductors():
                near, far = str(conductor.from_), str(conductor.to)
                near, far = (near, far) if near in ends else (far, near)
                if near not in ends or far in NOWHERE:
                    continue
                used.add(near.rpartition(".")[2])
                yield Caution(
                    _(
                        "{conductor} of {cable} lands at both ends, {near} and {far}, and as the survey has it a call for {call} reaches nothing there that it must run. If {call} worked, a conductor or a jumper is missing from the survey; the plan would take this one off."
                    ).format(conductor=conductor_words(wire), cable=cable, near=near, far=far, call=named(call)),
                    _("the circuit as found"),
                )


def _works(survey: Survey, catalog: Catalog) -> bool:
    return not any(failure.rule in DEAD_RULES for failure in proof_as_found(survey, catalog).failures)


def _swaps(survey: Survey) -> Iterator[tuple[str, Survey]]:
    """Yield surveys with two conductors of one cable the other way round at one end."""
    for cable, held in survey.cables.items():
        sides: tuple[Literal["from", "to"], ...] = ("from", "to") if held.from_ in survey.controls else ("to", "from")
        for one, other in combinations(held.conductors, 2):
            for side in sides:
                a, b = (ConductorEnd(cable=cable, conductor=name, end=side) for name in (one, other))
                here, there = str(a.landing(survey)), str(b.landing(survey))
                if here in NOWHERE or there in NOWHERE:
                    continue
                words = _("{conductor} and {conductor_2} of {cable} are the other way round at {place}").format(
                    conductor=conductor_words(one),
                    conductor_2=conductor_words(other),
                    cable=cable,
                    place=a.place(survey),
                )
                yield words, with_landing(with_landing(survey, a, there), b, here)


def _volts_for_va(found: Survey, catalog: Catalog) -> Iterator[Caution]:
    """Yield nameplates on which VA and volts may have been taken for each other."""
    plates: list[tuple[str, float | Unknown | None, float | Unknown | None]] = [
        (name, item.va, item.volts) for name, item in found.transformers.items()
    ]
    for place, item in found.equipment.items():
        for part in catalog[str(item.kind)].parts:
            if isinstance(part, TransformerPart) and part.id in item.nameplate:
                plate = item.nameplate[part.id]
                plates.append((place, plate.get("va"), plate.get("volts")))
    for place, va, volts in plates:
        if va == NOMINAL_V or (isinstance(volts, float) and volts > CLASS_2_V):
            read = [f"{va:g} VA"] if isinstance(va, float) else []
            read += [f"{volts:g} V"] if isinstance(volts, float) else []
            yield Caution(
                _(
                    "The nameplate at {place} is given as {read}. Volts and VA are easily taken for each other: 24 is the volts of nearly every control transformer, 40, 50 or 75 its VA. Read it again."
                ).format(place=place, read=list_words(read)),
                _("judgement"),
            )
