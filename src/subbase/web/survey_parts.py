"""What the survey page is made of: fields with their names, values and choices, and the parts of a house that hold them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose."""

    value: str
    label: str
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the form."""

    name: str
    anchor: str
    value: str = ""
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Act:
    """A button, with what it does."""

    value: str
    label: str


@dataclass(frozen=True, slots=True)
class Profile:
    """One control, old or new, as marked and fed."""

    there: bool
    terminals: Field
    more: str
    """Name of the field for further terminals."""
    usual: tuple[Act, ...]
    fields: dict[str, Field]


@dataclass(frozen=True, slots=True)
class Place:
    """One place: a control, a piece of equipment, a transformer."""

    name: str
    title: str
    rename: str
    anchor: str
    remove: str
    fields: dict[str, Field]
    old: Profile | None = None
    new: Profile | None = None
    replace: str = ""
    drop_new: str = ""
    zones: tuple[tuple[str, Field], ...] = ()
    nameplate: tuple[tuple[str, Field], ...] = ()
    serves: Field | None = None
    without: Field | None = None


@dataclass(frozen=True, slots=True)
class End:
    """One end of a conductor."""

    place: str
    colour: Field
    landing: Field
    open: bool
    group: str
    """Ends of one cable at one place: the next one to fill in is looked for here first."""


@dataclass(frozen=True, slots=True)
class Wire:
    """One conductor."""

    name: str
    colours: tuple[str, str]
    anchor: str
    rename: str
    remove: str
    key: str
    """What the wiring map knows it by."""
    ends: tuple[End, ...]


@dataclass(frozen=True, slots=True)
class Cable:
    """One cable."""

    name: str
    rename: str
    anchor: str
    remove: str
    ends: tuple[Field, Field]
    length: Field
    gauge: Field
    wires: tuple[Wire, ...]
    swatches: tuple[Act, ...]
    plain: str
    """What adds a conductor of no colour that can be told."""
    striped: str


@dataclass(frozen=True, slots=True)
class Row:
    """A jumper or a reading."""

    anchor: str
    remove: str
    pair: tuple[Field, Field]
    fields: dict[str, Field]


@dataclass(frozen=True, slots=True)
class View:
    """The whole form."""

    house: dict[str, Field]
    signs: Field
    signs_asked: bool
    kinds: tuple[tuple[str, tuple[Act, ...]], ...]
    equipment: tuple[Place, ...]
    transformers: tuple[Place, ...]
    controls: tuple[Place, ...]
    rooms: tuple[Act, ...]
    suggested: tuple[Act, ...]
    places: tuple[str, ...]
    cables: tuple[Cable, ...]
    terminals: tuple[str, ...]
    """Every terminal of the house, for jumpers and readings."""
    jumpers: tuple[Row, ...]
    readings: tuple[Row, ...]
    calls: tuple[str, ...]
    wishes: Field
