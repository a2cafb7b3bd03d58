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

from subbase.errors import Fault, InputError, expected_words
from subbase.journal.bodies import Frozen, Line, Sha256, body_json, read_body
from subbase.journal.database import rows
from subbase.journal.events import Entry, Event, Kept, Refused
from subbase.journal.fold import fold
from subbase.journal.job_rows import MOST_EVENTS, is_job_id, keep_entries, keep_history, keep_photo
from subbase.journal.photos import CleanPhoto, clean_already
from subbase.journal.store import Journal
from subbase.journal.trouble import JobExists, NoSuchJob
from subbase.words import _

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
        raise reading.fault(
            _("The file has {count:.0f} MB; a job file has at most {most_bytes:.0f} MB.").format(
                count=len(data) / 1e6, most_bytes=MOST_BYTES / 1e6
            )
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as held:
            return reading.bundle(held)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise reading.fault(
            _("This is no job file, or it is damaged ({error}). Export the job again.").format(error=error)
        ) from None
    except (ValueError, LookupError, zlib.error, OverflowError):
        raise reading.fault(_("This is no job file, or it is damaged. Export the job again.")) from None


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
            _(
                "The job '{bundle}' is already here, without {events} of the file's events and {photos} of its photos. Nothing was changed. Say that they are to be added, if both belong together (--add)."
            ).format(bundle=bundle.name, events=len(fresh), photos=len(photos))
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
                _(
                    "Event {sequence} of the file is here with another content: the two are not the same job. Nothing was changed."
                ).format(sequence=event.sequence)
            )
    return fresh


def _all_kept(results: Sequence[Kept | Refused]) -> None:
    for result in results:
        if isinstance(result, Refused):
            raise JobExists(_("The file was not taken: {reason} Nothing was changed.").format(reason=result.reason))


class _Reading:
    """One job file being looked through."""

    def __init__(self, file: str) -> None:
        self._file = file

    def fault(self, message: str, where: str = "") -> InputError:
        return InputError((Fault(message, where, self._file),))

    def bundle(self, held: zipfile.ZipFile) -> Bundle:
        infos = self._members(held.infolist())
        if MANIFEST not in infos:
            raise self.fault(_("This is no job file: it has no {manifest}.").format(manifest=MANIFEST))
        manifest = self._manifest(self._read(held, infos[MANIFEST], 2_000_000))
        for name in sorted({*infos, MANIFEST} ^ {*manifest.members, MANIFEST}):
            said = (
                _("{name}: the manifest does not name it. Export the job again.")
                if name in infos
                else _("{name}: it is missing. Export the job again.")
            )
            raise self.fault(said.format(name=_shown(name)), MANIFEST)
        if EVENTS not in infos:
            raise self.fault(_("The file has no {events}.").format(events=EVENTS))
        photos = []
        for name, member in sorted(manifest.members.items()):
            data = self._read(held, infos[name], MOST_EVENTS_BYTES)
            if len(data) != member.size or _sha256(data) != member.sha256:
                raise self.fault(
                    _("{name} is not as it was written: its checksum differs. Export the job again.").format(name=name)
                )
            if name == EVENTS:
                events = self._events(data, manifest)
            if found := _PHOTO.match(name):
                photos.append(self._photo(data, found[1], name))
        return Bundle(manifest.job, manifest.name, events, tuple(photos))

    def _members(self, infos: Sequence[zipfile.ZipInfo]) -> Mapping[str, zipfile.ZipInfo]:
        if len(infos) > MOST_MEMBERS:
            raise self.fault(
                _("The file holds {count} members; at most {most_members} are taken.").format(
                    count=len(infos), most_members=MOST_MEMBERS
                )
            )
        found: dict[str, zipfile.ZipInfo] = {}
        for info in infos:
            # The name as it is in the file, before Python cuts it off at a NUL.
            name = info.orig_filename
            if name not in (MANIFEST, EVENTS, SURVEY) and not _PHOTO.match(name):
                raise self.fault(
                    _("The file holds '{name}', which does not belong in a job file.").format(name=_shown(name))
                )
            if name in found:
                raise self.fault(_("The file holds {name} twice.").format(name=name))
            if info.flag_bits & 0x1:
                raise self.fault(_("{name} is encrypted; a job file is not.").format(name=name))
            if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise self.fault(_("{name} is packed in a way that is not used in job files.").format(name=name))
            if info.file_size > MOST_RATIO * max(info.compress_size, 1000):
                raise self.fault(
                    _("{name} would unpack to {file_size} bytes from {compress_size}: not taken.").format(
                        name=name, file_size=info.file_size, compress_size=info.compress_size
                    )
                )
            found[name] = info
        total = sum(info.file_size for info in infos)
        if total > MOST_UNPACKED:
            raise self.fault(
                _("The file would unpack to {total:.0f} MB; at most {most_unpacked:.0f} are taken.").format(
                    total=total / 1e6, most_unpacked=MOST_UNPACKED / 1e6
                )
            )
        return found

    def _read(self, held: zipfile.ZipFile, info: zipfile.ZipInfo, most: int) -> bytes:
        if info.file_size > most:
            raise self.fault(
                _("{filename} has {file_size} bytes; at most {most} are taken.").format(
                    filename=info.filename, file_size=info.file_size, most=most
                )
            )
        with held.open(info) as member:
            return member.read(info.file_size + 1)

    def _manifest(self, data: bytes) -> Manifest:
        try:
            manifest = Manifest.model_validate_json(data)
        except ValidationError as error:
            first = error.errors()[0]
            if first["loc"] == ("format",):
                raise self.fault(_("The job file is of a format that this version does not know."), MANIFEST) from None
            where = ".".join(map(str, first["loc"]))
            raise self.fault(
                _("'{where}' is not as it should be: {said}.").format(where=where, said=expected_words(first)), MANIFEST
            ) from None
        if not is_job_id(manifest.job):
            raise self.fault(_("'{job}' is no job's id.").format(job=_shown(manifest.job)), MANIFEST)
        return manifest

    def _events(self, data: bytes, manifest: Manifest) -> tuple[Event, ...]:
        lines = data.splitlines()
        if len(lines) != manifest.events:
            raise self.fault(
                _("There are {count} events; the manifest says {events}.").format(
                    count=len(lines), events=manifest.events
                ),
                EVENTS,
            )
        events = tuple(self._event(line, number) for number, line in enumerate(lines, start=1))
        if len({event.key for event in events}) != len(events):
            raise self.fault(_("Two events have the same key."), EVENTS)
        if any(event.job != manifest.job for event in events):
            raise self.fault(_("An event belongs to another job."), EVENTS)
        return events

    def _event(self, line: bytes, number: int) -> Event:
        try:
            plain: Any = json.loads(line)
            event = Event.model_validate({**plain, "body": read_body(plain["body"])})
        except (ValidationError, ValueError, TypeError, KeyError, RecursionError):
            raise self.fault(
                _("The event is not as it should be."),
                _("{events}, line {number}").format(events=EVENTS, number=number),
            ) from None
        if event.sequence != number:
            raise self.fault(
                _("The event bears the number {sequence}.").format(sequence=event.sequence),
                _("{events}, line {number}").format(events=EVENTS, number=number),
            )
        return event

    def _photo(self, data: bytes, name_hash: str, name: str) -> CleanPhoto:
        try:
            photo = clean_already(data)
        except InputError as error:
            raise self.fault(error.faults[0].message, name) from None
        if photo.hash != name_hash:
            raise self.fault(_("The photo's name is not its SHA-256."), name)
        return photo


def _event_line(event: Event) -> str:
    data = event.model_dump(mode="json")
    return json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n"


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _shown(name: str) -> str:
    """Return a name from outside, cut short and without characters that a terminal would obey."""
    return "".join(character if character.isprintable() else "?" for character in name[:60])
