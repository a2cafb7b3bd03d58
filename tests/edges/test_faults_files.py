"""Files that are written while something goes wrong: whole or not at all, through links, beside devices, and after a kill."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from subbase.cli import main
from subbase.errors import InputError
from subbase.files import read_at_most, write_whole
from tests.fleet_lists import MAPPING, csv_text
from tests.houses import EXAMPLES

HOUSE = str(EXAMPLES / "07-heat-only-pair.yaml")


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    """The file that it leads to is written; whoever keeps a survey elsewhere finds it there."""
    real, link = tmp_path / "real.yaml", tmp_path / "link.yaml"
    real.write_bytes(b"old")
    link.symlink_to(real)
    assert write_whole(link, b"new") == link
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


def test_a_file_keeps_its_permissions(tmp_path: Path) -> None:
    """What only its owner may read stays so."""
    file = tmp_path / "secret.yaml"
    file.write_bytes(b"old")
    file.chmod(0o600)
    write_whole(file, b"new")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_a_device_is_written_to_and_never_replaced(tmp_path: Path) -> None:
    """As root, a rename would put a file in the place of /dev/null; a command given one must not."""
    before = os.stat(os.devnull)
    write_whole(Path(os.devnull), b"gone")
    (tmp_path / "link").symlink_to(os.devnull)
    write_whole(tmp_path / "link", b"gone")
    CliRunner().invoke(main, ["trace", "3", "--keep", os.devnull], input="q\n")
    after = os.stat(os.devnull)
    assert stat.S_ISCHR(after.st_mode)
    assert (after.st_rdev, after.st_ino) == (before.st_rdev, before.st_ino)


def test_a_pipe_is_written_to(tmp_path: Path) -> None:
    """``--keep >(...)`` and a FIFO take the bytes, whole."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen([sys.executable, "-c", "import sys; sys.stdout.write(open(sys.argv[1]).read())", pipe], stdout=subprocess.PIPE) as reader:  # fmt: skip
        write_whole(pipe, b"all of it")
        said, _err = reader.communicate(timeout=60)
    assert said == b"all of it"
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_links_in_a_circle_are_refused(tmp_path: Path) -> None:
    """To read or to write through them: an error of the system, in words, and both links stay."""
    one, two = tmp_path / "one", tmp_path / "two"
    one.symlink_to(two)
    two.symlink_to(one)
    with pytest.raises(OSError, match="links"):
        write_whole(one, b"x")
    with pytest.raises(InputError, match="cannot be read"):
        read_at_most(one, 10)
    assert sorted(os.listdir(tmp_path)) == ["one", "two"]


def test_a_folder_is_not_written_over(tmp_path: Path) -> None:
    """Nothing is left beside it."""
    (tmp_path / "folder").mkdir()
    with pytest.raises(IsADirectoryError):
        write_whole(tmp_path / "folder", b"x")
    assert os.listdir(tmp_path) == ["folder"]


_SLOW_DISK = """
import sys
from pathlib import Path

from subbase.cli import main

written, names = Path.write_bytes, []

def slow(self, data):
    made = written(self, data)
    names.append(self.name)
    if len(names) == 2:
        print("two are written", flush=True)
        sys.stdin.read()
    return made

Path.write_bytes = slow
main(["plan", sys.argv[1], "--out", sys.argv[2]])
"""
"""A disk that never ends writing the second paper."""


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL, signal.SIGINT])
def test_papers_that_are_cut_off_leave_those_of_before(tmp_path: Path, how: signal.Signals) -> None:
    """On a slow disk, ended after its second paper: every paper in the folder is the old one, byte for byte.

    Then the same command, let through, puts the new ones there and clears away what the killed one had begun.
    """
    out = tmp_path / "out"
    assert CliRunner().invoke(main, ["plan", HOUSE, "--out", str(out), "--date", "2026-01-05"]).exit_code == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    other = str(EXAMPLES / "01-no-common-spare-blue.yaml")
    with subprocess.Popen(
        [sys.executable, "-c", _SLOW_DISK, other, str(out)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    ) as running:  # fmt: skip
        assert running.stdout is not None
        assert "two are written\n" in running.stdout
        running.send_signal(how)
        running.wait(timeout=60)
    assert running.returncode == (130 if how == signal.SIGINT else -how)
    assert {path.name: path.read_bytes() for path in out.iterdir() if path.is_file()} == before
    if how != signal.SIGKILL:
        assert not [path for path in out.iterdir() if path.is_dir()]
    _age(out)
    assert CliRunner().invoke(main, ["plan", other, "--out", str(out), "--date", "2026-01-05"]).exit_code == 0
    assert not [path for path in out.iterdir() if path.is_dir()]
    assert (out / "packet.pdf").read_bytes() != before["packet.pdf"]


def _age(out: Path) -> None:
    """Make what a killed run left as old as it is when somebody runs the command again the next day."""
    yesterday = time.time() - 86_400
    for path in out.iterdir():
        if path.is_dir():
            os.utime(path, (yesterday, yesterday))


def test_a_list_that_cannot_be_read_is_begun_anew_without_being_asked(tmp_path: Path) -> None:
    """A broken list leaves nothing in the folder; mended, the same command goes through."""
    mapping, source, out = tmp_path / "mapping.toml", tmp_path / "flats.csv", tmp_path / "out"
    mapping.write_text(MAPPING)
    source.write_text("Flat,Stair\nF1,1\n")
    words = ["fleet", "screen", str(source), "--mapping", str(mapping), "--out", str(out), "--look"]
    assert CliRunner().invoke(main, words).exit_code == 2
    assert not list(out.rglob("*"))
    source.write_text(csv_text(20), newline="")
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output


@pytest.mark.parametrize(("ending", "said"), [(".parquet", "no readable Parquet file"), (".xlsx", "no readable spreadsheet")])  # fmt: skip
@pytest.mark.parametrize("at", [0.2, 0.5, 0.8])
def test_a_list_that_is_broken_inside_is_refused_or_read(tmp_path: Path, ending: str, said: str, at: float) -> None:
    """Noise in the midst of a file whose end is whole: one sentence with its name, or the homes; never a traceback."""
    from fuzz.books import book, parquet_list

    data = bytearray(parquet_list() if ending == ".parquet" else book())
    begin = int(len(data) * at)
    data[begin : begin + 40] = bytes(range(200, 240))
    source = tmp_path / f"flats{ending}"
    source.write_bytes(data)
    mapping = EXAMPLES / "fleet" / "mapping.toml"
    words = ["fleet", "screen", str(source), "--mapping", str(mapping), "--out", str(tmp_path / "out"), "--look"]
    result = CliRunner().invoke(main, words)
    assert isinstance(result.exception, SystemExit | None)
    if result.exit_code:
        assert result.exit_code == 2
        assert said in result.stderr or "There is no column" in result.stderr
        assert source.name in result.stderr


def test_a_worker_that_dies_on_this_machine_is_said() -> None:
    """The run ends with a sentence; the pieces that are done stay, and started again it goes on from there."""
    from subbase.fleet.pools import pool_of

    with pool_of(workers=2, scheduler=None) as pool, pytest.raises(InputError, match="A worker process died"):
        list(pool.done(os._exit, iter([("piece", (9,))])))
