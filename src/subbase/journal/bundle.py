"""A whole job as one file: a ZIP of its events, its survey and its photos, each with its SHA-256 in a manifest.

The same job gives the same bytes. What comes in is looked through before anything of it is kept: names, sizes, checksums,
every event, every photo. Nothing is ever unpacked to the disk.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from subbase.errors import Fault, InputError
from subbase.journal.database import rows
from subbase.journal.events import Entry, Event, Frozen, Kept, Line, Refused, Sha256, body_json, read_body
from subbase.journal.fold import fold
from subbase.journal.photos import CleanPhoto, clean_already
from subbase.journal.store import MOST_EVENTS, Journal, is_job_id, keep_entries, keep_history, keep_photo
from subbase.journal.trouble import JobExists, NoSuchJob

MOST_BYTES = 300_000_000
"""Of the file."""
MOST_UNPACKED = 400_000_000
"""Of all members together."""
MOST_EVENTS_BYTES = 100_000_000
MOST_MEMBERS = 3_000
MOST_RATIO = 100
"""Unpacked over packed bytes of one member; text packs about 20 to 1 (measured on the examples)."""
MANIFEST, EVENTS, SURVEY = "manifest.json", "events.jsonl", "survey.yaml"
_PHOTO = re.compile(r"^photos/([0-9a-f]{64})\.jpg$")
_EPOCH = (1980, 1, 1, 0, 0, 0)


class Member(Frozen):
    """One file in a job file."""

    sha256: Sha256
    size: Annotated[int, Field(ge=0, le=MOST_UNPACKED)]


class Manifest(Frozen):
    """What a job file holds."""

    format: Literal[1]
    what: Literal["subbase job"] = "subbase job"
    job: Line
    name: Line
    events: Annotated[int, Field(ge=0, le=MOST_EVENTS)]
    members: dict[str, Member]


@dataclass(frozen=True, slots=True)
class Bundle:
    """A job file that was looked through and found whole."""

    job: str
    name: str
    events: tuple[Event, ...]
    photos: tuple[CleanPhoto, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """What came of a job file."""

    job: str
    name: str
    new_job: bool
    events: int
    """Events that were not there before."""
    photos: int
    """Photos that this job did not have before."""


def export_job(journal: Journal, job: str) -> bytes:
    """Return a whole job as one file.

    Raises
    ------
    NoSuchJob
    JournalTrouble
        When the journal cannot be read.
    """
    events = journal.events(job)
    state = fold(events)
    sql = "SELECT hash, bytes FROM photos JOIN job_photos USING (hash) WHERE job = :job ORDER BY hash"
    with journal.database.read() as connection:
        photos = {f"photos/{item['hash']}.jpg": bytes(item["bytes"]) for item in rows(connection, sql, job=job)}
    lines = "".join(_event_line(event) for event in events)
    members = {EVENTS: lines.encode(), SURVEY: state.survey.text.encode(), **photos}
    manifest = Manifest(
        format=1,
        job=job,
        name=state.name,
        events=len(events),
        members={name: Member(sha256=_sha256(data), size=len(data)) for name, data in members.items()},
    )
    told = json.dumps(manifest.model_dump(mode="json"), ensure_ascii=False, indent=1, sort_keys=True).encode() + b"\n"
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as file:
        for name, data in {MANIFEST: told, **members}.items():
            info = zipfile.ZipInfo(name, _EPOCH)
            # Photos do not get smaller; the system and the rights are fixed, so that every machine writes the same bytes.
            info.compress_type = zipfile.ZIP_STORED if name in photos else zipfile.ZIP_DEFLATED
            info.create_system, info.external_attr = 3, 0o644 << 16
            file.writestr(info, data)
    return held.getvalue()


def read_bundle(data: bytes, file: str = "") -> Bundle:
    """Return a job file's job, looked through.

    Raises
    ------
    InputError
        When anything in it is not as it should be.
    """
    reading = _Reading(file)
    if len(data) > MOST_BYTES:
        raise reading.fault(f"The file has {len(data) / 1e6:.0f} MB; a job file has at most {MOST_BYTES / 1e6:.0f} MB.")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as held:
            return reading.bundle(held)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise reading.fault(f"This is no job file, or it is damaged ({error}). Export the job again.") from None
    except (ValueError, LookupError, zlib.error, OverflowError):
        raise reading.fault("This is no job file, or it is damaged. Export the job again.") from None


def import_bundle(journal: Journal, bundle: Bundle, *, add: bool = False) -> Imported:
    """Keep a job that came in a file, all of it or nothing.

    Parameters
    ----------
    add
        When the job is already here and not the same: add what it has not, at its end.

    Raises
    ------
    JobExists
        When the job is here with other events and is not to be added to, or the two cannot come together.
    """
    try:
        here = journal.events(bundle.job)
    except NoSuchJob:
        with journal.database.write() as connection:
            keep_history(connection, bundle.job, bundle.events)
            for photo in bundle.photos:
                keep_photo(connection, bundle.job, photo)
        return Imported(bundle.job, bundle.name, True, len(bundle.events), len(bundle.photos))
    fresh = _fresh(here, bundle.events)
    photos = [photo for photo in bundle.photos if photo.hash not in journal.photo_hashes(bundle.job)]
    if (fresh or photos) and not add:
        raise JobExists(
            f"The job '{bundle.name}' is already here, without {len(fresh)} of the file's events and {len(photos)} of its "
            "photos. Nothing was changed. Say that they are to be added, if both belong together (--add)."
        )
    with journal.database.write() as connection:
        results = keep_entries(connection, bundle.job, fresh)
        _all_kept(results)
        for photo in photos:
            keep_photo(connection, bundle.job, photo)
    count = sum(isinstance(result, Kept) and not result.already for result in results)
    return Imported(bundle.job, bundle.name, False, count, len(photos))


def _fresh(here: Sequence[Event], there: Sequence[Event]) -> list[Entry]:
    """Return what is only in the file; its own numbering means nothing here, beyond what both have in common."""
    held = {event.key: event for event in here}
    shared = 0
    for mine, other in zip(here, there, strict=False):
        if mine.key != other.key:
            break
        shared += 1
    fresh = []
    for event in there:
        mine_too = held.get(event.key)
        if mine_too is None:
            entry = Entry(**{name: getattr(event, name) for name in Entry.model_fields})
            fresh.append(entry.model_copy(update={"seen": min(entry.seen, shared)}))
        elif body_json(mine_too.body) != body_json(event.body):
            raise JobExists(
                f"Event {event.sequence} of the file is here with another content: the two are not the same job. "
                "Nothing was changed."
            )
    return fresh


def _all_kept(results: Sequence[Kept | Refused]) -> None:
    for result in results:
        if isinstance(result, Refused):
            raise JobExists(f"The file was not taken: {result.reason} Nothing was changed.")


class _Reading:
    """One job file being looked through."""

    def __init__(self, file: str) -> None:
        self._file = file

    def fault(self, message: str, where: str = "") -> InputError:
        return InputError((Fault(message, where, self._file),))

    def bundle(self, held: zipfile.ZipFile) -> Bundle:
        infos = self._members(held.infolist())
        if MANIFEST not in infos:
            raise self.fault(f"This is no job file: it has no {MANIFEST}.")
        manifest = self._manifest(self._read(held, infos[MANIFEST], 2_000_000))
        for name in sorted({*infos, MANIFEST} ^ {*manifest.members, MANIFEST}):
            said = "the manifest does not name it" if name in infos else "it is missing"
            raise self.fault(f"{_shown(name)}: {said}. Export the job again.", MANIFEST)
        if EVENTS not in infos:
            raise self.fault(f"The file has no {EVENTS}.")
        photos = []
        for name, member in sorted(manifest.members.items()):
            data = self._read(held, infos[name], MOST_EVENTS_BYTES)
            if len(data) != member.size or _sha256(data) != member.sha256:
                raise self.fault(f"{name} is not as it was written: its checksum differs. Export the job again.")
            if name == EVENTS:
                events = self._events(data, manifest)
            if found := _PHOTO.match(name):
                photos.append(self._photo(data, found[1], name))
        return Bundle(manifest.job, manifest.name, events, tuple(photos))

    def _members(self, infos: Sequence[zipfile.ZipInfo]) -> Mapping[str, zipfile.ZipInfo]:
        if len(infos) > MOST_MEMBERS:
            raise self.fault(f"The file holds {len(infos)} members; at most {MOST_MEMBERS} are taken.")
        found: dict[str, zipfile.ZipInfo] = {}
        for info in infos:
            # The name as it is in the file, before Python cuts it off at a NUL.
            name = info.orig_filename
            if name not in (MANIFEST, EVENTS, SURVEY) and not _PHOTO.match(name):
                raise self.fault(f"The file holds '{_shown(name)}', which does not belong in a job file.")
            if name in found:
                raise self.fault(f"The file holds {name} twice.")
            if info.flag_bits & 0x1:
                raise self.fault(f"{name} is encrypted; a job file is not.")
            if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise self.fault(f"{name} is packed in a way that is not used in job files.")
            if info.file_size > MOST_RATIO * max(info.compress_size, 1000):
                raise self.fault(f"{name} would unpack to {info.file_size} bytes from {info.compress_size}: not taken.")
            found[name] = info
        total = sum(info.file_size for info in infos)
        if total > MOST_UNPACKED:
            raise self.fault(
                f"The file would unpack to {total / 1e6:.0f} MB; at most {MOST_UNPACKED / 1e6:.0f} are taken."
            )
        return found

    def _read(self, held: zipfile.ZipFile, info: zipfile.ZipInfo, most: int) -> bytes:
        if info.file_size > most:
            raise self.fault(f"{info.filename} has {info.file_size} bytes; at most {most} are taken.")
        with held.open(info) as member:
            return member.read(info.file_size + 1)

    def _manifest(self, data: bytes) -> Manifest:
        try:
            manifest = Manifest.model_validate_json(data)
        except ValidationError as error:
            first = error.errors()[0]
            if first["loc"] == ("format",):
                raise self.fault("The job file is of a format that this version does not know.", MANIFEST) from None
            where = ".".join(map(str, first["loc"]))
            raise self.fault(f"'{where}' is not as it should be: {first['msg']}.", MANIFEST) from None
        if not is_job_id(manifest.job):
            raise self.fault(f"'{_shown(manifest.job)}' is no job's id.", MANIFEST)
        return manifest

    def _events(self, data: bytes, manifest: Manifest) -> tuple[Event, ...]:
        lines = data.splitlines()
        if len(lines) != manifest.events:
            raise self.fault(f"There are {len(lines)} events; the manifest says {manifest.events}.", EVENTS)
        events = tuple(self._event(line, number) for number, line in enumerate(lines, start=1))
        if len({event.key for event in events}) != len(events):
            raise self.fault("Two events have the same key.", EVENTS)
        if any(event.job != manifest.job for event in events):
            raise self.fault("An event belongs to another job.", EVENTS)
        return events

    def _event(self, line: bytes, number: int) -> Event:
        try:
            plain: Any = json.loads(line)
            event = Event.model_validate({**plain, "body": read_body(plain["body"])})
        except (ValidationError, ValueError, TypeError, KeyError, RecursionError):
            raise self.fault("The event is not as it should be.", f"{EVENTS}, line {number}") from None
        if event.sequence != number:
            raise self.fault(f"The event bears the number {event.sequence}.", f"{EVENTS}, line {number}")
        return event

    def _photo(self, data: bytes, name_hash: str, name: str) -> CleanPhoto:
        try:
            photo = clean_already(data)
        except InputError as error:
            raise self.fault(error.faults[0].message, name) from None
        if photo.hash != name_hash:
            raise self.fault("The photo's name is not its SHA-256.", name)
        return photo


def _event_line(event: Event) -> str:
    data = event.model_dump(mode="json")
    return json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n"


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _shown(name: str) -> str:
    """Return a name from outside, cut short and without characters that a terminal would obey."""
    return "".join(character if character.isprintable() else "?" for character in name[:60])
