"""The shapes of the work itself: its steps behind their gates, and the search for conductors."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field

from subbase.papers.data_shape import Bound, Name, Pair, Season, Shape, Texts, Told, as_ol
from subbase.work.progress import Progress, digest
from subbase.work.steps import WorkPlan
from subbase.work.trace import Contradiction, Done, Trace
from subbase.work.trace_step import Step as TraceStep


class ExpectedShape(Shape):
    """What a reading must be."""

    between: Pair | None = Field(description="Terminals; null when it is no reading of the circuit.")
    unit: Literal["V", "ohm", "degC"]
    low: Bound = Field(description="Null is OL.")
    high: Bound = Field(description="Null is OL, or no limit.")
    if_low: str
    if_high: str


class StepStateShape(Shape):
    """How far one step has come."""

    status: Literal["done", "failed", "skipped", "open", "blocked"]
    why: str
    waits_for: Texts = Field(description="Ids of steps.")
    value: Annotated[float | Literal["OL"] | None, BeforeValidator(as_ol)] = Field(
        description="What was read; null when nothing was."
    )


class StepShape(Shape):
    """One step of the work, behind its gates."""

    id: str
    phase: str
    kind: Literal["do", "look", "read"]
    title: str
    site: str
    where: str
    why: str
    lines: Texts
    expected: ExpectedShape | None
    otherwise: str = Field(description="What to do when it is not so.")
    caution: str
    who: Literal["anyone", "licensed electrician", "licensed gas fitter", "certified for refrigerant"]
    may_do: bool = Field(description="With the licences that were given.")
    may_skip: bool
    live: bool
    after: Texts = Field(description="Ids of steps that must be met before.")
    needs: Texts = Field(description="Ids of steps without which this one is left out.")
    covers: Texts = Field(description="Wrong landings that it would show.")
    source: str
    state: StepStateShape | None = Field(default=None, description="With --progress, and in the API.")


class WorkShape(Told):
    """Every step of the work, in an order that may be followed; ``subbase work --json``."""

    survey: Name
    plan: str = Field(description="Mark of the plan that the steps are made from.")
    season: Season | None
    outdoor_c: float | None
    licences: tuple[Literal["electrician", "gas", "refrigerant"], ...]
    walks: int = Field(description="Between the places of the work.")
    moves_safe: bool = Field(description="No order of moves can join two live ends.")
    steps: tuple[StepShape, ...]
    finished: bool | None = Field(default=None, description="With --progress.")
    open: Texts | None = Field(default=None, description="With --progress: ids of steps that can be done now.")

    @classmethod
    def of(cls, plan: WorkPlan, now: Progress | None = None, **more: Any) -> Self:
        """Return steps as they are told; with where each stands when that is given."""
        stands: dict[str, Any] = {} if now is None else {"finished": now.finished, "open": now.open}
        told = {
            "plan": digest(plan),
            "licences": sorted(plan.licences),
            "moves_safe": plan.order.safe,
            "steps": [
                StepShape.filled(step, **({} if now is None else {"state": now.of(step.id)})) for step in plan.steps
            ],
        }
        return cls.filled(plan, **(told | stands | more))


class TraceShape(Told):
    """``subbase trace --json``; which fields are there goes by ``state``."""

    near: Texts
    far: Texts | None
    words: Texts
    state: Literal["step", "contradiction", "named"]
    method: str | None = None
    step: int | None = Field(default=None, description="Of a step: its number; of a contradiction: where it shows.")
    steps: int | None = None
    join_at: Literal["near", "far"] | None = None
    join: tuple[Texts, ...] | None = Field(default=None, description="Groups to join together there.")
    read_at: Literal["near", "far"] | None = None
    probes: Texts | None = None
    touch: Texts | None = None
    walks: int | None = None
    near_odd: Texts | None = Field(default=None, description="Of a contradiction: conductors it hangs on.")
    far_odd: Texts | None = None
    pairs: dict[str, str] | None = Field(default=None, description="Near end -> far end, when all are named.")
    untested: Texts | None = Field(default=None, description="Named by what was left over, never touched.")

    @classmethod
    def of(cls, trace: Trace, step: TraceStep | Done | Contradiction) -> Self:
        """Return a search for conductors as it is told, with what comes next."""
        told: dict[str, Any] = {"near": trace.ends.near, "far": trace.ends.far}
        if isinstance(step, TraceStep):
            told |= {"state": "step", "method": trace.plan.method.value, "step": step.number, "steps": trace.plan.steps}
        elif isinstance(step, Contradiction):
            told |= {"state": "contradiction", "near_odd": step.near, "far_odd": step.far}
        else:
            told |= {"state": "named", "pairs": dict(step.pairs)}
        return cls.filled(step, **told)
