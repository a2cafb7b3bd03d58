"""What every reader must hold to, whatever bytes it is given: a result, or faults that are each one clear sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from subbase.catalog import Catalog, load_catalog
from subbase.errors import Fault, InputError
from subbase.survey import Survey, read_survey

if TYPE_CHECKING:
    from subbase.plan import Plan
    from subbase.wiring import House

Target = Callable[[bytes], None]
ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
LONGEST_SENTENCE = 4000
MOST_FAULTS = 5000


class Broken(AssertionError):
    """A reader did something else than give a result or clear sentences."""


def must_be_clear(faults: Iterable[Fault]) -> None:
    """Hold the sentences of a refusal to the house rule.

    Raises
    ------
    Broken
        When there is none, or one is empty, endless, shows a traceback or a control character.
    """
    found = tuple(faults)
    if not found or len(found) > MOST_FAULTS:
        raise Broken(f"{len(found)} faults")
    for fault in found:
        text = str(fault)
        if not fault.message.strip() or len(text) > LONGEST_SENTENCE or "Traceback" in text:
            raise Broken(f"no clear sentence: {text[:200]!r}")
        if any(ord(letter) < 32 and letter not in "\n\t" for letter in text):
            raise Broken(f"a control character is shown: {text[:200]!r}")


@cache
def catalog() -> Catalog:
    """Return the built-in catalogue."""
    return load_catalog()


@cache
def plan() -> Plan:
    """Return a planned house, for readers that need one."""
    from subbase.plan import make_plan

    raw = (EXAMPLES / "01-no-common-spare-blue.yaml").read_bytes()
    return make_plan(read_survey(raw, "", catalog()), catalog())


def left() -> Survey:
    """Return that house as left."""
    found = plan().left
    assert found is not None
    return found


@cache
def house() -> House:
    """Return that house, built."""
    from subbase.wiring import build_house

    return build_house(left(), catalog())


def survey(data: bytes) -> None:
    """A survey in YAML or JSON."""
    try:
        read_survey(data, "fuzzed", catalog())
    except InputError as error:
        must_be_clear(error.faults)


def rooms(data: bytes) -> None:
    """Rooms in a file of their own."""
    from subbase.survey.rooms_reading import read_site

    try:
        read_site(data, "fuzzed", catalog())
    except InputError as error:
        must_be_clear(error.faults)


def kind(data: bytes) -> None:
    """A kind of equipment in TOML."""
    from subbase.catalog.load import read_kind

    try:
        read_kind(data, "fuzzed")
    except InputError as error:
        must_be_clear(error.faults)


def taken(data: bytes) -> None:
    """Readings and calls that were taken."""
    from subbase.work.taken_reader import read_taken

    try:
        read_taken(data, "fuzzed", left(), catalog())
    except InputError as error:
        must_be_clear(error.faults)


def evidence(data: bytes) -> None:
    """Evidence for a diagnosis."""
    from subbase.diagnose.evidence_file import read_evidence

    try:
        read_evidence(data, "fuzzed", house())
    except InputError as error:
        must_be_clear(error.faults)


def weather(data: bytes) -> None:
    """A weather year: as given, and with its last hours repeated until they fill a year, which chance would never do."""
    from subbase.comfort.weather import parse_epw

    text = data.decode("latin-1")
    lines = text.splitlines()
    hours = lines[8:]
    year = "\n".join((*lines[:8], *(hours * (8760 // len(hours) + 1))[:8760])) if hours else text
    for each in {text, year}:
        try:
            parse_epw(each, "fuzzed")
        except InputError as error:
            must_be_clear(error.faults)


def deck(data: bytes) -> None:
    """A circuit as a SPICE deck."""
    from subbase.circuit.spice_reader import read_deck

    try:
        read_deck(data.decode("utf-8", "replace"), file="fuzzed")
    except InputError as error:
        must_be_clear(error.faults)


def job(data: bytes) -> None:
    """A whole job as one file."""
    from subbase.journal.bundle import read_bundle

    try:
        read_bundle(data, "fuzzed")
    except InputError as error:
        must_be_clear(error.faults)


def photo(data: bytes) -> None:
    """A photo."""
    from subbase.journal.photos import clean_photo

    try:
        clean_photo(data, file="fuzzed")
    except InputError as error:
        must_be_clear(error.faults)


def entries(data: bytes) -> None:
    """What a field file saved."""
    from subbase.web.field_file import read_entries_file

    try:
        _good, bad = read_entries_file(data, "00000000-0000-4000-8000-000000000000")
        if not all(item.reason.strip() for item in bad):
            raise Broken("an entry was refused without a reason")
    except InputError as error:
        must_be_clear(error.faults)


def form(data: bytes) -> None:
    """Any fields that the survey page's form sends, and what the survey then says."""
    from subbase.web.rooms_form import with_room_fields
    from subbase.web.rooms_sketch import act_on_rooms
    from subbase.web.stage_survey import typed
    from subbase.web.survey_acts import act
    from subbase.web.survey_document import document_text, read_document
    from subbase.web.survey_form import with_fields

    text, _, rest = data.decode("utf-8", "replace").partition("\x1e")
    fields = typed([(name, value) for name, _eq, value in (line.partition("=") for line in rest.split("\x1f"))])
    document = read_document(text, "fuzzed")
    if document is None:
        return
    inputs = dict(fields)
    made = with_room_fields(with_fields(document, fields), fields)
    made, _place = act(made, inputs.get("do", ""), inputs, catalog())
    made, _said = act_on_rooms(made, inputs.get("do", ""), inputs, floor=1)
    again = read_document(document_text(made), "fuzzed")
    if again is None:
        raise Broken("what the form wrote cannot be read again")
    survey(document_text(made).encode())


TARGETS: Mapping[str, Target] = {
    "survey": survey,
    "rooms": rooms,
    "kind": kind,
    "taken": taken,
    "evidence": evidence,
    "weather": weather,
    "deck": deck,
    "job": job,
    "photo": photo,
    "entries": entries,
    "form": form,
}
