"""The shape of a plan: ``subbase plan --json``, ``plan.json`` beside the papers, and the plan of a job in the API."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field

from subbase.papers.data_shape import Name, Pair, Season, Shape, Texts, Told, attribute, rounded
from subbase.plan import Plan, Route
from subbase.plan.proven import Proof, StateProof
from subbase.plan.result import as_known
from subbase.survey import Survey
from subbase.survey.file_form import file_form

Volts = Annotated[float, rounded(2)]
Amperes = Annotated[float, rounded(4)]
House = Annotated[dict[str, Any] | None, BeforeValidator(lambda x: file_form(x) if isinstance(x, Survey) else x)]
"""A survey as a survey file has it."""


class StopShape(Shape):
    """Why nothing may be planned."""

    seen: str
    instead: str


class AnswerShape(Shape):
    """What one answer leads to."""

    value: str = Field(description="As it would stand in the survey.")
    leads_to: str


class QuestionShape(Shape):
    """An unknown that the plan depends on."""

    field: str = Field(description="Where in the survey: cables.wall.conductors.blue.to.")
    question: str = Field(validation_alias="text")
    how: str = Field(description="How to find out safely.")
    answers: tuple[AnswerShape, ...]


class ContradictionShape(Shape):
    """A reading that the survey as written cannot give."""

    text: str
    would_agree_if: Texts = Field(validation_alias="would_agree")


class SettingsShape(Shape):
    """How a control is set for its wiring."""

    compressor_heats: bool
    changeover_energised_in: Season | None = Field(validation_alias="changeover")
    control_runs_fan_in_heating: bool = Field(validation_alias="fan_with_heat")


class PartShape(Shape):
    """Something to bring."""

    what: str
    count: int


class LandingShape(Shape):
    """One conductor, before and after, at both ends."""

    cable: str
    conductor: str
    colours: Pair = Field(description="Insulation at the wall end and at the far end.")
    carries: str = Field(description="A call, 'common', a supply, or 'nothing'.")
    wall_found: str = Field(description="PLACE.TERMINAL, 'loose', 'cut short' or 'unknown'.")
    wall_left: str
    far_found: str
    far_left: str


class JumperShape(Shape):
    """A link between two terminals."""

    between: Annotated[Pair, attribute("between")] = Field(validation_alias="jumper")
    action: Literal["remove", "keep", "add"]
    why: str


class RouteShape(Shape):  # type: ignore[no-redef]  # two fields are read from the proof
    """One way to feed and wire a control."""

    route: str = Field(validation_alias="name", description="Its name for programs: 'spare conductor', 'new cable' ...")
    title: str
    offered: bool = Field(description="False when it is refused.")
    reasons: Texts = Field(description="Why it is refused, or what to know of it.")
    lost_calls: Texts = Field(validation_alias="lost")
    parts: tuple[PartShape, ...]
    minutes: int = Field(description="Judgement, for comparing.")
    landings_changed: int = Field(validation_alias="moved")
    margin: Annotated[float | None, attribute("margin"), rounded(4)] = Field(
        validation_alias="proof", description="Least relative distance to a limit; null when it was not proved."
    )
    margin_at: Annotated[str | None, attribute("margin_words")] = Field(validation_alias="proof")
    landings: tuple[LandingShape, ...]
    jumpers: tuple[JumperShape, ...]


class ControlShape(Shape):
    """The plan for one control."""

    control: str
    wanted_calls: Texts = Field(validation_alias="wanted")
    settings: SettingsShape
    chosen: Name = Field(description="The chosen route's name.")
    routes: tuple[RouteShape, ...] = Field(description="Best first, the refused ones last.")


class FailureShape(Shape):
    """One thing that refuses a wiring."""

    rule: str
    text: str
    state: str


class LoadShape(Shape):
    """One load that a state brings on."""

    load: str = Field(validation_alias="tag", description="PLACE/part.")
    words: str
    sealed_v: Volts = Field(description="Volts as it runs, nominal line.")
    low_v: Volts
    high_v: Volts
    inrush_v: Volts = Field(description="Volts as it pulls in, at the low corner.")
    sealed_a: Amperes
    inrush_a: Amperes
    pull_in_v: Volts = Field(description="Volts that it needs.")


class SupplyShape(Shape):
    """One transformer in one state."""

    supply: str = Field(validation_alias="tag")
    draw_va: Volts
    rated_va: float


class FedShape(Shape):
    """The supply of a control's own electronics in one state."""

    control: str
    awake_v: Volts
    low_v: Volts
    high_v: Volts
    least_v: float = Field(description="What it stands at least.")
    most_v: float


class CallShape(Shape):
    """One state of the house: what is called, what is on, and how it is fed."""

    state: str = Field(validation_alias="words")
    given_up: bool = Field(
        validation_alias="waived", description="Whether it holds a call that is given up or was never wired."
    )
    loads: tuple[LoadShape, ...]
    supplies: tuple[SupplyShape, ...]
    controls: tuple[FedShape, ...]


def _named(states: Iterable[StateProof]) -> tuple[StateProof, ...]:
    """Return states by their names for programs; with the control's where there are several."""
    several = len({name for item in states for name, __ in item.state.calls}) > 1
    return tuple(replace(item, words=item.state.name(name_controls=several)) for item in states)


class ProofShape(Shape):
    """The proof of a wiring."""

    holds: bool
    bounds: Literal["corners"]
    margin: Annotated[float, rounded(4)]
    margin_at: str = Field(validation_alias="margin_words")
    failures: tuple[FailureShape, ...]
    states: tuple[CallShape, ...]

    @classmethod
    def of(cls, proof: Proof | None) -> Self | None:
        """Return a proof as it is told."""
        return None if proof is None else cls.filled(proof, bounds="corners", states=_named(proof.states))


class ReadingShape(Shape):
    """What a meter must read."""

    state: str
    between: Pair
    volts: Volts = Field(description="At nominal line voltage.")
    low_v: Volts
    high_v: Volts


class CautionShape(Shape):
    """Something that can hurt."""

    text: str
    source: str


class PlanShape(Told):
    """The plan for a house: the verdict, what to do, and the proof."""

    survey: Name
    verdict: Literal["planned", "stopped", "question"]
    stops: tuple[StopShape, ...]
    questions: tuple[QuestionShape, ...]
    indifferent: Texts = Field(description="Unknown facts that change nothing.")
    contradictions: tuple[ContradictionShape, ...]
    controls: tuple[ControlShape, ...]
    refused: tuple[RouteShape, ...] = Field(description="When no route is left: all of them.")
    found: House = Field(description="The house as found, in the shape of the survey.")
    left: House = Field(description="The house as left, in the shape of the survey.")
    proof_found: ProofShape | None
    proof: ProofShape | None
    readings: tuple[ReadingShape, ...]
    cautions: tuple[CautionShape, ...]
    notes: Texts
    trusted: Texts = Field(description="Facts that nobody here has seen or measured.")

    @classmethod
    def of(cls, plan: Plan) -> Self:
        """Return a plan as it is told: an end that the survey does not know is ``unknown``, whatever it was proved for."""

        def known(routes: Iterable[Route]) -> tuple[Route, ...]:
            return tuple(replace(r, landings=tuple(as_known(plan.survey, x) for x in r.landings)) for r in routes)

        return cls.filled(
            plan,
            controls=tuple(replace(item, routes=known(item.routes)) for item in plan.controls),
            refused=known(plan.refused),
            proof_found=ProofShape.of(plan.proof_found),
            proof=ProofShape.of(plan.proof),
        )
