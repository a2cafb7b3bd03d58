"""What every reader must hold to, whatever bytes it is given: a result, or faults that are each one clear sentence."""

from __future__ import annotations

import atexit
import itertools
import tempfile
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

from subbase.catalog import Catalog, load_catalog
from subbase.errors import Fault, InputError
from subbase.survey import Survey, read_survey

if TYPE_CHECKING:
    from fastapi.testclient import TestClient

    from subbase.fleet.mapping import Mapping as FleetMapping
    from subbase.plan import Plan
    from subbase.wiring import House

Target = Callable[[bytes], None]
ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
LONGEST_SENTENCE = 4000
MOST_FAULTS = 5000
KEYS = itertools.count(1)
"""Of what is sent to the API: each is new."""


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


@cache
def mapping() -> FleetMapping:
    """Return the mapping of the example's list of homes."""
    from subbase.fleet.mapping import load_mapping

    return load_mapping(EXAMPLES / "fleet" / "mapping.toml")


@cache
def scratch() -> Path:
    """Return a folder for readers that take a file only; it goes when the process ends."""
    folder = tempfile.TemporaryDirectory(prefix="subbase-fuzz-")
    atexit.register(folder.cleanup)
    return Path(folder.name)


def _homes(data: bytes, ending: str) -> None:
    """A list of homes in a file, row by row down to each home's survey."""
    from subbase.fleet.records import Record, RecordReader, Wrong, declared_values
    from subbase.fleet.sources import blocks_of
    from subbase.fleet.thin_survey import survey_of

    file = scratch() / f"homes{ending}"
    file.write_bytes(data)
    reader, declared = RecordReader(mapping()), declared_values(mapping())
    try:
        for block in blocks_of(file, mapping(), rows=50):
            block.table()
            for cells, problem in zip(block.cells, block.problems, strict=True):
                if problem:
                    continue
                told: object = reader.read({name: cell or "" for name, cell in zip(block.names, cells, strict=True)})
                if isinstance(told, Record):
                    told = survey_of(dict(told.facts), declared, mapping(), catalog())
                wrong = told if isinstance(told, tuple) else (told,)
                found = [Fault(item.message, item.field) for item in wrong if isinstance(item, Wrong)]
                if found:
                    must_be_clear(found)
    except InputError as error:
        must_be_clear(error.faults)


def homes(data: bytes) -> None:
    """A list of homes as delimited text."""
    _homes(data, ".csv")


def parquet(data: bytes) -> None:
    """A list of homes as Parquet."""
    _homes(data, ".parquet")


def workbook(data: bytes) -> None:
    """A list of homes as a spreadsheet: whole as given, and as the XML of the one sheet in a book that is whole."""
    import zipfile

    _homes(data, ".xlsx")
    if data.lstrip()[:1] == b"<":
        from fuzz.books import book_with

        try:
            made = book_with(data)
        except zipfile.BadZipFile as error:
            raise Broken(str(error)) from None
        _homes(made, ".xlsx")


def log(data: bytes) -> None:
    """A house's log as CSV: as given, and with its last rows repeated at later times until there are enough."""
    from subbase.comfort.log_reading import parse_log

    lines = data.splitlines()
    hours = [line.partition(b",")[2] for line in lines[1:]]
    times = (f"2026-01-{1 + number // 24:02d} {number % 24:02d}:00," for number in range(48))
    repeated = [time.encode() + hours[number % len(hours)] for number, time in enumerate(times)] if hours else []
    for each in {data, b"\n".join([*lines[:1], *repeated])}:
        try:
            parse_log(each, "fuzzed")
        except InputError as error:
            must_be_clear(error.faults)


def fleet_mapping(data: bytes) -> None:
    """Which column of a list is which fact, in TOML and in YAML, and what is declared in it."""
    from subbase.fleet.mapping import read_mapping
    from subbase.fleet.records import declared_values

    for as_toml in (True, False):
        try:
            declared_values(read_mapping(data, "fuzzed", as_toml=as_toml))
        except InputError as error:
            must_be_clear(error.faults)
        except ValueError as error:
            must_be_clear((Fault(str(error)),))


@cache
def client() -> TestClient:
    """Return a program at the app, over a journal in the scratch folder."""
    import re

    from fastapi.testclient import TestClient

    from subbase.web.app import create_app
    from subbase.web.settings import Settings

    app = create_app(Settings(journal=scratch() / "jobs.db"))
    made = TestClient(app, base_url="http://127.0.0.1:8024")
    token = re.search(r'name="csrf" value="([^"]+)"', made.get("/").text)
    assert token is not None
    made.headers["X-Form-Token"] = token[1]
    return made


def _fresh() -> str:
    return str(UUID(int=(4 << 76) | next(KEYS)))


def api(data: bytes) -> None:
    """A body for the HTTP API: the first letter says for which operation; then the job must still be shown."""
    what, body = data[:1], data[1:]
    while b"KEY" in body:
        body = body.replace(b"KEY", _fresh().encode(), 1)
    root, job = "/api/v1/jobs", _fresh()
    _answered("POST", root, b'{"name": "Fuzzed", "id": "%s"}' % job.encode())
    match what:
        case b"j":
            _answered("POST", root, body)
        case b"s":
            _answered("PUT", f"{root}/{job}/survey", body)
        case b"t":
            _answered("PUT", f"{root}/{job}/survey?as_typed=true", body, kind="application/yaml")
        case _:
            _answered("POST", f"{root}/{job}/entries", body)
    for path in (f"{root}/{job}/state", f"{root}/{job}/survey", f"/jobs/{job}/survey", f"/jobs/{job}/history"):
        _answered("GET", path)


def _answered(method: str, path: str, body: bytes = b"", *, kind: str = "application/json") -> None:
    answer = client().request(method, path, content=body, headers={"Content-Type": kind} if body else {})
    if answer.status_code >= 500:
        raise Broken(f"{method} {path} is answered with {answer.status_code}")
    if answer.status_code < 400 or not path.startswith("/api/"):
        return
    told = answer.json()
    faults = [Fault(fault["message"], fault["field"] or "") for fault in told["faults"]]
    must_be_clear([Fault(told["title"]), *faults])


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
    "homes": homes,
    "parquet": parquet,
    "workbook": workbook,
    "mapping": fleet_mapping,
    "log": log,
    "api": api,
}
