"""A real PostgreSQL server for tests: its own folder, its own socket, gone when the tests end."""

from __future__ import annotations

import os
import pwd
import select
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

import psycopg

USER = "subbase"
START_S = 60
_NUMBER = count(1)


class Server:
    """A running server, reached through a socket in its folder; no port is opened."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def url(self, database: str) -> str:
        """Return the URL of one of its databases."""
        return f"postgresql://{USER}@/{database}?host={self.folder}"

    def new_database(self) -> str:
        """Make an empty database and return its URL."""
        name = f"test_{next(_NUMBER)}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}".encode())
        return self.url(name)


@contextmanager
def postgres_server() -> Iterator[Server]:
    """Start a server on an empty folder, and stop it in the end."""
    folder = Path(tempfile.mkdtemp(prefix="subbase-pg-"))
    as_user = _not_root(folder)
    data = folder / "data"
    try:
        subprocess.run(
            [_program("initdb"), "-D", data, "-U", USER, "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"],
            check=True, capture_output=True, cwd=folder, **as_user,
        )  # fmt: skip
        settings = {"listen_addresses": "", "unix_socket_directories": str(folder), "fsync": "off"}
        options = " ".join(f"-c {name}='{value}'" for name, value in settings.items())
        pg_ctl = [_program("pg_ctl"), "-D", str(data), "-w", "-t", str(START_S), "-l", str(folder / "log")]
        subprocess.run([*pg_ctl, "-o", options, "start"], check=True, capture_output=True, cwd=folder, **as_user)
        yield Server(folder)
    finally:
        _stop(data / "postmaster.pid")
        shutil.rmtree(folder, ignore_errors=True)


def _stop(pid_file: Path) -> None:
    """Stop the one server whose number is in its own folder, at once: its data are thrown away anyway."""
    if not pid_file.exists():
        return
    pid = int(pid_file.read_text().split()[0])
    watch = os.pidfd_open(pid)
    os.kill(pid, signal.SIGQUIT)
    select.select([watch], [], [], START_S)
    os.close(watch)


def _not_root(folder: Path) -> dict[str, Any]:
    """PostgreSQL refuses to run as root: give the folder to somebody who is not."""
    if os.getuid() != 0:
        return {}
    names = {entry.pw_name for entry in pwd.getpwall()}
    user = pwd.getpwnam("postgres" if "postgres" in names else "nobody")
    os.chown(folder, user.pw_uid, user.pw_gid)
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


def _program(name: str) -> str:
    """Return where Debian's PostgreSQL keeps a program, the newest version first; or wherever the path has it."""
    kept = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: -int(path.parts[-3]))
    found = str(kept[0]) if kept else shutil.which(name)
    if found is None:
        raise FileNotFoundError(f"{name} is missing: install postgresql (tools/system-packages.sh does)")
    return found
