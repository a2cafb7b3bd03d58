"""A plan as the API gives it: format 1, the same names and digits as ``subbase plan --json``."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field

from subbase.plan import Plan, Route
from subbase.plan.proof import Proof
from subbase.plan.result import as_known
from subbase.survey import Survey
from subbase.web.api_shapes import Amperes, Shape, Share, SurveyData, Texts, Volts


def _of(attribute: str) -> Callable[[Any], Any]:
    """Return what takes an attribute of a record, and anything else as it is."""
    return lambda value: getattr(value, attribute, value)


_name = _of("name")


class StopShape(Shape):
    """Why nothing may be planned, and what to do instead."""

    seen: str
    instead: str


class AnswerShape(Shape):
    """What one answer to a question would lead to."""

    value: str
    leads_to: str


class QuestionShape(Shape):
    """An unknown that the plan depends on."""

    field: str = Field(description="As in the survey file: 'cables.wall.conductors.blue.to'.")
    question: str = Field(validation_alias="text")
    how: str = Field(description="How to find out safely.")
    answers: tuple[AnswerShape, ...]


class ContradictionShape(Shape):
    """A reading that the survey as written cannot give."""

    text: str
    would_agree_if: Texts = Field(validation_alias="would_agree")


class PartShape(Shape):
    """Something to bring."""

    what: str
    count: int


class LandingShape(Shape):
    """One conductor of a control's cable, before and after, at both ends."""

    cable: str
    conductor: str
    colours: tuple[str, str] = Field(description="Insulation at the wall end and at the far end.")
    carries: str
    wall_found: str
    wall_left: str
    far_found: str
    far_left: str


class JumperShape(Shape):
    """A link between two terminals."""

    between: Annotated[Texts, BeforeValidator(_of("between"))] = Field(validation_alias="jumper")
    action: Literal["remove", "keep", "add"]
    why: str


class RouteShape(Shape):  # type: ignore[no-redef]  # two fields are read from the proof
    """One way to feed and wire the new control, offered or refused."""

    route: str = Field(validation_alias="name")
    title: str
    offered: bool
    reasons: Texts
    lost_calls: Texts = Field(validation_alias="lost")
    parts: tuple[PartShape, ...]
    minutes: int
    landings_changed: int = Field(validation_alias="moved")
    margin: Annotated[Share, BeforeValidator(_of("margin"))] = Field(
        default=None, validation_alias="proof", description="Least relative distance to any limit."
    )
    margin_at: Annotated[str | None, BeforeValidator(_of("margin_words"))] = Field(
        default=None, validation_alias="proof", description="Which limit is nearest."
    )
    landings: tuple[LandingShape, ...]
    jumpers: tuple[JumperShape, ...]


class SettingsShape(Shape):
    """How a control is set for its equipment."""

    compressor_heats: bool
    changeover_energised_in: Literal["cooling", "heating"] | None = Field(validation_alias="changeover")
    control_runs_fan_in_heating: bool = Field(validation_alias="fan_with_heat")


class ControlShape(Shape):
    """The plan for one control that is replaced."""

    control: str
    wanted_calls: Texts = Field(validation_alias="wanted")
    settings: SettingsShape
    chosen: Annotated[str, BeforeValidator(_name)] = Field(description="Name of the route.")
    routes: tuple[RouteShape, ...] = Field(description="Every route, best first, the refused ones last.")


class LoadShape(Shape):
    """One load that a state brings on."""

    load: str = Field(validation_alias="tag")
    words: str
    sealed_v: Volts
    low_v: Volts
    high_v: Volts
    inrush_v: Volts
    sealed_a: Amperes
    inrush_a: Amperes
    pull_in_v: Volts


class SupplyShape(Shape):
    """One transformer in one state."""

    supply: str = Field(validation_alias="tag")
    draw_va: Volts
    rated_va: float


class FedShape(Shape):
    """The supply of one control's own electronics in one state."""

    control: str
    awake_v: Volts
    low_v: Volts
    high_v: Volts
    least_v: float
    most_v: float


class FailureShape(Shape):
    """One thing that refuses a wiring."""

    rule: str
    text: str
    state: str


class CallShape(Shape):
    """One call of the proof: what is on, and how it is fed."""

    state: str
    given_up: bool = Field(validation_alias="waived")
    loads: tuple[LoadShape, ...]
    supplies: tuple[SupplyShape, ...]
    controls: tuple[FedShape, ...]


class ProofShape(Shape):
    """The table of calls against loads, volts, amperes and VA."""

    holds: bool
    bounds: Literal["corners"] = "corners"
    margin: Share
    margin_at: str
    failures: tuple[FailureShape, ...]
    states: tuple[CallShape, ...]

    @classmethod
    def of(cls, proof: Proof | Self | None) -> Self | None:
        """Return a proof as it is shown; a state bears the control's name where there are several."""
        if proof is None or isinstance(proof, cls):
            return proof
        assert isinstance(proof, Proof)
        several = len({name for state in proof.states for name, __ in state.state.calls}) > 1
        states = [
            CallShape(
                state=item.state.name(name_controls=several),
                waived=item.waived,
                loads=tuple(map(LoadShape.model_validate, item.loads)),
                supplies=tuple(map(SupplyShape.model_validate, item.supplies)),
                controls=tuple(map(FedShape.model_validate, item.controls)),
            )
            for item in proof.states
        ]
        return cls(
            holds=proof.holds,
            margin=proof.margin,
            margin_at=proof.margin_words,
            failures=tuple(map(FailureShape.model_validate, proof.failures)),
            states=tuple(states),
        )


ProofHere = Annotated[ProofShape | None, BeforeValidator(ProofShape.of)]


class ReadingShape(Shape):
    """What a meter must read between two terminals in one state, after the work."""

    state: str
    between: tuple[str, str]
    volts: Volts
    low_v: Volts
    high_v: Volts


class CautionShape(Shape):
    """Something that can hurt a person or the equipment."""

    text: str
    source: str


class PlanShape(Shape):
    """The plan for a house: the verdict, what to do, and the proof."""

    format: Literal[1] = 1
    survey: Annotated[str, BeforeValidator(_name)] = Field(description="The survey's name.")
    verdict: Literal["planned", "stopped", "question"]
    stops: tuple[StopShape, ...]
    questions: tuple[QuestionShape, ...]
    indifferent: Texts = Field(description="Unknown facts that change nothing.")
    contradictions: tuple[ContradictionShape, ...]
    controls: tuple[ControlShape, ...]
    refused: tuple[RouteShape, ...]
    found: SurveyData = Field(description="The house as found, unknowns that do not matter filled in.")
    left: SurveyData = Field(description="The house as the plan leaves it.")
    proof_found: ProofHere
    proof: ProofHere
    readings: tuple[ReadingShape, ...]
    cautions: tuple[CautionShape, ...]
    notes: Texts
    trusted: Texts = Field(description="Facts that nobody here has seen or measured.")

    @classmethod
    def of(cls, plan: Plan) -> PlanShape:
        """Return a plan as it is shown."""
        made = cls.model_validate(plan)
        controls = [
            shape.model_copy(update={"routes": _as_known(plan.survey, shape.routes, item.routes)})
            for shape, item in zip(made.controls, plan.controls, strict=True)
        ]
        refused = _as_known(plan.survey, made.refused, plan.refused)
        return made.model_copy(update={"controls": tuple(controls), "refused": refused})


def _as_known(survey: Survey, shapes: Iterable[RouteShape], routes: Iterable[Route]) -> tuple[RouteShape, ...]:
    """Return routes in which an end that the survey does not know is told as ``unknown``, whatever the plan was proved for."""
    return tuple(
        shape.model_copy(
            update={"landings": tuple(LandingShape.model_validate(as_known(survey, x)) for x in route.landings)}
        )
        for shape, route in zip(shapes, routes, strict=True)
    )


__all__ = ["PlanShape"]
