"""Job files and photos from outside: each ends in a job or in one clear sentence, and nothing is half kept."""

from __future__ import annotations

import hashlib
import io
import json
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin

from subbase.cli.job_command import job as job_command
from subbase.errors import InputError
from subbase.journal.bodies import PhotoAdded
from subbase.journal.bundle import export_job, import_bundle, read_bundle
from subbase.journal.check import check_integrity
from subbase.journal.photos import LONG_SIDE, PREVIEW_SIDE, clean_already, clean_photo
from subbase.journal.store import Journal, open_journal
from subbase.journal.trouble import JournalFull
from tests.journal_entries import HOUSE, edit, entry, photo

Members = dict[str, bytes]
PICTURE = photo("red")


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    """A journal with one job."""
    with open_journal(tmp_path / "journal.sqlite") as opened:
        yield opened


@pytest.fixture(scope="module")
def job_file(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A sound job file with a survey and a photo."""
    with open_journal(tmp_path_factory.mktemp("source") / "journal.sqlite") as opened:
        job = opened.create_job("House", job="house-0001")
        opened.put_photo(job, PICTURE)
        shown = PhotoAdded(photo=PICTURE.hash, size=len(PICTURE.data), width=PICTURE.width, height=PICTURE.height)
        opened.append(job, [entry(1, edit(HOUSE)), entry(2, shown)])
        return export_job(opened, job)


def _members(data: bytes) -> Members:
    with zipfile.ZipFile(io.BytesIO(data)) as held:
        return {name: held.read(name) for name in held.namelist()}


def _zipped(members: Members, how: int = zipfile.ZIP_DEFLATED) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", how) as file:
        for name, data in members.items():
            file.writestr(name, data)
    return held.getvalue()


def _resealed(held: Members, **changes: Any) -> Members:
    """Return members with a manifest that fits them, as an attacker would write it."""
    manifest = json.loads(held["manifest.json"])
    manifest["members"] = {
        name: {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}
        for name, data in held.items()
        if name != "manifest.json"
    }
    return held | {"manifest.json": json.dumps(manifest | changes).encode()}


def _with_event(members: Members, change: Callable[[dict[str, Any]], None]) -> Members:
    lines = [json.loads(line) for line in members["events.jsonl"].splitlines()]
    change(lines[1])
    return _resealed(members | {"events.jsonl": "".join(json.dumps(line) + "\n" for line in lines).encode()})


def _sentences(read: Callable[[], object]) -> list[str] | None:
    """Return what is said against an input, or None when it is taken."""
    try:
        read()
    except InputError as error:
        return [str(fault) for fault in error.faults]
    return None


def test_a_job_file_holds_what_it_says(job_file: bytes) -> None:
    """The file names every member with its checksum, and the survey in it is the one of the job."""
    members = _members(job_file)
    assert sorted(members) == ["events.jsonl", "manifest.json", f"photos/{PICTURE.hash}.jpg", "survey.yaml"]
    assert members["survey.yaml"].decode() == HOUSE
    manifest = json.loads(members["manifest.json"])
    assert all(
        hashlib.sha256(members[name]).hexdigest() == told["sha256"] for name, told in manifest["members"].items()
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("../../etc/cron.d/x", "does not belong"), ("/etc/passwd", "does not belong"), ("photos/../x.jpg", "does not belong"),
        ("..\\x", "does not belong"), ("photos/a.svg", "does not belong"), ("a\x00.jpg", "does not belong"),
        (f"photos/{'0' * 64}.jpg", "the manifest does not name it"),
    ],
)  # fmt: skip
def test_members_that_do_not_belong_are_refused(job_file: bytes, name: str, words: str) -> None:
    """Paths that lead out, kinds that are not kept and members that nobody names are refused by name."""
    with pytest.raises(InputError, match=words):
        read_bundle(_zipped(_members(job_file) | {name: b"x"}))


def test_a_member_twice_is_refused(job_file: bytes) -> None:
    """Of two members of one name, nobody could say which counts."""
    held = io.BytesIO(job_file)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(held, "a") as file:
        file.writestr("events.jsonl", b"")
    with pytest.raises(InputError, match=r"events\.jsonl twice"):
        read_bundle(held.getvalue())


def test_files_that_would_blow_up_are_refused_unread(job_file: bytes) -> None:
    """What packs a thousand to one, or unpacks to more than is taken, is refused by its declared size."""
    bomb = _zipped(_members(job_file) | {"survey.yaml": b" " * 30_000_000})
    with pytest.raises(InputError, match="would unpack to 30000000 bytes"):
        read_bundle(bomb)
    # A size declared smaller than it is: no more than declared is ever unpacked, and the checksum shows it.
    at = bomb.rindex(b"survey.yaml") - 46
    lying = bomb[: at + 24] + struct.pack("<I", 1000) + bomb[at + 28 :]
    with pytest.raises(InputError, match=r"damaged|checksum"):
        read_bundle(lying)


@pytest.mark.parametrize("how", [zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2])
def test_other_ways_of_packing_are_refused(job_file: bytes, how: int) -> None:
    """Only the two ways of packing that the export uses are read."""
    with pytest.raises(InputError, match="packed in a way"):
        read_bundle(_zipped(_members(job_file), how))


@pytest.mark.parametrize("name", ["events.jsonl", "survey.yaml", f"photos/{PICTURE.hash}.jpg"])
def test_a_changed_member_is_found_by_its_checksum(job_file: bytes, name: str) -> None:
    """A member that is not as it was written is named."""
    members = _members(job_file)
    with pytest.raises(InputError, match="checksum differs"):
        read_bundle(_zipped(members | {name: members[name][:-1] + b"X"}))
    del members[name]
    with pytest.raises(InputError, match="it is missing"):
        read_bundle(_zipped(members))


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("sequence", 7, "bears the number 7"), ("job", "another-job", "another job"), ("key", "x", "not as it should be"),
        ("made_at", "yesterday", "not as it should be"), ("body", [1], "not as it should be"),
        ("body", {"kind": "<script>"}, "not as it should be"), ("received_at", None, "not as it should be"),
        ("extra", 1, "not as it should be"),
    ],
)  # fmt: skip
def test_events_that_do_not_fit_are_refused(job_file: bytes, field: str, value: Any, words: str) -> None:
    """An event with another job, another number or fields that are none is refused, though all checksums fit."""
    members = _with_event(_members(job_file), lambda event: event.update({field: value}))
    with pytest.raises(InputError, match=words):
        read_bundle(_zipped(members))


def test_manifests_that_do_not_fit_are_refused(job_file: bytes) -> None:
    """A later format, an id that is none, a wrong count and no manifest at all each have their sentence."""
    members = _members(job_file)
    for changes, words in (
        ({"format": 2}, "format that this version does not know"),
        ({"job": "../x"}, "no job's id"),
        ({"events": 9}, "the manifest says 9"),
        ({"members": 3}, "'members' is not as it should be"),
    ):
        with pytest.raises(InputError, match=words):
            read_bundle(_zipped(_resealed(members, **changes)))
    with pytest.raises(InputError, match=r"no manifest\.json"):
        read_bundle(_zipped({name: data for name, data in members.items() if name != "manifest.json"}))


def test_photos_in_a_job_file_hold_nothing_but_a_picture(job_file: bytes) -> None:
    """A photo with a place, a comment or something behind its end in it is not taken, though its checksum fits."""
    held = io.BytesIO()
    image = Image.new("RGB", (20, 20), "blue")
    exif = image.getexif()
    exif[0x010E] = "Elm Street 1"
    image.save(held, "JPEG", exif=exif)
    with_place = held.getvalue()
    held = io.BytesIO()
    image.save(held, "JPEG", comment=b"<script>")
    for data in (with_place, held.getvalue(), PICTURE.data + b"<html>", b"\xff\xd8\xff" + b"x" * 50, b"<svg/>"):
        name = f"photos/{hashlib.sha256(data).hexdigest()}.jpg"
        with pytest.raises(InputError):
            read_bundle(_zipped(_resealed(_members(job_file) | {name: data})))
    wrong_name = _resealed(_members(job_file) | {f"photos/{'a' * 64}.jpg": PICTURE.data})
    with pytest.raises(InputError, match="is not its SHA-256"):
        read_bundle(_zipped(wrong_name))


def test_an_import_that_breaks_off_leaves_nothing(
    journal: Journal, job_file: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk fills up at the last photo, neither the job nor any of its events is there."""

    def full(*_: object) -> None:
        raise JournalFull("The disk is full.")

    bundle = read_bundle(job_file)
    monkeypatch.setattr("subbase.journal.bundle.keep_photo", full)
    with pytest.raises(JournalFull):
        import_bundle(journal, bundle)
    assert journal.jobs().total == 0
    monkeypatch.undo()
    import_bundle(journal, bundle)
    assert (journal.jobs().total, check_integrity(journal).events) == (1, 3)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_damage_ends_in_one_sentence_or_in_the_same_job(job_file: bytes, data: st.DataObject) -> None:
    """Bytes changed, cut off or put in anywhere: the file is refused in a sentence, or read as what it was."""
    start = data.draw(st.integers(0, len(job_file)))
    end = min(len(job_file), start + data.draw(st.integers(0, 40)))
    damaged = job_file[:start] + data.draw(st.binary(max_size=40)) + job_file[end:]
    sentences = _sentences(lambda: read_bundle(damaged))
    if sentences is None:
        assert read_bundle(damaged) == read_bundle(job_file)
    else:
        assert len(sentences) == 1
        assert sentences[0].endswith(".")


@given(st.binary(max_size=300))
def test_any_bytes_are_refused(data: bytes) -> None:
    """What is no job file at all, or no picture, is refused in a sentence."""
    for read in (read_bundle, clean_photo, clean_already):
        with pytest.raises(InputError):
            read(data)


def test_the_commands_take_a_job_out_and_in(tmp_path: Path) -> None:
    """Export, import, list, check, backup and restore work one after another, and bad files leave with code 2."""

    def run(*words: str | Path) -> Any:
        return CliRunner().invoke(job_command, [str(word) for word in words])

    one, other, file, copy = (tmp_path / name for name in ("one.sqlite", "other.sqlite", "house.job", "copy.sqlite"))
    with open_journal(one) as opened:
        opened.create_job("House", job="house-0001")
    assert run("export", "house-0001", file, "--journal", one).exit_code == 0
    assert "New job 'House': 1 events" in run("import", file, "--journal", other).stdout
    assert json.loads(run("import", file, "--journal", other, "--json").stdout)["events"] == 0
    assert "1 of 1 jobs." in run("list", "house", "--journal", other).stdout
    assert json.loads(run("check", "--journal", other, "--json").stdout)["sound"] is True
    assert run("backup", copy, "--journal", other).exit_code == 0
    assert "already there" in run("backup", copy, "--journal", other).stderr
    assert "1 jobs are back." in run("restore", copy, "--journal", tmp_path / "new.sqlite").stdout
    for result in (
        run("import", one, "--journal", other),
        run("import", tmp_path / "none.job", "--journal", other),
        run("export", "no-such-job", tmp_path / "x.job", "--journal", other),
        run("list", "--journal", tmp_path / "none.sqlite"),
    ):
        assert result.exit_code == 2
        assert result.stderr.strip()
        assert "Traceback" not in result.output
    assert not (tmp_path / "x.job").exists()


def _camera_picture(kind: str, **save: Any) -> bytes:
    held = io.BytesIO()
    image = Image.new("RGB", (3000, 2000), "white")
    image.paste("red", (0, 0, 1500, 1000))
    image.save(held, kind, **save)
    return held.getvalue()


def test_a_photo_is_turned_upright_made_smaller_and_stripped() -> None:
    """Place, time and comment are gone; what the camera said about turning is done to the picture."""
    exif = Image.new("RGB", (1, 1)).getexif()
    exif[0x0112], exif[0x010E] = 6, "Elm Street 1"
    exif[0x8825] = {1: "N", 2: (51.0, 30.0, 0.0)}
    clean = clean_photo(_camera_picture("JPEG", exif=exif, comment=b"Elm Street 1"))
    assert (clean.width, clean.height) == (LONG_SIDE * 2000 // 3000, LONG_SIDE)
    with Image.open(io.BytesIO(clean.data)) as image, Image.open(io.BytesIO(clean.preview)) as small:
        assert not image.getexif()
        assert max(small.size) == PREVIEW_SIDE
        corner = image.getpixel((image.width - 20, 20))
    assert isinstance(corner, tuple)
    assert corner[0] > 200
    assert corner[1] < 60
    assert b"Elm Street" not in clean.data + clean.preview
    assert clean_already(clean.data).hash == clean.hash


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_three_kinds_are_taken_by_their_content(kind: str) -> None:
    """JPEG, PNG and WebP become a JPEG, whatever the file is called."""
    assert clean_photo(_camera_picture(kind), file="x.exe").data.startswith(b"\xff\xd8\xff")


def test_what_is_clear_in_a_picture_becomes_white() -> None:
    """A picture with an alpha channel is laid on white, so that nothing hidden under it shows up."""
    held = io.BytesIO()
    Image.new("RGBA", (40, 40), (255, 0, 0, 0)).save(held, "PNG")
    with Image.open(io.BytesIO(clean_photo(held.getvalue()).data)) as image:
        assert image.getpixel((20, 20)) == (255, 255, 255)


def _png(width: int, height: int, packed: bytes) -> bytes:
    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


@pytest.mark.parametrize(("width", "height"), [(50_000, 50_000), (9_000, 9_000), (2**31 - 1, 2**31 - 1)])
def test_pictures_too_large_to_decode_are_not_decoded(width: int, height: int) -> None:
    """A small file that says it is a huge picture is refused before any pixel is unpacked."""
    with pytest.raises(InputError):
        clean_photo(_png(width, height, zlib.compress(b"\x00" * 1000)))


def test_text_that_unpacks_without_end_is_refused() -> None:
    """A PNG whose comment unpacks to 100 MB ends in a sentence."""
    told = PngImagePlugin.PngInfo()
    told.add_text("c", "A" * 100_000_000, zip=True)
    held = io.BytesIO()
    Image.new("RGB", (4, 4)).save(held, "PNG", pnginfo=told)
    with pytest.raises(InputError, match="cannot be decoded"):
        clean_photo(held.getvalue())


@pytest.mark.parametrize(
    "data", [b"", b"<svg onload=x>", b"GIF89a" + b"\x00" * 50, b"%PDF-1.7", b"II*\x00" + b"\x00" * 99]
)
def test_other_files_are_no_photos(data: bytes) -> None:
    """Other kinds, also those that a browser would run, are refused by their content."""
    with pytest.raises(InputError, match="no JPEG, PNG or WebP"):
        clean_photo(data, file="holiday.jpg")


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(["JPEG", "PNG", "WEBP"]), st.data())
def test_damaged_pictures_end_in_a_photo_or_a_sentence(kind: str, data: st.DataObject) -> None:
    """A picture with bytes changed is decoded as far as it goes, or refused in one sentence."""
    held = io.BytesIO()
    Image.new("RGB", (24, 16), "green").save(held, kind)
    raw = bytearray(held.getvalue())
    for _ in range(data.draw(st.integers(1, 6))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    sentences = _sentences(lambda: clean_already(clean_photo(bytes(raw)).data))
    assert sentences is None or len(sentences) == 1
