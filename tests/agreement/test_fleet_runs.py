"""A run gives the same bytes whoever does it, goes on where it was stopped, and its counts add up."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import pytest

from subbase.errors import InputError
from subbase.fleet.run import Order, Progress, run
from tests.fleet_lists import MAPPING, mapping, results, run_list, write_list

ROWS = 200


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a list of homes."""
    return write_list(tmp_path_factory.mktemp("list"), ROWS)


@pytest.fixture(scope="module")
def out(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the results of one process."""
    folder = tmp_path_factory.mktemp("one")
    run_list(source, folder)
    return folder


def test_two_processes_give_the_same_bytes_as_one(source: Path, out: Path, tmp_path: Path) -> None:
    """Every file of results is the same, byte for byte, report and all."""
    run_list(source, tmp_path / "two", workers=2)
    assert results(tmp_path / "two") == results(out)


class Stopped(Exception):
    """Stands for a power cut."""


@pytest.mark.parametrize("step", ["read", "screen", "choose", "decide", "finish"])
def test_a_run_that_was_stopped_goes_on_and_ends_the_same(source: Path, out: Path, tmp_path: Path, step: str) -> None:
    """Whichever step it is stopped in, what was done is kept, and the results are those of a run in one go."""

    def stop(progress: Progress) -> None:
        if progress.step == step and progress.done > 0:
            raise Stopped

    with pytest.raises(Stopped):
        run_list(source, tmp_path / "out", stop)
    told: list[Progress] = []
    run_list(source, tmp_path / "out", told.append)
    if step in ("choose", "decide", "finish"):
        assert any(item.step == "screen" and item.kept == ROWS for item in told)
    assert results(tmp_path / "out") == results(out)


def test_a_run_that_was_killed_leaves_nothing_behind_and_goes_on(source: Path, out: Path, tmp_path: Path) -> None:
    """After kill -9 in the midst of planning every worker ends; started again, the results are those of a run in one go."""
    (tmp_path / "mapping.toml").write_text(MAPPING, "utf-8")
    words = ["fleet", "screen", source, "--mapping", tmp_path / "mapping.toml", "--out", tmp_path / "out"]
    command = [sys.executable, "-m", "subbase.cli", *map(str, words), "--rows", "40", "--workers", "2"]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as killed:
        assert killed.stderr is not None
        told = b""
        while b"choosing" not in told:
            heard = os.read(killed.stderr.fileno(), 4096)
            assert heard, told
            told += heard
        killed.kill()
        # The workers hold the same pipe: it ends when the last of them has.
        killed.communicate(timeout=60)
    assert not (tmp_path / "out" / "homes.parquet").exists(), "it was not killed in time, so nothing was tested"
    again: list[Progress] = []
    run_list(source, tmp_path / "out", again.append)
    assert any(item.step == "screen" and item.kept == ROWS for item in again)
    assert results(tmp_path / "out") == results(out)


def test_a_damaged_piece_is_done_again(source: Path, out: Path, tmp_path: Path) -> None:
    """A piece whose bytes rotted is not believed."""
    run_list(source, tmp_path / "out")
    piece = tmp_path / "out" / "pieces" / "screened" / "00001"
    piece.write_bytes(piece.read_bytes()[:-3] + b"rot")
    run_list(source, tmp_path / "out")
    assert results(tmp_path / "out") == results(out)


def test_a_folder_with_a_run_of_another_list_is_left_alone(source: Path, out: Path, tmp_path: Path) -> None:
    """A changed list is never mixed with pieces of the one before; the message says what changed."""
    changed = tmp_path / "flats.csv"
    changed.write_bytes(source.read_bytes() + b"F9999,stair 1,day 1,24,none,pair,R W,0,30,18,no,1950,\r\n")
    with pytest.raises(InputError, match="another source"):
        run_list(changed, out)


def test_sums_are_those_that_sql_finds(out: Path) -> None:
    """DuckDB counts verdicts, parts, minutes and the worth of questions from the tables and finds what the lists say."""
    db = duckdb.connect()
    homes, reasons = (f"read_parquet('{out / name}')" for name in ("homes.parquet", "reasons.parquet"))
    summary = json.loads((out / "summary.json").read_text("utf-8"))
    verdicts = dict(db.sql(f"SELECT verdict, count(*) FROM {homes} GROUP BY 1").fetchall())
    assert verdicts == {name: count for name, count in summary["verdicts"].items() if count}
    assert sum(verdicts.values()) == summary["rows"] == ROWS
    parts = db.sql(
        f"SELECT day, area, what, sum(expected), sum(most) FROM {homes} JOIN '{out / 'outcome-parts.parquet'}' USING (outcome) "
        "GROUP BY ALL ORDER BY ALL"
    ).fetchall()
    told = db.sql(f"SELECT * FROM read_csv('{out / 'parts.csv'}', header=true) ORDER BY ALL").fetchall()
    assert [row[:3] for row in parts] == [row[:3] for row in told]
    for mine, theirs in zip(parts, told, strict=True):
        assert mine[3:] == pytest.approx(theirs[3:], abs=6e-4)
    minutes = db.sql(
        f"SELECT sum(minutes_least + 20), sum(minutes_mean + 20), sum(minutes_most + 20) FROM {homes} WHERE minutes_mean IS NOT NULL"
    ).fetchall()[0]
    assert minutes == pytest.approx(tuple(summary["minutes"].values()), abs=1e-6)
    worth = db.sql(
        f"SELECT field, text, count(DISTINCT line), round(sum(bits), 3) FROM {reasons} WHERE kind = 'question' GROUP BY 1, 2 ORDER BY 1, 2"
    ).fetchall()
    listed = db.sql(
        f"SELECT field, question, homes, coalesce(bits, 0) FROM read_csv('{out / 'questions.csv'}', header=true) ORDER BY 1, 2"
    ).fetchall()
    assert [row[:3] for row in worth] == [row[:3] for row in listed]
    assert [row[3] for row in worth] == pytest.approx([row[3] for row in listed], abs=2e-3)
    refused = db.sql(
        f"SELECT count(DISTINCT line) FROM read_csv('{out / 'refused.csv'}', header=true, all_varchar=true)"
    ).fetchall()[0]
    assert refused == (verdicts["refused"],)


def _quiet(folder: Path, *words: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "dask", *words]
    return subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


@contextmanager
def cluster(folder: Path, *, workers: int) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Yield a real scheduler's address and its worker processes, each a program of its own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    started = [_quiet(folder, "scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard")]
    try:
        for _ in range(workers):
            own = ("--nthreads", "1", "--no-nanny", "--no-dashboard", "--memory-limit", "0")
            started.append(_quiet(folder, "worker", address, *own))
        yield address, started[1:]
    finally:
        for process in reversed(started):
            process.terminate()
        for process in started:
            try:
                process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def wait_for_workers(address: str, count: int) -> None:
    """Return when the scheduler has so many workers."""
    import distributed

    begun_s = time.monotonic()
    while True:
        try:
            with distributed.Client(address, timeout=60, set_as_default=False) as client:  # type: ignore[no-untyped-call]
                client.wait_for_workers(count, timeout=120)
                return
        except OSError:
            if time.monotonic() - begun_s > 120:
                raise


@pytest.mark.filterwarnings("ignore")  # the cluster's own complaints about a worker that is gone
def test_a_cluster_loses_a_worker_and_nothing_else(source: Path, out: Path, tmp_path: Path) -> None:
    """With a real scheduler and two workers, one killed in mid-run, results are those of one process, byte for byte."""
    with cluster(tmp_path, workers=2) as (address, workers):
        wait_for_workers(address, 2)
        killed: list[str] = []

        def kill(progress: Progress) -> None:
            if not killed and progress.step == "choose" and progress.done > 0:
                os.kill(workers[0].pid, signal.SIGKILL)
                killed.append(progress.step)

        done = run_list(source, tmp_path / "out", kill, scheduler=address)
        assert killed, "nobody was killed, so nothing was tested"
        assert workers[1].poll() is None
        assert done.rows == done.totals.verdicts.all == ROWS
    assert results(tmp_path / "out") == results(out)


def test_a_scheduler_that_does_not_answer_is_said(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wrong address is one sentence, not a traceback."""
    monkeypatch.setattr("subbase.fleet.pools.CONNECT_S", 0.3)
    with pytest.raises(InputError, match="No scheduler answers"):
        run(Order(source, tmp_path / "out", mapping(), scheduler="tcp://127.0.0.1:9"))
