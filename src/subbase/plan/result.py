"""What planning gives back: frozen records, ready for papers, for ``--json`` and for the next part of the job."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from subbase.catalog import Call, Catalog
from subbase.names import list_words, named
from subbase.plan.proven import Proof
from subbase.survey import Jumper, Survey, Unknown
from subbase.wiring import Settings
from subbase.words import _

RouteName = Literal[
    "common conductor",
    "spare conductor",
    "shared conductor",
    "fan conductor given up",
    "isolation relay",
    "separate transformer",
    "new cable",
    "battery",
]


@dataclass(frozen=True, slots=True)
class Landing:
    """One conductor of a control's cable, before and after, at both ends."""

    cable: str
    conductor: str
    colours: tuple[str, str]
    """Insulation at the wall end and at the far end."""
    carries: str
    """What it carries after the work ('common', 'heat 1' ...), or 'nothing'."""
    wall_found: str
    wall_left: str
    far_found: str
    far_left: str
    far_place: str

    @property
    def moved(self) -> bool:
        """Whether its far end changes, or it comes to carry something else at the wall."""
        return self.far_found != self.far_left or _function(self.wall_found) != _function(self.wall_left)


def known_end(survey: Survey, landing: Landing, *, at_wall: bool) -> bool:
    """Return whether a survey knows where a conductor's end was found, whatever a plan was proved for."""
    cable = survey.cables.get(landing.cable)
    if cable is None:
        return True  # brought by the plan itself
    conductor = cable.conductors[landing.conductor]
    at_first = (cable.to == landing.far_place) == at_wall
    return not isinstance(conductor.from_ if at_first else conductor.to, Unknown)


def as_known(survey: Survey, landing: Landing) -> Landing:
    """Return a landing in which an end that the survey does not know was found ``unknown``."""
    return replace(
        landing,
        wall_found=landing.wall_found if known_end(survey, landing, at_wall=True) else "unknown",
        far_found=landing.far_found if known_end(survey, landing, at_wall=False) else "unknown",
    )


def _function(landing: str) -> str:
    terminal = landing.rpartition(".")[2]
    return {"W1": "W", "Y1": "Y", "Rh": "R", "Rc": "R", "O/B": "O", "B": "O"}.get(terminal, terminal)


@dataclass(frozen=True, slots=True)
class JumperChange:
    """A link between two terminals: to be taken out, kept, or put in."""

    jumper: Jumper
    action: Literal["remove", "keep", "add"]
    why: str


@dataclass(frozen=True, slots=True)
class Part:
    """Something to bring."""

    what: str
    count: int = 1


@dataclass(frozen=True, slots=True)
class Route:
    """One way to feed and wire the new control, offered or refused."""

    name: RouteName
    title: str
    offered: bool
    reasons: tuple[str, ...]
    """Why it is refused (what was looked at, the rule or number, what would lift it); or what to know of it."""
    lost: tuple[Call, ...] = ()
    parts: tuple[Part, ...] = ()
    minutes: int = 0
    moved: int = 0
    """Landings made or changed: conductor ends at the equipment, and leads and links of added devices."""
    landings: tuple[Landing, ...] = ()
    jumpers: tuple[JumperChange, ...] = ()
    left: Survey | None = None
    """The house as this route leaves it."""
    proof: Proof | None = None
    weaker: bool = False
    """Whether it leaves clearly less margin than the house has today."""


@dataclass(frozen=True, slots=True)
class Stop:
    """Why nothing may be planned, and what to do instead."""

    seen: str
    instead: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What one answer to a question would lead to."""

    value: str
    leads_to: str


@dataclass(frozen=True, slots=True)
class Question:
    """An unknown that the plan depends on."""

    field: str
    """As in the survey file: ``cables.wall.conductors.blue.to``."""
    text: str
    how: str
    """How to find out safely: look, continuity dead, or volts live."""
    answers: tuple[Answer, ...]
    bits: float = 0.0
    """What its answer is expected to tell about the plan [bit]; 0 where the possibilities were too many to be tried."""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A reading that the survey as written cannot give."""

    text: str
    would_agree: tuple[str, ...]
    """Single changes to the survey under which it would agree."""


@dataclass(frozen=True, slots=True)
class ExpectedReading:
    """What a meter must read between two terminals in one state, after the work."""

    state: str
    """The state's name, in English: for comparing, and for files."""
    between: tuple[str, str]
    volts: float
    low_v: float
    high_v: float
    note: str = ""
    words: str = ""
    """The state as people say it, in their language."""


@dataclass(frozen=True, slots=True)
class Caution:
    """Something that can hurt a person or the equipment."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class ControlPlan:
    """The plan for one control that is replaced."""

    control: str
    settings: Settings
    chosen: Route
    routes: tuple[Route, ...]
    """Every route, best first, the refused ones last."""
    wanted: tuple[Call, ...] = ()
    """Calls that must still work."""

    @property
    def wired_words(self) -> str:
        """Return for which calls the control is to be set up."""
        calls = list_words(named(call) for call in self.wanted if call not in self.chosen.lost)
        return _("Set up for: {calls}. Any other stage or call stays off.").format(calls=calls)


@dataclass(frozen=True, slots=True)
class Plan:
    """The answer for one survey."""

    survey: Survey
    catalog: Catalog
    verdict: Literal["planned", "stopped", "question"]
    stops: tuple[Stop, ...] = ()
    questions: tuple[Question, ...] = ()
    indifferent: tuple[str, ...] = ()
    """Unknown facts that change nothing, one sentence each."""
    contradictions: tuple[Contradiction, ...] = ()
    controls: tuple[ControlPlan, ...] = ()
    refused: tuple[Route, ...] = ()
    """When no route is left: all of them with their reasons."""
    found: Survey | None = None
    """The house as found, unknowns that do not matter filled in."""
    left: Survey | None = None
    """The house as the whole plan leaves it."""
    proof_found: Proof | None = None
    proof: Proof | None = None
    readings: tuple[ExpectedReading, ...] = ()
    cautions: tuple[Caution, ...] = ()
    notes: tuple[str, ...] = ()
    """When the whole house fails its proof though every control had a route: what failed."""
    trusted: tuple[str, ...] = ()
    """Facts that nobody here has seen or measured, one sentence each."""
