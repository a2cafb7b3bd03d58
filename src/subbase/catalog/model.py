"""What a catalogue kind says: terminals, parts and how they are joined, and what each call must bring on.

A kind is data. Its parts become branches of the circuit one for one; nothing here decides anything about wiring.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, model_validator

from subbase.words import _

Fraction = Annotated[float, Field(gt=0, le=2)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Call = Literal[
    "heat 1",
    "heat 2",
    "heat 3",
    "cool 1",
    "cool 2",
    "fan",
    "auxiliary heat 1",
    "auxiliary heat 2",
    "auxiliary heat 3",
    "emergency heat 1",
    "emergency heat 2",
    "second fuel heat 1",
    "second fuel heat 2",
    "humidify",
    "dehumidify",
    "ventilate",
]
CALLS: tuple[Call, ...] = get_args(Call)
"""Every call a control can make, in the trade's order. A higher stage includes the lower ones."""


class Frozen(BaseModel):
    """Base of all models here: frozen, and a word that is not known is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class PartBase(Frozen):
    """What all parts have; ``between`` is (tail, head): terminals of the kind, or inner nodes of its own naming."""

    id: str
    between: tuple[str, str]
    source: str = Field(
        min_length=3, description="Where the values come from, or 'from memory', or 'common practice, no source'."
    )
    what: str = Field(default="", description="In plain words, as a paper would print it.")


class TransformerPart(PartBase):
    """A 24 V class secondary; ``between`` is (common side, hot side)."""

    type: Literal["transformer"]
    va: Positive
    volts: Positive = 24.0
    regulation: Annotated[float, Field(ge=0.02, le=0.5)] = 0.125


class FusePart(PartBase):
    """A fuse or a resettable breaker in the control circuit."""

    type: Literal["fuse"]
    rating_a: Positive
    ohm: Positive = 0.02


class LoadPart(PartBase):
    """A coil, a valve, a board input: what a call is to energise."""

    type: Literal["load"]
    va: Positive = Field(description="Sealed (running) apparent power at rated volts.")
    pf: Annotated[float, Field(gt=0, le=1)] = 1.0
    va_inrush: Positive | None = Field(
        default=None, description="Before it has pulled in; the same as sealed when left out."
    )
    pf_inrush: Annotated[float, Field(gt=0, le=1)] | None = None
    volts: Positive = 24.0
    pull_in: Fraction = Field(
        default=0.85, description="Least voltage that surely works it, as a fraction of rated volts."
    )
    drop_out: Fraction = Field(
        default=0.4, description="Voltage below which it surely releases, as a fraction of rated volts."
    )
    delay_s: Annotated[float, Field(ge=0, allow_inf_nan=False)] = 0.0
    neutral: bool = Field(default=False, description="Draws power but does nothing a call is judged by.")


class ContactPart(PartBase):
    """A contact worked by loads of the same kind; any one of them acts it."""

    type: Literal["contact"]
    worked_by: tuple[str, ...] = Field(min_length=1)
    normally: Literal["open", "closed"] = "open"


class SwitchPart(PartBase):
    """A limit, float, pressure switch, or a condition such as defrost; it stands ``normally`` until something happens."""

    type: Literal["switch"]
    normally: Literal["open", "closed"] = "closed"
    acts_when: str = Field(min_length=3, description="What makes it act, as 'drain pan full'.")


class ResistorPart(PartBase):
    """A fixed resistance."""

    type: Literal["resistor"]
    ohm: Positive


class LinkPart(PartBase):
    """A factory jumper or a solid joint inside the equipment."""

    type: Literal["link"]
    removable: bool = False


Part = Annotated[
    TransformerPart | FusePart | LoadPart | ContactPart | SwitchPart | ResistorPart | LinkPart,
    Field(discriminator="type"),
]


class Requirement(Frozen):
    """What one call needs of this equipment and what it must bring on there."""

    energise: tuple[str, ...] = Field(default=(), description="Terminals to be joined to the supply.")
    close: tuple[tuple[str, str], ...] = Field(
        default=(), description="Pairs of terminals to be joined with each other and nothing else."
    )
    on: tuple[str, ...] = Field(default=(), description="Loads that must be on.")
    may: tuple[str, ...] = Field(default=(), description="Loads that may be on or off; every other load must be off.")

    @property
    def answers(self) -> bool:
        """Return whether something has to work, and the call is not only put up with."""
        return bool(self.on or self.energise or self.close)


class Condition(Frozen):
    """A state that the equipment brings about by itself during a call, such as defrost."""

    during: Call
    acts: tuple[str, ...] = Field(min_length=1, description="Switches that leave their normal position.")
    on: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    may_elsewhere: tuple[Call, ...] = Field(
        default=(), description="Calls whose loads may be on in other equipment meanwhile."
    )


class Never(Frozen):
    """A load that must never be on without another: checked in every state, legal or not."""

    on: str
    without: str
    why: str


class SequenceStep(Frozen):
    """What a person sees or hears, and when."""

    after_s: Annotated[float, Field(ge=0, allow_inf_nan=False)]
    what: str


class Kind(Frozen):
    """One kind of equipment, device or adapter."""

    kind: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: str
    group: Literal[
        "heating",
        "cooling",
        "heat pump",
        "air handler",
        "hydronic",
        "zoning",
        "air quality",
        "device",
        "adapter",
        "power",
    ]
    site: Literal["indoor", "outdoor", "anywhere"] = "anywhere"
    about: str = ""
    terminals: dict[str, str] = Field(description="Name as marked -> what it is.")
    common: str | None = Field(default=None, description="Terminal to which its loads return.")
    supply: str | None = Field(default=None, description="Terminal that offers hot supply to a control.")
    needs_air: bool = Field(
        default=False, description="Its heating or cooling needs an indoor fan running in other equipment."
    )
    parts: tuple[Part, ...] = Field(alias="part", description="Every electrical part.")
    calls: dict[Call, Requirement] = {}
    air: Requirement | None = Field(default=None, description="What it does when other equipment needs air moved.")
    zones: dict[int, dict[Call, Requirement]] = {}
    conditions: dict[str, Condition] = {}
    never: tuple[Never, ...] = ()
    sequence: dict[Call, tuple[SequenceStep, ...]] = {}
    cautions: tuple[str, ...] = ()

    @property
    def heats(self) -> bool:
        """Return whether it answers a call for heat, and does not only put up with one."""
        return "heat 1" in self.calls and self.calls["heat 1"].answers

    @property
    def heats_by_electricity(self) -> bool:
        """Return whether what heat it gives comes from strips or a relay for electric heat."""
        return self.heats and (self.group == "air handler" or "electric" in f"{self.kind} {self.title}".lower())

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        """Hold every name used against the parts and terminals that exist."""
        problems = list(self._name_problems())
        if problems:
            raise ValueError(" ".join(problems))
        return self

    def _name_problems(self) -> list[str]:
        ids = [part.id for part in self.parts]
        loads = {part.id for part in self.parts if isinstance(part, LoadPart)}
        switches = {part.id for part in self.parts if isinstance(part, SwitchPart)}
        problems = [
            _("part {name} is given twice.").format(name=name) for name in sorted({i for i in ids if ids.count(i) > 1})
        ]
        problems += [
            _("{field} {name} is not a terminal.").format(field=field, name=name)
            for field, name in (("common", self.common), ("supply", self.supply))
            if name and name not in self.terminals
        ]
        problems += [
            _("part {id} joins {first} to itself.").format(id=part.id, first=part.between[0])
            for part in self.parts
            if len(set(part.between)) < 2
        ]
        problems += [
            _(
                "load {id} drops out at {drop_out:g} of rated volts but pulls in at {pull_in:g}; drop-out must be lower."
            ).format(id=load.id, drop_out=load.drop_out, pull_in=load.pull_in)
            for load in self.loads()
            if load.drop_out >= load.pull_in
        ]
        for part in self.parts:
            if isinstance(part, ContactPart):
                problems += [
                    _("contact {id} is worked by {name}, which is not a load.").format(id=part.id, name=name)
                    for name in part.worked_by
                    if name not in loads
                ]
        for label, need in self.requirements():
            problems += [
                _("{label} names terminal {terminal}, which does not exist.").format(label=label, terminal=t)
                for t in need.energise
                if t not in self.terminals
            ]
            problems += [
                _("{label} names terminal {terminal}, which does not exist.").format(label=label, terminal=t)
                for pair in need.close
                for t in pair
                if t not in self.terminals
            ]
            problems += [
                _("{label} names load {name}, which does not exist.").format(label=label, name=name)
                for name in (*need.on, *need.may)
                if name not in loads
            ]
        for name, condition in self.conditions.items():
            problems += [
                _("condition {name} names switch {switch}, which does not exist.").format(name=name, switch=s)
                for s in condition.acts
                if s not in switches
            ]
            problems += [
                _("condition {name} names load {load}, which does not exist.").format(name=name, load=x)
                for x in (*condition.on, *condition.may)
                if x not in loads
            ]
        for rule in self.never:
            problems += [
                _("never names load {load}, which does not exist.").format(load=x)
                for x in (rule.on, rule.without)
                if x not in loads
            ]
        return problems

    def requirements(self) -> list[tuple[str, Requirement]]:
        """Return every requirement with a label that says where it stands in the file."""
        found = [(f"calls.{call}", need) for call, need in self.calls.items()]
        found += [(f"zones.{zone}.{call}", need) for zone, calls in self.zones.items() for call, need in calls.items()]
        if self.air is not None:
            found.append(("air", self.air))
        return found

    def loads(self) -> tuple[LoadPart, ...]:
        """Return the loads in file order."""
        return tuple(part for part in self.parts if isinstance(part, LoadPart))

    def part(self, part_id: str) -> Part | None:
        """Return the part with an id, or None."""
        return next((part for part in self.parts if part.id == part_id), None)
