"""The shape of a search for a fault: the ranked causes, what comes next, and what a repair must prove."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field

from subbase.diagnose.advice import Advice
from subbase.diagnose.costs import Offer, probe_words
from subbase.diagnose.probes import Probe
from subbase.diagnose.repair import repair_for
from subbase.diagnose.weigh import Belief
from subbase.papers.data_shape import Name, Shape, Texts, Told, Words, as_ol


class FaultOfHouseShape(Shape):
    """One fault of a part or a conductor."""

    id: str
    kind: str
    words: str


class CauseShape(Shape):
    """One entry of the ranking: what no test tells apart, or the same repair puts right."""

    probability: float
    words: str
    faults: tuple[tuple[FaultOfHouseShape, ...], ...] = Field(
        validation_alias="members",
        description="For each fault of the cause, one or two: those that nothing tells apart, likeliest first.",
    )


class TestShape(Shape):
    """One test on offer."""

    words: str
    kind: Literal["volts", "ohms", "amps", "seen"]
    between: Texts
    through: str
    sight: Literal["display", "acts", "runs", "air", "lamp"] | None
    about: str
    calls: dict[str, Texts] = Field(description="Control -> what it calls for meanwhile.")
    site: str
    minutes: float = Field(description="Walk and risk counted.")
    bits: float = Field(description="Information expected.")
    caution: str


class OutcomeShape(Shape):
    """What one outcome of the test would mean."""

    outcome: str = Field(validation_alias="words")
    probability: float
    then: Words
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
    outcomes: tuple[OutcomeShape, ...]
    others: tuple[TestShape, ...]
    kept_back: tuple[KeptBackShape, ...]


class ReadShape(Shape):
    """One answer given."""

    words: str
    value: Annotated[float | str | None, BeforeValidator(as_ol)] = Field(
        description="A number, OL, or what was seen; null for 'don't know'."
    )


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


class DiagnosisShape(Told):
    """What may be wrong, how likely, and the next best test; ``subbase diagnose --json``."""

    survey: Name
    readings: tuple[ReadShape, ...]
    history: Texts
    repaired: Texts = Field(default=(), description="Ids of faults that were repaired.")
    causes: tuple[CauseShape, ...]
    none_of_these: float = Field(description="Probability.")
    none_wins: bool
    doubted: tuple[DoubtShape, ...]
    pairs_not_weighed: int
    next: NextShape
    repairs: tuple[RepairShape, ...]

    @classmethod
    def of(
        cls,
        belief: Belief,
        advice: Advice,
        beside: Callable[[Probe], Mapping[str, Any]] = lambda probe: {},  # noqa: ARG005
        **more: Any,
    ) -> Self:
        """Return a diagnosis as it is told; ``beside`` gives what a shape of its own tells of each test."""
        predictions, evidence = belief.predictions, belief.evidence

        def test(offer: Offer, minutes: float, bits: float) -> dict[str, Any]:
            probe = offer.probe
            told = {name: getattr(offer, name) for name in ("words", "site", "caution")}
            told |= {name: getattr(probe, name) for name in ("kind", "through", "sight", "about")}
            told["between"] = probe.between if probe.kind in ("volts", "ohms") else ()
            told["calls"] = {control: tuple(sorted(calls)) for control, calls in probe.state.calls}
            return {**told, "minutes": minutes, "bits": bits, **beside(probe)}

        repairs = [repair_for(group[0], predictions) for group in (advice.cause.members if advice.cause else ())]
        told = {
            "readings": [
                {"words": probe_words(predictions.house, r.probe), "value": r.value} for r in evidence.readings
            ],
            "history": evidence.history,
            "repaired": [cause for item in evidence.repaired for cause in item.causes],
            "causes": belief.ranking,
            "pairs_not_weighed": predictions.rows.left_out,
            "next": {
                "action": advice.action,
                "why": advice.why,
                "test": None if advice.offer is None else test(advice.offer, advice.minutes, advice.bits),
                "outcomes": advice.outcomes,
                "others": [test(offer, minutes, bits) for offer, bits, minutes in advice.others],
                "kept_back": [{"test": offer.words, "why": why} for offer, why in advice.kept_back],
            },
            "repairs": [RepairShape.filled(repair, cause=repair.hypothesis.id) for repair in repairs],
        }
        return cls.filled(belief, **(told | more))
