"""What may happen in a job, each kind with what it tells: frozen bodies of events, told apart by ``kind``.

Kinds of a later version are kept as they came.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    JsonValue,
    StringConstraints,
    Tag,
    TypeAdapter,
    ValidationError,
)

from subbase.words import _

MOST_BODY_BYTES = 2_000_000
"""Of one event's body, written as JSON."""
MOST_SURVEY_CHARACTERS = 300_000
"""Of one survey; a house with eight controls takes about 10,000."""
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u2028\u2029]")
"""Control characters, and those that turn the direction of writing: no one line may hold them."""


def _one_line(text: str) -> str:
    if _CONTROL.search(text):
        raise ValueError(_("expected one line without control characters"))
    return text


def _no_nul(text: str) -> str:
    if "\x00" in text:
        raise ValueError(_("expected text without NUL characters"))
    return text


def _in_utc(at: datetime) -> datetime:
    try:
        at.astimezone(UTC)
    except OverflowError:
        raise ValueError(_("expected a time that there is in UTC")) from None
    return at


Moment = Annotated[AwareDatetime, AfterValidator(_in_utc)]
"""A time with its zone; the first and the last day of the calendar lie outside it in some zones."""
Line = Annotated[str, StringConstraints(max_length=200, strip_whitespace=True), AfterValidator(_one_line)]
Filled = Annotated[Line, StringConstraints(min_length=1)]
Text = Annotated[str, StringConstraints(max_length=10_000), AfterValidator(_no_nul)]
Key = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$")]
"""A UUID in small letters, made by the phone: it makes sending twice harmless."""
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Number = Annotated[float, Field(allow_inf_nan=False, ge=-1e9, le=1e9)]


class Frozen(BaseModel):
    """Base of the journal's models: frozen, and strict about words it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    came_later: ClassVar[frozenset[str]] = frozenset()
    """Fields that came later: left out of what is kept while they say nothing, so that an entry of before stays the same."""


class Named(Frozen):
    """The job was named, or named anew."""

    kind: Literal["named"] = "named"
    name: Filled = Field(description="What the job is called in lists.")


class SurveyEdited(Frozen):
    """The survey was changed; its whole text is kept, as typed."""

    kind: Literal["survey_edited"] = "survey_edited"
    text: Annotated[str, StringConstraints(max_length=MOST_SURVEY_CHARACTERS), AfterValidator(_no_nul)] = Field(
        description="The whole survey, YAML or JSON, whether it can be read or not."
    )
    base: Sha256 | Literal[""] = Field(
        default="", description="SHA-256 of the text that this one was made from; empty for a job's first."
    )
    what: Line = Field(default="", description="What was changed, in a few words, for the history.")
    settles: tuple[Line, ...] = Field(
        default=(),
        max_length=200,
        description="Fields whose two values were looked at, this text having the right one.",
    )


class ControlChosen(Frozen):
    """A new control was chosen for one place of the house."""

    kind: Literal["control_chosen"] = "control_chosen"
    control: Filled = Field(description="Name of the control in the survey.")
    title: Line = Field(default="", description="What the new one is called by whoever chose it.")
    profile: dict[str, JsonValue] = Field(default={}, description="Its profile, as in the survey's field 'new'.")


class PlanAccepted(Frozen):
    """Somebody looked at a plan and means to work by it."""

    kind: Literal["plan_accepted"] = "plan_accepted"
    survey: Sha256 = Field(description="SHA-256 of the survey text that the plan was made for.")
    routes: dict[str, Filled] = Field(default={}, description="Control -> name of the power route.")
    note: Text = ""


_MARK = Field(default="", description="Short mark of the wiring it belongs to: an edit that changes none keeps it.")


class StepDone(Frozen):
    """A work step was done, found not to be so, or left out."""

    kind: Literal["step_done"] = "step_done"
    step: Filled = Field(description="The step's id in the work sheet.")
    survey: Sha256 | Literal[""] = Field(default="", description="SHA-256 of the survey text it belongs to.")
    note: Text = Field(default="", description="What was seen instead, why it was left out, or who did it.")
    did: Literal["done", "not so", "skipped"] = "done"
    mark: Line = _MARK
    came_later: ClassVar[frozenset[str]] = frozenset({"did", "mark"})


class StepReopened(Frozen):
    """A work step that was done is to be done again."""

    kind: Literal["step_reopened"] = "step_reopened"
    step: Filled
    note: Text = ""
    mark: Line = _MARK
    came_later: ClassVar[frozenset[str]] = frozenset({"mark"})


class ReadingTaken(Frozen):
    """A meter was read."""

    kind: Literal["reading_taken"] = "reading_taken"
    between: tuple[Filled, Filled] = Field(description="The two terminals, or a place and what was read there.")
    unit: Literal["V", "ohm", "A", "degC", "Pa", "s"] = Field(description="Unit of the value; SI.")
    value: Number | None = Field(description="What the meter showed; null for OL, an open circuit.")
    check: Line = Field(default="", description="Id of the check that it answers, if any.")
    call: Line = Field(default="", description="What the control was asking for; empty when dead or off.")
    survey: Sha256 | Literal[""] = Field(default="", description="SHA-256 of the survey text it belongs to.")
    low: Number | None = Field(default=None, description="Least that was expected.")
    high: Number | None = Field(default=None, description="Most that was expected; null for no upper bound.")
    note: Text = ""
    step: Line = Field(default="", description="Id of the work step that asked for it, if any.")
    control: Line = Field(default="", description="Which control was calling; needed where there are several.")
    clip: tuple[Filled, Filled] | None = Field(default=None, description="Terminals joined by a clip lead meanwhile.")
    meter: Line = Field(default="", description="Kind of meter; empty for a common digital one.")
    mark: Line = _MARK
    came_later: ClassVar[frozenset[str]] = frozenset({"step", "control", "clip", "meter", "mark"})


class TestAnswered(Frozen):
    """A test of a diagnosis was answered, also with 'don't know'."""

    __test__ = False  # no test of pytest's
    kind: Literal["test_answered"] = "test_answered"
    entry: dict[str, JsonValue] = Field(description="As one entry of 'readings' in a file of evidence.")
    words: Line = Field(default="", description="The test as it was asked.")
    survey: Sha256 | Literal[""] = Field(default="", description="SHA-256 of the survey text it belongs to.")
    mark: Line = _MARK


class VerdictGiven(Frozen):
    """Something was judged: a check, a step, a fault, the whole job."""

    kind: Literal["verdict_given"] = "verdict_given"
    about: Filled = Field(description="Id of what is judged.")
    outcome: Literal["good", "bad", "not judged"]
    text: Text = ""


class PhotoAdded(Frozen):
    """A photo was taken; its bytes are kept apart, under their SHA-256."""

    kind: Literal["photo_added"] = "photo_added"
    photo: Sha256
    mime: Literal["image/jpeg", "image/png", "image/webp"] = "image/jpeg"
    size: Annotated[int, Field(ge=1, le=100_000_000)] = Field(description="Bytes.")
    width: Annotated[int, Field(ge=1, le=100_000)] = Field(description="Pixels.")
    height: Annotated[int, Field(ge=1, le=100_000)] = Field(description="Pixels.")
    caption: Line = ""
    shows: tuple[Filled, ...] = Field(
        default=(), max_length=50, description="Places, terminals or conductors that it documents: 'hall', 'hall.R' ..."
    )


class PhotoRemoved(Frozen):
    """A photo is no longer shown; the record that it was there stays."""

    kind: Literal["photo_removed"] = "photo_removed"
    added: Key = Field(description="Key of the event that added it.")
    why: Line = ""


class NoteMade(Frozen):
    """Anything worth keeping."""

    kind: Literal["note_made"] = "note_made"
    text: Annotated[Text, StringConstraints(min_length=1)]
    about: Line = Field(default="", description="Id of a place, a conductor or a step; empty for the job.")


class PersonPresent(Frozen):
    """Somebody was there."""

    kind: Literal["person_present"] = "person_present"
    name: Filled
    role: Line = Field(default="", description="Installer, owner, helper ...")


class SettingMade(Frozen):
    """A setting of the new control or of the house was decided."""

    kind: Literal["setting_made"] = "setting_made"
    name: Filled
    value: JsonValue
    control: Line = ""


class HandedOver(Frozen):
    """The job was handed over."""

    kind: Literal["handed_over"] = "handed_over"
    to: Line = ""
    papers: dict[str, Sha256] = Field(default={}, description="File name -> SHA-256 of the papers that were left.")
    note: Text = ""


class Undone(Frozen):
    """An earlier event no longer counts; to undo this one brings it back. Both stay in the history."""

    kind: Literal["undone"] = "undone"
    target: Key = Field(description="Key of the event that no longer counts.")
    why: Line = ""


class Unrecognised(BaseModel):
    """An event of a kind that this version does not know: kept whole, shown, and counted for nothing."""

    model_config = ConfigDict(frozen=True, extra="allow")

    kind: Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,59}$")]


KnownBody = (
    Named | SurveyEdited | ControlChosen | PlanAccepted | StepDone | StepReopened | ReadingTaken | TestAnswered | VerdictGiven
    | PhotoAdded | PhotoRemoved | NoteMade | PersonPresent | SettingMade | HandedOver | Undone
)  # fmt: skip
KINDS: dict[str, type[Frozen]] = {str(model.model_fields["kind"].default): model for model in get_args(KnownBody)}
"""Kind -> its model, of every kind that this version knows."""


def _tag(value: Any) -> str:
    kind = value.get("kind") if isinstance(value, Mapping) else getattr(value, "kind", None)
    return kind if isinstance(kind, str) and kind in KINDS and not isinstance(value, Unrecognised) else "unrecognised"


Body = Annotated[
    Annotated[Named, Tag("named")]
    | Annotated[SurveyEdited, Tag("survey_edited")]
    | Annotated[ControlChosen, Tag("control_chosen")]
    | Annotated[PlanAccepted, Tag("plan_accepted")]
    | Annotated[StepDone, Tag("step_done")]
    | Annotated[StepReopened, Tag("step_reopened")]
    | Annotated[ReadingTaken, Tag("reading_taken")]
    | Annotated[TestAnswered, Tag("test_answered")]
    | Annotated[VerdictGiven, Tag("verdict_given")]
    | Annotated[PhotoAdded, Tag("photo_added")]
    | Annotated[PhotoRemoved, Tag("photo_removed")]
    | Annotated[NoteMade, Tag("note_made")]
    | Annotated[PersonPresent, Tag("person_present")]
    | Annotated[SettingMade, Tag("setting_made")]
    | Annotated[HandedOver, Tag("handed_over")]
    | Annotated[Undone, Tag("undone")]
    | Annotated[Unrecognised, Tag("unrecognised")],
    Discriminator(_tag),
]
_BODY: TypeAdapter[Any] = TypeAdapter(Body)


def body_json(body: Any) -> bytes:
    """Return a body as JSON, the same bytes for the same body."""
    data = body.model_dump(mode="json")
    for name in getattr(type(body), "came_later", ()):
        if data[name] == type(body).model_fields[name].default:
            del data[name]
    return json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode()


def read_body(data: Mapping[str, Any]) -> Any:
    """Return a body from what is stored; what does not fit this version's models is kept as it is."""
    try:
        return _BODY.validate_python(data)
    except ValidationError:
        return Unrecognised.model_validate(data)
