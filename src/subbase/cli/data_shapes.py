"""The shape of what commands print with ``--json``: declared once, for the schemas in ``docs/data-out`` and their tests.

Names and values for programs stay English whatever the reader's language; sentences for people (``text``, ``title``,
``words`` ...) are in the language that was asked for. Volts are rounded to a hundredth.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Pair = Annotated[list[str], Field(min_length=2, max_length=2)]
Verdict = Literal["planned", "stopped", "question"]


class Shape(BaseModel):
    """Base of every shape: no field but those declared."""

    model_config = ConfigDict(frozen=True, extra="forbid")


# --- plan ------------------------------------------------------------------------------------------------------------


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
    question: str
    how: str = Field(description="How to find out safely.")
    answers: list[AnswerShape]


class ContradictionShape(Shape):
    """A reading that the survey as written cannot give."""

    text: str
    would_agree_if: list[str]


class SettingsShape(Shape):
    """How a control is set for its wiring."""

    compressor_heats: bool
    changeover_energised_in: Literal["cooling", "heating"] | None
    control_runs_fan_in_heating: bool


class PartShape(Shape):
    """Something to bring."""

    what: str
    count: int


class LandingShape(Shape):
    """One conductor, before and after, at both ends."""

    cable: str
    conductor: str
    colours: Pair = Field(description="Insulation at the first and at the second end.")
    carries: str = Field(description="A call, 'common', a supply, or 'nothing'.")
    wall_found: str = Field(description="PLACE.TERMINAL, 'loose', 'cut short' or 'unknown'.")
    wall_left: str
    far_found: str
    far_left: str


class JumperShape(Shape):
    """A link between two terminals."""

    between: Pair
    action: Literal["remove", "keep", "add"]
    why: str


class RouteShape(Shape):
    """One way to feed and wire a control."""

    route: str = Field(description="Its name for programs: 'spare conductor', 'new cable' ...")
    title: str
    offered: bool = Field(description="False when it is refused.")
    reasons: list[str] = Field(description="Why it is refused, or what to know of it.")
    lost_calls: list[str]
    parts: list[PartShape]
    minutes: int = Field(description="Judgement, for comparing.")
    landings_changed: int
    margin: float | None = Field(description="Least relative distance to a limit; null when it was not proved.")
    margin_at: str | None
    landings: list[LandingShape]
    jumpers: list[JumperShape]


class ControlShape(Shape):
    """The plan for one control."""

    control: str
    wanted_calls: list[str]
    settings: SettingsShape
    chosen: str = Field(description="The chosen route's name.")
    routes: list[RouteShape] = Field(description="Best first, the refused ones last.")


class FailureShape(Shape):
    """One thing that refuses a wiring."""

    rule: str
    text: str
    state: str


class LoadShape(Shape):
    """One load that a state brings on."""

    load: str = Field(description="PLACE/part.")
    words: str
    sealed_v: float = Field(description="Volts as it runs, nominal line.")
    low_v: float
    high_v: float
    inrush_v: float = Field(description="Volts as it pulls in, at the low corner.")
    sealed_a: float
    inrush_a: float
    pull_in_v: float = Field(description="Volts that it needs.")


class SupplyShape(Shape):
    """One transformer in one state."""

    supply: str
    draw_va: float
    rated_va: float


class FedShape(Shape):
    """The supply of a control's own electronics in one state."""

    control: str
    awake_v: float
    low_v: float
    high_v: float
    least_v: float = Field(description="What it stands at least.")
    most_v: float


class StateShape(Shape):
    """One state of the house."""

    state: str
    given_up: bool = Field(description="Whether it holds a call that is given up or was never wired.")
    loads: list[LoadShape]
    supplies: list[SupplyShape]
    controls: list[FedShape]


class ProofShape(Shape):
    """The proof of a wiring."""

    holds: bool
    bounds: Literal["corners"]
    margin: float
    margin_at: str
    failures: list[FailureShape]
    states: list[StateShape]


class ReadingShape(Shape):
    """What a meter must read."""

    state: str
    between: Pair
    volts: float = Field(description="At nominal line voltage.")
    low_v: float
    high_v: float


class CautionShape(Shape):
    """Something that can hurt."""

    text: str
    source: str


class PlanShape(Shape):
    """``subbase plan --json`` and the file ``plan.json``."""

    format: Literal[1]
    survey: str
    verdict: Verdict
    stops: list[StopShape]
    questions: list[QuestionShape]
    indifferent: list[str] = Field(description="Unknown facts that change nothing.")
    contradictions: list[ContradictionShape]
    controls: list[ControlShape]
    refused: list[RouteShape] = Field(description="When no route is left: all of them.")
    found: dict[str, Any] | None = Field(description="The house as found, in the shape of the survey.")
    left: dict[str, Any] | None = Field(description="The house as left, in the shape of the survey.")
    proof_found: ProofShape | None
    proof: ProofShape | None
    readings: list[ReadingShape]
    cautions: list[CautionShape]
    notes: list[str]
    trusted: list[str] = Field(description="Facts that nobody here has seen or measured.")


# --- checks ----------------------------------------------------------------------------------------------------------


class CheckShape(Shape):
    """One reading to take."""

    kind: Literal["dead", "dead, clipped", "live"]
    between: Pair
    clip: Pair | None = Field(description="Terminals joined at the far end meanwhile.")
    state: str | None = Field(description="What is called; null when dead.")
    site: str
    unit: Literal["V", "ohm"]
    low: float | None = Field(description="Null is OL.")
    high: float | None = Field(description="Null is OL.")
    tells: list[str] = Field(description="Wrong landings that it shows.")


class FindingShape(Shape):
    """One thing that a wrong landing does in one call."""

    call: str
    severity: str
    text: str


class SlipShape(Shape):
    """One wrong landing."""

    slip: str
    severity: str
    first_shown_by: str | None
    findings: list[FindingShape]


class ChecksShape(Shape):
    """``subbase checks --json``."""

    format: Literal[1]
    survey: str
    seconds: int = Field(description="Judgement.")
    checks: list[CheckShape]
    slips: list[SlipShape]
    untold: list[str] = Field(description="No reading shows these.")
    only_live: list[str] = Field(description="These show only with supply on.")
    doubles: dict[str, Any] | None = Field(default=None, description="With --doubles: two slips at once.")


# --- smaller ones ----------------------------------------------------------------------------------------------------


class FaultShape(Shape):
    """One thing that is wrong with the input."""

    file: str
    line: int = Field(description="From 1; 0 when there is none.")
    column: int
    field: str
    message: str


class FaultsShape(Shape):
    """Any command with ``--json`` whose input cannot be read; exit code 2."""

    format: Literal[1]
    faults: list[FaultShape]


class OpenShape(Shape):
    """One open fact of a survey."""

    field: str
    question: str
    how: str


class CheckSurveyShape(Shape):
    """``subbase check-survey --json``."""

    format: Literal[1]
    survey: str
    faults: list[FaultShape]
    open: list[OpenShape]
    disagreements: list[str]
    look_again: list[str] = Field(description="What is likelier a slip of whoever wrote the survey than a fact.")


class LabelsShape(Shape):
    """``subbase labels --json``."""

    format: Literal[1]
    survey: str
    labels: int
    files: list[str] = Field(description="Below the folder of --out.")
    shortened: int = Field(description="Labels that had no room for every line.")


class DataShape(Shape):
    """``subbase data --json``."""

    format: Literal[1]
    survey: str
    verdict: Verdict
    files: dict[str, str] = Field(description="File below the folder of --out -> its SHA-256.")
