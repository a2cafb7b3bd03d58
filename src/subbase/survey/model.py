"""The survey: what was found at one address, frozen, in SI units, with what is not known kept as such.

Places are controls, equipment and transformers; each has terminals. A landing is written ``place.terminal``, or
``loose`` or ``cut short``. A wire nut is a terminal of the place it lies in, named ``joint 1`` and so on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from subbase.catalog.model import Call
from subbase.survey.rooms import Site

LOOSE = "loose"
CUT_SHORT = "cut short"
NOWHERE = (LOOSE, CUT_SHORT)

NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Volts = Annotated[float, Field(ge=0.1, le=1000)]
Va = Annotated[float, Field(ge=0.1, le=10_000)]
SHORTEST_M, LONGEST_M = 0.01, 1000.0
"""Of a cable: what lies outside is a slip of the pen."""
Metres = Annotated[float, Field(ge=SHORTEST_M, le=LONGEST_M)]


class Frozen(BaseModel):
    """Base of the survey's models: frozen, strict about words it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class How(StrEnum):
    """How a fact is known."""

    SEEN = "seen"
    MEASURED = "measured"
    TOLD = "told"
    ASSUMED = "assumed"


class Unknown(Frozen):
    """A fact not known yet; ``either`` lists what it may be, or is empty when nothing is known of it."""

    unknown: Literal[True]
    either: tuple[str | float, ...] = ()


class Place(Frozen):
    """Where the house is, as far as the work needs it."""

    year_built: Annotated[int, Field(ge=1600, le=2100)] | None = Field(
        default=None, description="Year the house was built."
    )
    latitude_deg: Annotated[float, Field(ge=-90, le=90)] | None = Field(default=None, description="North is positive.")
    longitude_deg: Annotated[float, Field(ge=-180, le=180)] | None = Field(
        default=None, description="East is positive."
    )


class Transformer(Frozen):
    """A control transformer that is not part of a catalogue kind; its terminals are ``hot`` and ``common``."""

    va: Va | Unknown = Field(description="Rated VA on the nameplate.")
    volts: Volts | Unknown = Field(default=24.0, description="Rated secondary volts.")
    regulation: Annotated[float, Field(ge=0.02, le=0.5)] = Field(
        default=0.125, description="(no-load - full-load)/full-load volts."
    )
    fuse_a: Annotated[float, Field(ge=0.01, le=100)] | None = Field(
        default=None, description="Rating of the fuse or breaker in its secondary [A]."
    )
    class_2: bool | Unknown = Field(default=True, description="Whether its nameplate says Class 2.")
    at: str = Field(default="", description="Where it hangs.")
    feeds: str = Field(default="", description="What it feeds, in words.")


class Equipment(Frozen):
    """One piece of equipment or one device, by its catalogue kind."""

    kind: str | Unknown = Field(description="A kind of the catalogue.")
    at: str = Field(default="", description="Where it stands: basement, attic, roof ...")
    role: Literal["main", "auxiliary", "second fuel"] = Field(
        default="main",
        description="Part it plays in heating; left out beside a heat pump, strips are auxiliary, a burner is the second fuel.",
    )
    serves: tuple[str, ...] = Field(default=(), description="Controls it works for; all of them when left out.")
    zones: dict[int, str] = Field(default={}, description="Zone number of the panel -> control.")
    nameplate: dict[str, dict[str, float]] = Field(
        default={}, description="Part -> value -> number as its nameplate says."
    )
    without: tuple[str, ...] = Field(default=(), description="Parts of the kind that this one does not have.")


class Conductor(Frozen):
    """One insulated wire: where its two ends land, and what colour they bear."""

    from_: str | Unknown = Field(alias="from", description="Landing at the cable's first place.")
    to: str | Unknown = Field(description="Landing at the cable's second place.")
    colours: tuple[str, str] = Field(default=("", ""), description="Insulation at the first and second end.")


class Cable(Frozen):
    """A cable between two places."""

    from_: str = Field(alias="from", description="Place at its first end.")
    to: str = Field(description="Place at its second end.")
    length_m: Metres | Unknown = Field(description="One way [m].")
    gauge_awg: Annotated[int, Field(ge=10, le=30)] | Unknown = Field(
        alias="gauge", default=18, description="American wire gauge."
    )
    conductors: dict[str, Conductor] = Field(description="Name -> conductor.")


class Jumper(Frozen):
    """A short link between two terminals of one place or one cabinet."""

    between: tuple[str, str] = Field(description="The two terminals.")
    present: bool | Unknown = Field(default=True, description="Whether it is there.")


class Profile(Frozen):
    """What a control has, in neutral words."""

    wiring: Literal["low voltage", "line voltage", "millivolt", "serial data"] | Unknown = Field(
        default="low voltage", description="What kind of circuit it switches."
    )
    terminals: tuple[str, ...] = Field(min_length=1, max_length=60, description="Terminals as marked.")
    power: Literal["none", "battery", "common", "stealing"] = Field(
        default="none",
        description="What feeds it: nothing (mechanical), a battery, R and C, or what leaks through its loads.",
    )
    battery: bool = Field(default=False, description="Whether it can run on a battery alone.")
    asleep_va: Annotated[float, Field(ge=0, le=1000)] = Field(default=0.0, description="Draw while idle [VA].")
    awake_va: Annotated[float, Field(ge=0, le=1000)] = Field(
        default=0.0, description="Draw with display and radio on [VA]."
    )
    least_v: Volts = Field(default=18.0, description="Supply below which it may reset [V rms].")
    most_v: Volts = Field(default=30.0, description="Supply above which it may be harmed [V rms].")
    outputs: Literal["relay", "solid-state"] = Field(default="relay", description="How it switches.")
    leak_ma: Annotated[float, Field(ge=0, le=10_000)] = Field(
        default=0.0, description="Off-state leakage of an output at 24 V [mA]."
    )
    output_a: Annotated[float, Field(ge=0.001, le=100)] = Field(
        default=1.0, description="Most current an output may carry [A]."
    )
    supplies: Literal["one", "joined", "separate"] = Field(
        default="one",
        description="One R; Rh and Rc joined inside; or Rh and Rc that can be kept apart (a jumper or setting joins them).",
    )
    powered_from: Literal["R", "Rh", "Rc"] | None = Field(
        default=None,
        description="Supply terminal that feeds its own electronics; Rc where there are two, when left out.",
    )
    mercury: bool = Field(default=False, description="Whether it holds a mercury switch.")

    def supply_of(self, output: str) -> str | None:
        """Return the supply terminal that an output switches, or None when it has none."""
        wanted = ("Rh", "R", "Rc") if output.startswith(("W", "E", "AUX")) else ("Rc", "R", "Rh")
        return next((terminal for terminal in wanted if terminal in self.terminals), None)

    def power_terminal(self) -> str | None:
        """Return the supply terminal that feeds its electronics."""
        wanted = (self.powered_from,) if self.powered_from else ("Rc", "R", "Rh")
        return next((terminal for terminal in wanted if terminal in self.terminals), None)


class Control(Frozen):
    """One room control: what hangs there, and what is to replace it, if anything."""

    at: str = Field(default="", description="Room or wall.")
    old: Profile = Field(description="The control as found.")
    new: Profile | None = Field(default=None, description="The control to be fitted; left out when this one stays.")
    not_wired: tuple[Call, ...] = Field(
        default=(), description="Calls that its wiring does not carry, so that it is not set up for them."
    )


class Reading(Frozen):
    """A meter reading already taken."""

    between: tuple[str, str] = Field(description="The two terminals.")
    volts: NotNegative | None = Field(default=None, description="AC volts read.")
    ohms: NotNegative | None = Field(default=None, description="Resistance read, dead.")
    call: Call | Literal["off"] = Field(default="off", description="What the control was asking for.")
    control: str | None = Field(default=None, description="Which control; needed where there are several.")


Sign = Literal[
    "thick conductors",
    "wire nuts on two thick conductors",
    "120 or 240 marking",
    "two thin conductors under one volt",
    "numbered data terminals",
    "scorched insulation",
    "water in the wall box",
]


class Survey(Frozen):
    """One address."""

    survey: Annotated[int, Field(ge=1, le=1)] = Field(description="Version of this format: 1.")
    name: str = Field(min_length=1, max_length=120, description="What the job is called.")
    units: Literal["us", "si"] = Field(default="us", description="Units of lengths in the file and on the papers.")
    place: Place = Field(default=Place(), description="Where and how old the house is.")
    transformers: dict[str, Transformer] = Field(
        default={}, description="Name -> transformer that is no part of a kind."
    )
    equipment: dict[str, Equipment] = Field(default={}, description="Name -> equipment or device.")
    controls: dict[str, Control] = Field(description="Name -> room control.")
    cables: dict[str, Cable] = Field(default={}, description="Name -> cable.")
    jumpers: tuple[Jumper, ...] = Field(default=(), description="Short links, each as [TERMINAL, TERMINAL].")
    signs: tuple[Sign, ...] = Field(default=(), description="Warning signs seen at the wall.")
    readings: tuple[Reading, ...] = Field(default=(), description="Meter readings already taken, as found.")
    wishes: tuple[Call, ...] = Field(
        default=(), description="Calls the owner will not give up, beside those that work today."
    )
    known: dict[str, How] = Field(default={}, description="Field -> how it is known; 'seen' when not listed.")
    notes: str = Field(default="", description="Anything else.")
    site: Site | None = Field(default=None, description="The rooms, as far as they matter for where the control hangs.")

    def places(self) -> tuple[str, ...]:
        """Return every place with terminals."""
        return (*self.controls, *self.equipment, *self.transformers)

    def conductors(self) -> Iterator[tuple[str, Cable, str, Conductor]]:
        """Iterate over (cable name, cable, conductor name, conductor)."""
        for cable_name, cable in self.cables.items():
            for name, conductor in cable.conductors.items():
                yield cable_name, cable, name, conductor


class ConductorEnd(Frozen):
    """One end of one conductor: the thing a person holds in the hand."""

    cable: str
    conductor: str
    end: Literal["from", "to"]

    def landing(self, survey: Survey) -> str | Unknown:
        """Return where it lands in this survey."""
        conductor = survey.cables[self.cable].conductors[self.conductor]
        return conductor.from_ if self.end == "from" else conductor.to

    def place(self, survey: Survey) -> str:
        """Return the place it is at."""
        cable = survey.cables[self.cable]
        return cable.from_ if self.end == "from" else cable.to

    def colour(self, survey: Survey) -> str:
        """Return the insulation colour at this end."""
        return survey.cables[self.cable].conductors[self.conductor].colours[0 if self.end == "from" else 1]


def split_terminal(landing: str) -> tuple[str, str]:
    """Return (place, terminal) of ``place.terminal``."""
    place, _, terminal = landing.partition(".")
    return place, terminal


def is_inner_point(node: str) -> bool:
    """Tell a point inside equipment, as ``furnace/after-limit``, from a terminal, as ``hall.O/B``, and from a joint."""
    place, stroke, _ = node.partition("/")
    return bool(stroke) and "." not in place


def with_landing(survey: Survey, end: ConductorEnd, landing: str) -> Survey:
    """Return the survey with one conductor end moved."""
    cable = survey.cables[end.cable]
    conductor = cable.conductors[end.conductor]
    moved = conductor.model_copy(update={"from_" if end.end == "from" else "to": landing})
    conductors = {**cable.conductors, end.conductor: moved}
    return survey.model_copy(
        update={"cables": {**survey.cables, end.cable: cable.model_copy(update={"conductors": conductors})}}
    )


def with_equipment(survey: Survey, added: Mapping[str, Equipment]) -> Survey:
    """Return the survey with more equipment."""
    return survey.model_copy(update={"equipment": {**survey.equipment, **added}})
