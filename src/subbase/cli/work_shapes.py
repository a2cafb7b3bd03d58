"""The shapes of what commands print on the work itself: steps, readings taken, tracing, diagnosis."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from subbase.cli.data_shapes import Pair, Shape

# --- work ------------------------------------------------------------------------------------------------------------


class ExpectedShape(Shape):
    """What a reading must be."""

    between: Pair | None = Field(description="Terminals; null when it is no reading of the circuit.")
    unit: Literal["V", "ohm", "degC"]
    low: float | None = Field(description="Null is OL.")
    high: float | None = Field(description="Null is OL, or no limit.")
    if_low: str
    if_high: str


class StateShape(Shape):
    """How far one step has come."""

    status: Literal["done", "failed", "skipped", "open", "blocked"]
    why: str
    waits_for: list[str] = Field(description="Ids of steps.")
    value: float | Literal["OL"] | None


class StepShape(Shape):
    """One step of the work, behind its gates."""

    id: str
    phase: str
    kind: Literal["do", "look", "read"]
    title: str
    site: str
    where: str
    why: str
    lines: list[str]
    expected: ExpectedShape | None
    otherwise: str = Field(description="What to do when it is not so.")
    caution: str
    who: Literal["anyone", "licensed electrician", "licensed gas fitter", "certified for refrigerant"]
    may_do: bool = Field(description="With the licences that were given.")
    may_skip: bool
    live: bool
    after: list[str] = Field(description="Ids of steps that must be met before.")
    needs: list[str] = Field(description="Ids of steps without which this one is left out.")
    covers: list[str] = Field(description="Wrong landings that it would show.")
    source: str
    state: StateShape | None = Field(default=None, description="With --progress.")


class WorkShape(Shape):
    """``subbase work --json``."""

    format: Literal[1]
    survey: str
    plan: str = Field(description="Mark of the plan that the steps are made from.")
    season: Literal["heating", "cooling"] | None
    outdoor_c: float | None
    licences: list[Literal["electrician", "gas", "refrigerant"]]
    walks: int = Field(description="Between the places of the work.")
    moves_safe: bool = Field(description="No order of moves can join two live ends.")
    steps: list[StepShape]
    finished: bool | None = Field(default=None, description="With --progress.")
    open: list[str] | None = Field(default=None, description="With --progress: ids of steps that can be done now.")


# --- check -----------------------------------------------------------------------------------------------------------


class SequenceStepShape(Shape):
    """One thing that must be seen or heard in a call."""

    what: str
    place: str
    earliest_s: float
    latest_s: float
    after_the_call: bool
    source: str


class PullsInShape(Shape):
    """A coil that pulls in."""

    what: str
    at_s: float


class SequenceShape(Shape):
    """What one call must show, in order."""

    call: str
    steps: list[SequenceStepShape]
    pulls_in: list[PullsInShape]
    notes: list[str]


class SheetShape(Shape):
    """``subbase check FILE --json``, without readings."""

    format: Literal[1]
    survey: str
    sheet: str = Field(description="The sheet to fill in, as YAML text.")
    sequences: list[SequenceShape]


class ExplanationShape(Shape):
    """A wrong landing that would read so."""

    what: str
    does: str
    damaging: bool


class VerdictShape(Shape):
    """One reading or sight, judged."""

    what: str
    line: int
    verdict: Literal["pass", "fail", "meter or lead suspect", "not judged"]
    why: str
    low: float | None = Field(description="Null is OL, or nothing to compare with.")
    high: float | None = Field(description="Null is OL, or nothing to compare with.")
    unit: str
    source: str
    stop: bool = Field(description="Power off now.")
    explained_by: list[ExplanationShape]


class ReplacedShape(Shape):
    """Of two readings of one place, the later counts."""

    line: int
    read: str
    by_line: int
    by: str


class PossibleShape(Shape):
    """A wrong landing that every reading so far allows."""

    slip: str
    severity: str


class CheckedShape(Shape):
    """``subbase check FILE --readings R.yaml --json``."""

    format: Literal[1]
    survey: str
    stop: bool = Field(description="Power off now.")
    proved: bool
    verdicts: list[VerdictShape]
    replaced: list[ReplacedShape]
    not_taken: list[str]
    checks: int
    passed: list[str]
    remaining: list[str]
    slips_excluded: int
    slips_possible: list[PossibleShape]
    slips_untold: list[str] = Field(description="No reading tells these.")


# --- trace -----------------------------------------------------------------------------------------------------------


class TraceShape(Shape):
    """``subbase trace --json``; which fields are there goes by ``state``."""

    format: Literal[1]
    near: list[str]
    far: list[str] | None
    words: list[str]
    state: Literal["step", "contradiction", "named"]
    method: str | None = None
    step: int | None = Field(default=None, description="Of a step: its number; of a contradiction: where it shows.")
    steps: int | None = None
    join_at: Literal["near", "far"] | None = None
    join: list[list[str]] | None = Field(default=None, description="Groups to join together there.")
    read_at: Literal["near", "far"] | None = None
    probes: list[list[str]] | None = None
    touch: list[str] | None = None
    walks: int | None = None
    near_odd: list[str] | None = Field(default=None, description="Of a contradiction: conductors it hangs on.")
    far_odd: list[str] | None = None
    pairs: dict[str, str] | None = Field(default=None, description="Near end -> far end, when all are named.")
    untested: list[str] | None = Field(default=None, description="Named by what was left over, never touched.")


# --- diagnose --------------------------------------------------------------------------------------------------------


class FaultOfHouseShape(Shape):
    """One fault of a part or a conductor."""

    id: str
    kind: str
    words: str


class CauseShape(Shape):
    """One entry of the ranking: what no test tells apart, or the same repair puts right."""

    probability: float
    words: str
    faults: list[list[FaultOfHouseShape]] = Field(description="Each a single fault, or two together.")


class TestShape(Shape):
    """One test on offer."""

    words: str
    kind: Literal["volts", "ohms", "amps", "seen"]
    between: list[str]
    through: str
    sight: Literal["display", "acts", "runs", "air", "lamp"] | None
    about: str
    calls: dict[str, list[str]] = Field(description="Control -> what it calls for meanwhile.")
    site: str
    minutes: float
    bits: float = Field(description="Information expected.")
    caution: str


class OutcomeShape(Shape):
    """What one outcome of the test would mean."""

    outcome: str
    probability: float
    then: str
    then_probability: float


class KeptBackShape(Shape):
    """A test that is not offered now."""

    test: str
    why: str


class NextShape(Shape):
    """What to do now."""

    action: Literal["probe", "repair", "hand over"]
    why: str
    test: TestShape | None
    outcomes: list[OutcomeShape]
    others: list[TestShape]
    kept_back: list[KeptBackShape]


class ReadShape(Shape):
    """One answer given."""

    words: str
    value: float | str | None = Field(description="A number, OL, or what was seen; null for 'don't know'.")


class DoubtShape(Shape):
    """An answer that is more likely wrong than the house is so."""

    probability: float
    words: str


class RepairShape(Shape):
    """What puts a cause right, and what proves it."""

    cause: str
    site: str
    do: str
    part: str
    proof: str
    stop: str


class DiagnosisShape(Shape):
    """``subbase diagnose --json``."""

    format: Literal[1]
    survey: str
    readings: list[ReadShape]
    history: list[str]
    repaired: list[str] = Field(default=[], description="Ids of faults that were repaired.")
    causes: list[CauseShape]
    none_of_these: float = Field(description="Probability.")
    none_wins: bool
    doubted: list[DoubtShape]
    pairs_not_weighed: int
    next: NextShape
    repairs: list[RepairShape]
