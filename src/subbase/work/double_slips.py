"""The likely pairs of slips: what one tired person does wrongly twice in one sitting.

What counts as likely (all judgement):

- Each of the two is an everyday slip: an end left loose; an end on a neighbour terminal; a link left out, forgotten or
  left tying supplies; a changeover set wrong; or two ends swapped that are easily taken for each other, because their
  terminals are neighbours or because they bear the same colour there.
- They are independent acts: no conductor end and no link is in both.
- They belong together: both in landing the same end of one cable, which is done in one go; or one of them is a link or a setting, done apart from
  the landing of conductors; or the same two conductors are swapped at both ends of their cable, because they were taken
  for each other both times.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from subbase.catalog import Catalog
from subbase.plan import Plan
from subbase.survey import ConductorEnd, Jumper, Survey, split_terminal, with_landing
from subbase.words import _, mark
from subbase.work.slips import Slip, movable_ends, single_slips, terminals_at

RULE = mark(
    "Pairs of everyday slips that touch no conductor end and no link twice, and that either happen in landing the same end of one cable, or of which one is a link or a setting, or that swap the same two conductors at both ends of a cable. Swaps count where the two terminals are neighbours or the two ends bear the same colour."
)
"""What is taken for likely, in one sentence for the papers (judgement)."""


@dataclass(frozen=True, slots=True)
class DoubleSlip:
    """Two slips at once."""

    first: Slip
    second: Slip
    both: Slip
    """The house and the settings that the two leave together."""


@dataclass(frozen=True, slots=True)
class _Act:
    """A slip as what the hand did."""

    slip: Slip
    moved: dict[ConductorEnd, str]
    """End -> where it is now."""
    links_out: tuple[Jumper, ...]
    links_in: tuple[Jumper, ...]

    @property
    def lands(self) -> bool:
        """Return whether conductors were landed wrongly, not a link or a setting."""
        return bool(self.moved)

    def touched(self) -> set[object]:
        """Return the ends, links and controls that this act is about."""
        links = (frozenset(jumper.between) for jumper in (*self.links_out, *self.links_in))
        return {*self.moved, *links, *(name for name, _set in self.slip.settings)}


def double_slips(plan: Plan) -> tuple[DoubleSlip, ...]:
    """Return the likely double slips of a plan, in a fixed order.

    Raises
    ------
    ValueError
        When the plan leaves no house.
    """
    singles = single_slips(plan)
    if plan.left is None:
        raise ValueError("The plan leaves no house, so nothing can slip; answer what it asks.")
    left = plan.left
    ends = movable_ends(left)
    acts = [act for slip in singles if _everyday(act := _act(left, ends, slip), left, plan.catalog)]
    return tuple(
        DoubleSlip(a.slip, b.slip, _both(left, a, b))
        for a, b in combinations(acts, 2)
        if a.touched().isdisjoint(b.touched()) and _belong_together(a, b)
    )


def _act(left: Survey, ends: tuple[ConductorEnd, ...], slip: Slip) -> _Act:
    after = slip.survey
    changed = {name for name, cable in after.cables.items() if cable is not left.cables[name]}
    moved = {end: str(end.landing(after)) for end in ends if end.cable in changed}
    moved = {end: landing for end, landing in moved.items() if landing != end.landing(left)}
    if after.jumpers is left.jumpers:
        return _Act(slip, moved, (), ())
    return _Act(
        slip,
        moved,
        tuple(jumper for jumper in left.jumpers if jumper not in after.jumpers),
        tuple(jumper for jumper in after.jumpers if jumper not in left.jumpers),
    )


def _everyday(act: _Act, left: Survey, catalog: Catalog) -> bool:
    if act.slip.kind != "swapped":
        return True
    a, b = act.moved
    colours = {a.colour(left).strip().lower(), b.colour(left).strip().lower()}
    if len(colours) == 1 and colours != {""}:
        return True
    marked = terminals_at(left, catalog, act.slip.place)
    here = [split_terminal(str(end.landing(left)))[1] for end in (a, b)]
    return set(here) <= set(marked) and abs(marked.index(here[0]) - marked.index(here[1])) == 1


def _belong_together(a: _Act, b: _Act) -> bool:
    if not (a.lands and b.lands):
        return True
    if not {(end.cable, end.end) for end in a.moved}.isdisjoint((end.cable, end.end) for end in b.moved):
        return True
    both_swap = a.slip.kind == b.slip.kind == "swapped"
    return both_swap and {(e.cable, e.conductor) for e in a.moved} == {(e.cable, e.conductor) for e in b.moved}


def _both(left: Survey, a: _Act, b: _Act) -> Slip:
    survey = left
    for end, landing in (*a.moved.items(), *b.moved.items()):
        survey = with_landing(survey, end, landing)
    out, in_ = (*a.links_out, *b.links_out), (*a.links_in, *b.links_in)
    if out or in_:
        jumpers = (*(jumper for jumper in left.jumpers if jumper not in out), *in_)
        survey = survey.model_copy(update={"jumpers": jumpers})
    words = _("{first}; and {second}").format(first=a.slip.words, second=b.slip.words)
    return Slip("two at once", words, a.slip.place, survey, (*a.slip.settings, *b.slip.settings))


def pair_count(plan: Plan) -> int:
    """Return how many pairs of single slips there are, likely or not."""
    count = len(single_slips(plan))
    return count * (count - 1) // 2


__all__ = ["RULE", "DoubleSlip", "double_slips", "pair_count"]
