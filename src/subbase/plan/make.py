"""The whole of planning: screen, hold the survey against its readings, plan every possibility, prove, and say what to ask."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace

from subbase.catalog import Catalog, load_catalog
from subbase.names import conductor_words, landing_words
from subbase.plan.cautions import cautions_of
from subbase.plan.choose import HousePlan, because, choose
from subbase.plan.look_again import look_again, proof_as_found
from subbase.plan.proposal import wanted_calls
from subbase.plan.readings import contradictions, disagreements, expected_readings
from subbase.plan.result import Answer, ControlPlan, Plan, Question
from subbase.plan.screen import screen
from subbase.plan.unknowns import (
    MOST_POSSIBILITIES,
    NOTHING_FITS,
    OpenFact,
    Possibility,
    Value,
    count_possibilities,
    information_bits,
    matters,
    open_facts,
    possibilities,
)
from subbase.survey import How, Survey
from subbase.wiring import system_calls
from subbase.words import _, mark

LEAST_BITS = 1e-9
NO_ROUTE = mark("no route is left")
Outcomes = list[tuple[tuple[Value, ...], Hashable]]
Chooser = Callable[[Survey, Catalog], HousePlan]


def make_plan(
    survey: Survey, catalog: Catalog | None = None, *, chooser: Chooser = choose, brief: bool = False
) -> Plan:
    """Return the plan of a survey: a proven wiring, or why there is none, or which question decides it.

    Parameters
    ----------
    chooser
        What chooses the wiring of a house without unknowns; who plans very many homes gives one that remembers.
    brief
        Leave out what only papers print: the proof of the house as found, and the expected readings.
    """
    made = _made(survey, load_catalog() if catalog is None else catalog, chooser, brief)
    return replace(made, trusted=_trusted(survey))


def _trusted(survey: Survey) -> tuple[str, ...]:
    """Say which facts were told or assumed, so that the person on the ladder can look for themselves."""
    return tuple(
        (_("{field} was told, not seen.") if how is How.TOLD else _("{field} was assumed, not seen.")).format(
            field=field
        )
        for field, how in survey.known.items()
        if how in (How.TOLD, How.ASSUMED)
    )


def _made(survey: Survey, catalog: Catalog, chooser: Chooser, brief: bool) -> Plan:
    stops = screen(survey)
    if stops:
        return Plan(survey, catalog, "stopped", stops=stops, cautions=cautions_of(survey, catalog, None))
    facts = open_facts(survey, catalog)
    if count_possibilities(facts) > MOST_POSSIBILITIES:
        return Plan(survey, catalog, "question", questions=_widest(facts), cautions=cautions_of(survey, catalog, None))
    every = list(possibilities(survey, catalog, facts))
    if not every:
        return Plan(
            survey, catalog, "question", questions=_settle_unknowns(), cautions=cautions_of(survey, catalog, None)
        )
    agreeing = [item for item in every if not disagreements(item.survey, catalog)]
    if not agreeing:
        found = contradictions(every[0].survey, catalog)
        return Plan(
            survey, catalog, "question", contradictions=found, found=every[0].survey,
            questions=_settle_readings(), cautions=cautions_of(survey, catalog, None),
        )  # fmt: skip
    plans = [chooser(item.survey, catalog) for item in agreeing]
    outcomes: Outcomes = [(item.values, signature(plan)) for item, plan in zip(agreeing, plans, strict=True)]
    if len({outcome for __, outcome in outcomes}) > 1:
        return _asked(survey, catalog, facts, agreeing, plans, outcomes)
    return _planned(survey, catalog, facts, _worst(agreeing, plans), brief=brief)


def signature(plan: HousePlan) -> Hashable:
    """Return what makes two plans the same wiring: settings, devices, parts, landings and jumpers."""
    if plan.left is None:
        return NO_ROUTE
    return tuple(
        (
            item.control,
            item.settings,
            item.chosen.parts,
            tuple(sorted(item.chosen.left.equipment)) if item.chosen.left else (),
            tuple(
                (x.cable, x.conductor, x.carries, x.wall_left, x.far_left)
                for x in item.chosen.landings
                if x.carries != "nothing"
            ),
            tuple(
                sorted(
                    (change.action, *sorted(change.jumper.between))
                    for change in item.chosen.jumpers
                    if change.action != "remove"
                )
            ),
        )
        for item in plan.controls
    )


def _worst(agreeing: Sequence[Possibility], plans: Sequence[HousePlan]) -> tuple[Possibility, HousePlan]:
    """Return the possibility with the least margin: what is proved for it holds for the others."""
    pairs = list(zip(agreeing, plans, strict=True))
    return min(pairs, key=lambda pair: pair[1].proof.margin if pair[1].proof else 0.0)


def _planned(
    survey: Survey, catalog: Catalog, facts: Sequence[OpenFact], worst: tuple[Possibility, HousePlan], *, brief: bool
) -> Plan:
    possibility, chosen = worst
    found = possibility.survey
    unused = {
        (landing.cable, landing.conductor)
        for item in chosen.controls
        for landing in item.chosen.landings
        if landing.carries == "nothing"
    }
    indifferent = tuple(
        " ".join(
            (
                fact.text,
                _("It changes nothing here: the plan is the same for every answer."),
                *_take_off(fact, unused),
            )
        )
        for fact in facts
    )
    proof_found = None if brief else proof_as_found(found, catalog)
    again = look_again(found, catalog, proof_found) if proof_found is not None else ()
    common = Plan(
        survey,
        catalog,
        "stopped",
        indifferent=indifferent,
        found=found,
        proof_found=proof_found,
        controls=chosen.controls,
    )
    if chosen.left is None or chosen.proof is None or not chosen.proof.holds:
        notes = tuple(dict.fromkeys(map(because, chosen.proof.failures))) if chosen.proof else ()
        return replace(
            common, refused=chosen.refused, notes=notes, cautions=(*again, *cautions_of(found, catalog, None))
        )
    left = _set_up(chosen.left, found, catalog, chosen.controls)
    return replace(
        common,
        verdict="planned",
        left=left,
        proof=chosen.proof,
        readings=() if brief else expected_readings(left, catalog),
        cautions=(*again, *cautions_of(found, catalog, left)),
    )


def _set_up(left: Survey, found: Survey, catalog: Catalog, plans: Sequence[ControlPlan]) -> Survey:
    """Return the house as left with each control set up for the calls that reach what they are for, and no others."""
    planned = {item.control: frozenset(item.wanted) - frozenset(item.chosen.lost) for item in plans}
    controls = {}
    for name, control in left.controls.items():
        wired = planned[name] if name in planned else wanted_calls(found, catalog, name)
        unreached = tuple(call for call in system_calls(left, catalog, name) if call not in wired)
        controls[name] = control.model_copy(update={"not_wired": (*control.not_wired, *unreached)})
    return left.model_copy(update={"controls": controls})


def _take_off(fact: OpenFact, unused: set[tuple[str, str]]) -> tuple[str, ...]:
    """Say what becomes of an unused conductor whose end nobody has seen: it may sit on a live terminal."""
    steps = fact.field.split(".")
    if len(steps) == 5 and steps[2] == "conductors" and (steps[1], steps[3]) in unused:
        return (_("It carries nothing after the work: wherever this end is found, take it off and cap it."),)
    return ()


def _asked(
    survey: Survey,
    catalog: Catalog,
    facts: Sequence[OpenFact],
    agreeing: Sequence[Possibility],
    plans: Sequence[HousePlan],
    outcomes: Outcomes,
) -> Plan:
    titles = _titles({outcome: plan for (__, outcome), plan in zip(outcomes, plans, strict=True)})
    telling = [information_bits(index, outcomes) for index in range(len(facts))]
    decisive = [index for index in range(len(facts)) if matters(index, outcomes) or telling[index] > LEAST_BITS]
    decisive.sort(key=lambda index: (-round(telling[index], 9), index))
    questions = tuple(
        replace(_question(facts[index], index, outcomes, titles), bits=telling[index]) for index in decisive
    )
    indifferent = tuple(
        f"{fact.text} {_('It changes nothing here.')}" for index, fact in enumerate(facts) if index not in decisive
    )
    return Plan(
        survey, catalog, "question", questions=questions, indifferent=indifferent,
        found=agreeing[0].survey, cautions=cautions_of(survey, catalog, None),
    )  # fmt: skip


def _question(fact: OpenFact, index: int, outcomes: Outcomes, titles: dict[Hashable, str]) -> Question:
    answers = []
    for value in fact.candidates:
        reached = list(dict.fromkeys(outcome for values, outcome in outcomes if values[index] == value))
        if not reached:
            answers.append(Answer(fact.words(value), _("the readings rule this out")))
            continue
        words = list(dict.fromkeys(titles[outcome] for outcome in reached))
        leads_to = words[0] if len(words) == 1 else _("one of: {words}").format(words="; ".join(words))
        answers.append(Answer(fact.words(value), leads_to))
    return Question(fact.field, fact.text, fact.how, tuple(answers))


def _titles(plans: Mapping[Hashable, HousePlan]) -> dict[Hashable, str]:
    """Return outcome -> words that tell it from the others."""
    titles = {outcome: _title(plan) for outcome, plan in plans.items()}
    shared = Counter(titles.values())
    return {
        outcome: title if shared[title] == 1 else f"{title}, {_landed(plans[outcome])}"
        for outcome, title in titles.items()
    }


def _landed(plan: HousePlan) -> str:
    used = [x for item in plan.controls for x in item.chosen.landings if x.carries != "nothing"]
    return ", ".join(
        _("{conductor} from {wall_left} to {far_left}").format(
            conductor=conductor_words(x.conductor),
            wall_left=landing_words(x.wall_left),
            far_left=landing_words(x.far_left),
        )
        for x in used
    )


def _title(plan: HousePlan) -> str:
    if plan.left is None:
        return _(NO_ROUTE)
    return "; ".join(f"{item.chosen.title} ({_particulars(item)})" for item in plan.controls)


def _particulars(item: ControlPlan) -> str:
    named = [landing.conductor for landing in item.chosen.landings if landing.carries == "common"]
    words = [_("common on {conductor}").format(conductor=conductor_words(named[0])) if named else _("no common")]
    match item.settings.changeover:
        case "cooling":
            words.append(_("changeover energised in cooling"))
        case "heating":
            words.append(_("changeover energised in heating"))
    return ", ".join(words)


def _widest(facts: Sequence[OpenFact]) -> tuple[Question, ...]:
    """Return the unknowns with the most candidates first, when there are too many to try them all."""
    ordered = sorted(facts, key=lambda fact: -len(fact.candidates))
    return tuple(
        Question(
            fact.field,
            fact.text,
            fact.how,
            tuple(Answer(fact.words(v), _("not tried: too many unknowns")) for v in fact.candidates),
        )
        for fact in ordered
    )


def _settle_readings() -> tuple[Question, ...]:
    text = _("The readings contradict the survey. Which is right?")
    how = _(
        "Prove the meter on a known live source, take the reading again with the leads pressed on bare copper, and look again at both ends of the conductors named. Correct the survey or the reading, then plan again."
    )
    return (Question("readings", text, how, ()),)


def _settle_unknowns() -> tuple[Question, ...]:
    how = _(
        "Read the nameplate of the equipment whose kind is open, supply locked out, and look again at what its terminals are marked. Correct the survey, then plan again."
    )
    return (Question("equipment", f"{_(NOTHING_FITS)} {_('Which is right?')}", how, ()),)
