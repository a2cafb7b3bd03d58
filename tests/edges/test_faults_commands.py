"""What every command does with a file that is none, a disk that takes nothing, a reader that goes away, and Ctrl-C."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from subbase.cli import main
from subbase.cli.main import INTERRUPTED
from subbase.journal.store import open_journal
from tests.houses import EXAMPLES

HOUSE = str(EXAMPLES / "07-heat-only-pair.yaml")
JOB = "4d4c6eb9-2ff3-40b2-8bdd-5f57be94bcb5"


def _binary(folder: Path) -> Path:
    file = folder / "binary"
    file.write_bytes(bytes(range(256)) * 64)
    return file


def _empty(folder: Path) -> Path:
    file = folder / "empty"
    file.touch()
    return file


def _link_to_itself(folder: Path) -> Path:
    file = folder / "one"
    file.symlink_to(folder / "two")
    (folder / "two").symlink_to(file)
    return file


def _folder(folder: Path) -> Path:
    file = folder / "folder.yaml"
    file.mkdir()
    return file


def _not_utf_8(folder: Path) -> Path:
    file = Path(os.fsdecode(os.fsencode(folder) + b"/h\xffuse"))
    file.write_bytes(b"\x00\x01")
    return file


def _huge(folder: Path) -> Path:
    file = folder / "huge"
    with file.open("wb") as held:
        held.truncate(3 * 2**30)
    return file


BAD_FILES: dict[str, Callable[[Path], Path]] = {
    "missing": lambda folder: folder / "nothing here",
    "folder": _folder,
    "empty": _empty,
    "binary": _binary,
    "link to itself": _link_to_itself,
    "name that is no UTF-8": _not_utf_8,
    "3 GB": _huge,
    "below a file": lambda folder: _empty(folder) / "x",
    "name of 300 letters": lambda folder: folder / ("a" * 300),
    "never ends": lambda _folder: Path("/dev/urandom"),
}
READERS: dict[str, tuple[str, ...]] = {
    **{command: (command, "{}") for command in (
        "check", "check-survey", "checks", "data", "diagnose", "labels", "plan", "show", "site", "tune", "work",
    )},
    "check --readings": ("check", HOUSE, "--readings", "{}"),
    "site --weather": ("site", HOUSE, "--weather", "{}"),
    "tune --log": ("tune", HOUSE, "--log", "{}"),
    "tune --weather": ("tune", HOUSE, "--know", "area=1900", "--weather", "{}"),
    "work --walk": ("work", HOUSE, "--walk", "{}"),
    "work --progress": ("work", HOUSE, "--progress", "{}"),
    "trace --keep": ("trace", "--keep", "{}"),
    "fleet screen": ("fleet", "screen", "{}", "--out", "{new}"),
    "job import": ("job", "import", "{}", "--journal", "{journal}"),
    "job restore": ("job", "restore", "{}", "--journal", "{new}"),
    "job list": ("job", "list", "--journal", "{}"),
    "job check": ("job", "check", "--journal", "{}"),
    "job papers": ("job", "papers", JOB, "--journal", "{}"),
    "people list": ("people", "list", "--journal", "{}"),
}  # fmt: skip
"""Every command that reads a file, with the place of that file; {new} is a name not yet taken."""
MADE_ANEW = {("work --walk", bad) for bad in BAD_FILES if bad != "folder"}
"""Files that the command begins where there is none: how that ends is tested with the command."""


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> str:
    """An empty journal's file."""
    place = tmp_path_factory.mktemp("journal") / "jobs.sqlite"
    open_journal(place).close()
    return str(place)


def _commands(group: click.Group, above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    for name, command in sorted(group.commands.items()):
        if isinstance(command, click.Group):
            yield from _commands(command, (*above, name))
        else:
            yield (*above, name), command


def test_no_command_that_reads_a_file_is_left_out() -> None:
    """Each command with a file as its argument stands in the list above, or only writes that file."""
    listed = {
        tuple(word for word in words if not word.startswith(("-", "{", "/", "4d4c"))) for words in READERS.values()
    }
    only_write = {("new",), ("job", "export"), ("job", "backup")}
    for words, command in _commands(main):
        if any(isinstance(p, click.Argument) and p.name in ("file", "source") for p in command.params):
            assert words in listed | only_write


@pytest.mark.parametrize("bad", BAD_FILES)
@pytest.mark.parametrize("reader", READERS)
def test_a_file_that_is_none_is_refused_in_a_sentence(tmp_path: Path, journal: str, reader: str, bad: str) -> None:
    """Exit code 2, at least one sentence on stderr that names the file, nothing on stdout, nothing written."""
    if (reader, bad) in MADE_ANEW:
        pytest.skip("this command makes the file where it is none")
    file = BAD_FILES[bad](tmp_path)
    before = sorted(os.listdir(tmp_path))
    new = tmp_path / "new"
    words = [word.format(str(file), new=new, journal=journal) if "{" in word else word for word in READERS[reader]]
    result = CliRunner().invoke(main, words, input="")
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == 2, result.output
    assert result.stderr.strip()
    assert "Traceback" not in result.output
    assert len(result.stderr) < 4000
    assert [name for name in sorted(os.listdir(tmp_path)) if not name.startswith("new")] == before
    assert not list(new.rglob("*")) if new.is_dir() else True
    if bad == "empty":
        assert file.read_bytes() == b""


@pytest.mark.parametrize("name", ["a" * 300, "nothing here", "empty/x"])
def test_a_catalogue_folder_that_is_none_is_refused(tmp_path: Path, name: str) -> None:
    """A folder of kinds that no system can hold is told like one that is not there."""
    _empty(tmp_path)
    result = CliRunner().invoke(main, ["plan", HOUSE, "--catalogue", str(tmp_path / name)])
    assert (result.exit_code, "There is no such folder of catalogue kinds." in result.stderr) == (2, True)


def _ran(*words: str, stdout: int = subprocess.PIPE) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "subbase.cli", *words], stdout=stdout, stderr=subprocess.PIPE, text=True, check=False
    )


_ON_A_FULL_DISK = """
import resource, runpy, sys

resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
runpy.run_module("subbase.cli", run_name="__main__", alter_sys=True)
"""
"""No file may grow: every write to one fails, as on a full disk, whoever runs it."""


def _without_room(*words: str, stdout: int) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", _ON_A_FULL_DISK, *words], stdout=stdout, stderr=subprocess.PIPE, text=True, check=False
    )


@pytest.mark.parametrize("words", [("plan", HOUSE), ("plan", HOUSE, "--json"), ("kinds",), ("--help",)])
def test_a_full_disk_behind_the_output_is_said(tmp_path: Path, words: tuple[str, ...]) -> None:
    """What cannot be printed ends in one sentence and exit code 2; Python adds no complaint of its own at its end."""
    with (tmp_path / "output").open("w", encoding="utf-8") as full:
        done = _without_room(*words, stdout=full.fileno())
    assert done.returncode == 2
    assert done.stderr == "The output cannot be written: File too large.\n"


@pytest.mark.parametrize(
    "words",
    [
        ("plan", HOUSE, "--out", "{}"),
        ("data", HOUSE, "--out", "{}"),
        ("labels", HOUSE, "--out", "{}"),
        ("site", str(EXAMPLES / "rooms/02-one-large-room.yaml"), "--out", "{}"),
        ("fleet", "make", "20", "--out", "{}"),
        ("pocket", "--out", "{}"),
    ],
)  # fmt: skip
def test_a_full_disk_keeps_the_papers_of_before(tmp_path: Path, words: tuple[str, ...]) -> None:
    """One sentence, exit code 2; what was in the folder is as it was, and nothing half-written is beside it."""
    out = tmp_path / "out"
    out.mkdir()
    for name in ("packet.pdf", "labels.pdf", "mapping.toml", "plan.json"):
        (out / name).write_text("of the visit before")
    done = _without_room(*(word.format(out) for word in words), stdout=subprocess.PIPE)
    assert done.returncode == 2, done.stderr
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr
    assert {path.name for path in out.rglob("*")} == {"packet.pdf", "labels.pdf", "mapping.toml", "plan.json"}
    assert all(path.read_text() == "of the visit before" for path in out.iterdir())


@pytest.mark.parametrize("words", [("plan", HOUSE), ("kinds", "--json")])
def test_a_reader_that_goes_away_gets_no_complaint(words: tuple[str, ...]) -> None:
    """``subbase ... | head -1``: the reader has what it wanted, and nothing is said."""
    reading, writing = os.pipe()
    os.close(reading)
    done = _ran(*words, stdout=writing)
    os.close(writing)
    assert (done.returncode, done.stderr) == (1, "")


def _interrupted(*words: str, at: str) -> tuple[int, str, str]:
    """Return (exit code, stdout, stderr) of a command that is interrupted as soon as it has said something."""
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "subbase.cli", *words],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as running:  # fmt: skip
        assert running.stderr is not None
        assert running.stdout is not None
        told = running.stderr.readline() if at == "stderr" else running.stdout.readline()
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
    return running.returncode, out, err if at == "stdout" else told + err


@pytest.mark.parametrize(
    ("words", "at"),
    [
        (("checks", str(EXAMPLES / "12-heat-pump-with-strips.yaml"), "--doubles"), "stderr"),
        (("diagnose", str(EXAMPLES / "12-heat-pump-with-strips.yaml")), "stderr"),
        (("trace", "8"), "stdout"),
    ],
)
def test_ctrl_c_says_one_line_and_exits_130(words: tuple[str, ...], at: str) -> None:
    """In the middle of a long search, or at a question: one line, exit code 130 as shells have it, no traceback."""
    code, _out, err = _interrupted(*words, at=at)
    assert code == INTERRUPTED == 130
    assert err.strip().splitlines()[-1] == "Stopped by Ctrl-C."
    assert "Traceback" not in err


def test_ctrl_c_in_a_run_over_many_homes_says_one_line(tmp_path: Path) -> None:
    """A terminal sends it to every process of the run: its workers say nothing, and what is done is kept for the next start."""
    from subbase.fleet.synthetic import write_fleet

    source, mapping = write_fleet(tmp_path, 1500, seed=3, mix="district", dirt=0.02, ending="csv")
    words = (
        "fleet",
        "screen",
        str(source),
        "--mapping",
        str(mapping),
        "--out",
        str(tmp_path / "out"),
        "--workers",
        "2",
    )
    with subprocess.Popen(
        [sys.executable, "-m", "subbase.cli", *words, "--rows", "300"],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True,
    ) as running:  # fmt: skip
        assert running.stderr is not None
        said = b""
        while b"choosing" not in said:
            heard = os.read(running.stderr.fileno(), 4096)
            assert heard, said
            said += heard
        os.killpg(running.pid, signal.SIGINT)
        _out, rest = running.communicate(timeout=120)
    assert running.returncode == INTERRUPTED
    assert rest.decode().strip().splitlines()[-1] == "Stopped by Ctrl-C."
    assert b"Traceback" not in rest
    assert list((tmp_path / "out" / "pieces").rglob("*.sha256"))
