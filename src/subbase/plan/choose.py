"""One house without unknowns: every route tried for every control that is replaced, the best one kept."""

from __future__ import annotations

from dataclasses import dataclass, replace

from subbase.catalog import CALLS, Call, Catalog
from subbase.names import and_words, named, sentence
from subbase.plan.guards import bypassed
from subbase.plan.landings import ENOUGH_MARGIN, Chosen, choose_landings, wires_of
from subbase.plan.proof import prove, tied_supplies
from subbase.plan.proposal import Case, Proposal, Refused, case_of, lost_calls, touches
from subbase.plan.proven import Failure, Proof
from subbase.plan.remedy import MINUTES, curable, remedies
from subbase.plan.result import ControlPlan, JumperChange, Route, RouteName
from subbase.plan.routes import ROUTES, Propose
from subbase.survey import CUT_SHORT, LOOSE, Jumper, Survey
from subbase.wiring import build_house
from subbase.words import _

Key = tuple[int, int, int, int, int, int]
MARGIN_GIVEN = 0.05
"""How much of today's margin a route may use up before it counts as weaker (judgement): a new control draws something,
and a hair's breadth must not choose an adapter over a common conductor that is already there."""


@dataclass(frozen=True, slots=True)
class HousePlan:
    """What was chosen for a house without unknowns."""

    controls: tuple[ControlPlan, ...]
    refused: tuple[Route, ...]
    """Routes of the control for which none is left; empty when all are planned."""
    left: Survey | None
    proof: Proof | None


def choose(survey: Survey, catalog: Catalog, *, brief: bool = False) -> HousePlan:
    """Return the plan of every control that is replaced, one after the other.

    Each control is planned on the house as the ones before leave it; the last proof is of the whole house.

    Parameters
    ----------
    brief
        Leave out routes that could not be chosen even if they held. The choice is the same; the routes passed over are
        not told with it.
    """
    plans: list[ControlPlan] = []
    house = survey
    lost: frozenset[Call] = frozenset()
    for name in [name for name, control in survey.controls.items() if control.new is not None]:
        case = case_of(house, catalog, name)
        routes = _routes(case, brief=brief)
        best = routes[0]
        if not best.offered or best.left is None:
            return HousePlan(tuple(plans), tuple(routes), None, None)
        wanted = tuple(call for call in CALLS if call in case.wanted)
        plans.append(ControlPlan(name, case.settings, best, tuple(routes), wanted))
        lost |= lost_calls(case, frozenset(best.lost))
        house = best.left
    return HousePlan(tuple(plans), (), house, prove(house, catalog, lost=lost))


def _routes(case: Case, *, brief: bool) -> list[Route]:
    """Return routes, the one to be chosen in front."""
    if brief:
        able = sorted(_able(case), key=rank)
        guarded = _guarded(case, able)
        if guarded[0] is able[0]:
            return guarded
    return _guarded(case, sorted((try_route(case, *route) for route in ROUTES), key=rank))


def _able(case: Case) -> list[Route]:
    """Return, in the order of ``ROUTES``, every route but those that rank behind another whatever their proof says."""
    found: dict[int, Route] = {}
    proposed: list[tuple[Key, int, Proposal]] = []
    for place, (name, title, propose) in enumerate(ROUTES):
        made = _proposed(case, name, title, propose)
        if isinstance(made, Route):
            found[place] = made
        else:
            proposed.append((least_rank(case, made), place, made))
    best: tuple[Key, int] | None = None
    for least, place, proposal in sorted(proposed, key=lambda item: item[:2]):
        if best is not None and (least, place) > best:
            continue
        found[place] = _worked_out(case, proposal)
        if found[place].offered and (best is None or (rank(found[place]), place) < best):
            best = rank(found[place]), place
    return [route for _place, route in sorted(found.items())]


def _guarded(case: Case, routes: list[Route]) -> list[Route]:
    """Return the routes with the first one that keeps every safety switch in front; those passed over are refused."""
    refused: list[Route] = []
    for index, route in enumerate(routes):
        if not route.offered or route.left is None:
            break
        let_through = bypassed(case.survey, route.left, case.catalog)
        if not let_through:
            return [*routes[index:], *refused]
        refused.append(replace(route, offered=False, reasons=tuple(map(sentence, let_through))))
    return [*refused, *routes[len(refused) :]] if refused else routes


def rank(route: Route) -> Key:
    """Return the order of routes: offered, fewest calls lost, not weaker than today, landings changed, parts, minutes."""
    parts = sum(part.count for part in route.parts)
    return (not route.offered, len(route.lost), route.weaker, route.moved, parts, route.minutes)


def least_rank(case: Case, proposal: Proposal) -> Key:
    """Return a rank that a proposal's route cannot be better than, before its landings are chosen.

    A want that no landed conductor is left for takes one that lies loose, and so moves its end.
    """
    wires = wires_of(proposal.base, case.control)
    landed = sum(1 for wire in wires if wire.far_found not in (LOOSE, CUT_SHORT))
    moved = max(0, len(proposal.wants) - landed)
    parts = sum(part.count for part in proposal.parts)
    return (False, len(_lost(case, proposal)), False, moved + len(proposal.added), parts, proposal.minutes + 5 * moved)


def try_route(case: Case, name: RouteName, title: str, propose: Propose) -> Route:
    """Return a route worked out and proved, or refused with its reasons."""
    made = _proposed(case, name, title, propose)
    return made if isinstance(made, Route) else _worked_out(case, made)


def _proposed(case: Case, name: RouteName, title: str, propose: Propose) -> Proposal | Route:
    try:
        return propose(case)
    except Refused as refusal:
        return Route(name, _(title), offered=False, reasons=(sentence(str(refusal)),))


def _worked_out(case: Case, proposal: Proposal) -> Route:
    found = _landed(case, proposal)
    if isinstance(found, str):
        return Route(proposal.name, proposal.title, offered=False, reasons=(sentence(found),), parts=proposal.parts)
    if curable(found.proof.failures):
        cured = _cured(case, proposal, found.proof)
        if cured is not None:
            return _route(case, *cured)
    return _route(case, proposal, found)


def _lost(case: Case, proposal: Proposal) -> tuple[Call, ...]:
    return tuple(call for call in CALLS if call in proposal.lost and call in case.wanted)


def _landed(case: Case, proposal: Proposal) -> Chosen | str:
    return choose_landings(
        proposal.base, case.catalog, case.control, proposal.wants, lost=proposal.lost, found=case.survey
    )


def _cured(case: Case, proposal: Proposal, weak: Proof) -> tuple[Proposal, Chosen] | None:
    """Return the route with the first larger transformer that makes its proof hold."""
    for remedy in remedies(proposal.base, case.catalog):
        stronger = replace(
            proposal,
            base=remedy.survey,
            title=_("{route}, {remedy}").format(route=proposal.title, remedy=remedy.title),
            parts=(*proposal.parts, remedy.part),
            notes=(
                remedy.note,
                _("Without it {failure}.").format(failure=weak.failures[0].text),
                *proposal.notes,
            ),
            minutes=proposal.minutes + MINUTES,
        )
        found = _landed(case, stronger)
        if not isinstance(found, str) and found.proof.holds:
            return stronger, found
    return None


def _route(case: Case, proposal: Proposal, found: Chosen) -> Route:
    reasons = tuple(because(failure) for failure in _first_of_each(found.proof.failures)) + _new_ties(case, found)
    lost = _lost(case, proposal)
    reasons += tuple(
        _("The owner will not give up {call}.").format(call=named(call)) for call in lost if call in case.survey.wishes
    )
    # A device's leads are landings too: a route is not small because its work sits in a box beside the wall.
    moved = found.moved + len(proposal.added)
    return Route(
        name=proposal.name,
        title=proposal.title,
        offered=not reasons,
        reasons=reasons or proposal.notes,
        lost=lost,
        parts=proposal.parts,
        minutes=proposal.minutes + 5 * found.moved,
        moved=moved,
        landings=found.landings,
        jumpers=_jumper_changes(case, found.survey),
        left=found.survey,
        proof=found.proof,
        weaker=found.proof.margin < min(ENOUGH_MARGIN, case.margin_today - MARGIN_GIVEN),
    )


def because(failure: Failure) -> str:
    """Return a failure as a sentence: the number, where, and what would lift it."""
    said = (
        _("{failure} (at {state})").format(failure=failure.text, state=failure.state) if failure.state else failure.text
    )
    lift = {
        "starved": _("A larger transformer, a heavier or shorter cable, or a load that draws less would lift this."),
        "overload": _("A transformer of more VA, still Class 2, would lift this."),
        "control starved": _("A larger transformer or a heavier cable would lift this."),
        "control unpowered": _("A common that is really joined to the transformer would lift this."),
        "fuse": _("A load that draws less would lift this; never a larger fuse."),
        "class 2": _("A transformer listed Class 2 would lift this."),
        "does not let go": _(
            "A control with relay outputs, or a load resistor fitted by its instructions, would lift this."
        ),
    }.get(failure.rule, "")
    return f"{sentence(said)} {lift}" if lift else sentence(said)


def _first_of_each(failures: tuple[Failure, ...]) -> list[Failure]:
    """Return the first failure of each rule and text, so that one cause is told once."""
    first: dict[tuple[str, str], Failure] = {}
    for failure in failures:
        first.setdefault((failure.rule, failure.cause), failure)
    return list(first.values())


def _new_ties(case: Case, found: Chosen) -> tuple[str, ...]:
    """Say which transformers would share a wire that do not share one today."""
    before = tied_supplies(build_house(case.survey, case.catalog))
    after = tied_supplies(build_house(found.survey, case.catalog))
    return tuple(
        _(
            "{pair} would be tied together; Class 2 supplies may be interconnected only where listed for it (NFPA 70 chapter 9 table 11 notes)."
        ).format(pair=and_words(sorted(pair)))
        for pair in sorted(after - before, key=sorted)
    )


def _jumper_changes(case: Case, left: Survey) -> tuple[JumperChange, ...]:
    """Return what becomes of every link that is found, and the links to be put in; a link is the same from either end."""
    found = [jumper for jumper in case.survey.jumpers if jumper.present is True]
    ends_found, ends_left = (
        {frozenset(jumper.between) for jumper in jumpers if jumper.present is True} for jumpers in (found, left.jumpers)
    )
    changes: list[JumperChange] = []
    for jumper in found:
        if frozenset(jumper.between) not in ends_left:
            changes.append(JumperChange(jumper, "remove", _("goes with the old control")))
        elif touches(jumper, case.control):
            changes.append(JumperChange(jumper, "keep", _("also needed at the new control")))
        else:
            changes.append(JumperChange(jumper, "keep", _("part of the equipment's wiring")))
    added = [j for j in left.jumpers if j.present is True and frozenset(j.between) not in ends_found]
    changes.extend(JumperChange(jumper, "add", _why_added(case, jumper)) for jumper in added)
    return tuple(changes)


def _why_added(case: Case, jumper: Jumper) -> str:
    """Say what a new link is: a lead of an added device, one supply for two terminals, or fan tied to cooling."""
    places = [end.partition(".")[0] for end in jumper.between]
    added = [place for place in places if place not in case.survey.places()]
    if added:
        return _("lead of {device}").format(device=added[0])
    if places == [case.control] * 2:
        return _("one supply feeds both supply terminals")
    return _("the fan then runs with cooling")
