"""No outgoing calls: whatever is asked of the program, nothing is looked up and nothing is called beyond this machine."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.houses import EXAMPLES

HOOK = """
import sys
def watch(event, given):
    if event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.sendto", "urllib.Request", "ftplib.connect"):
        raise SystemExit(f"OUTGOING: {event} {given}")
    if event == "socket.connect" and isinstance(given[1], tuple) and given[1][0] not in ("127.0.0.1", "::1"):
        raise SystemExit(f"OUTGOING: {event} {given[1]}")
sys.addaudithook(watch)
"""
COMMANDS = """
from subbase.cli.main import main
main()
"""
HOUSE = str(EXAMPLES / "12-heat-pump-with-strips.yaml")
WORDS = (
    ("plan", HOUSE, "--out", "OUT"),
    ("tune", HOUSE, "--know", "area=1900", "--out", "OUT"),
    ("site", str(EXAMPLES / "rooms" / "01-hall-between-two-rooms.yaml"), "--out", "OUT"),
    ("diagnose", str(EXAMPLES / "01-no-common-spare-blue.yaml"), "--evidence", str(EXAMPLES / "evidence" / "01-no-heat.yaml")),
    ("fleet", "screen", str(EXAMPLES / "fleet" / "flats.csv"), "--mapping", str(EXAMPLES / "fleet" / "mapping.toml"), "--out", "OUT"),
)  # fmt: skip
A_JOB = """
from pathlib import Path
from tests.web_jobs import visiting
with visiting(Path(sys.argv[1])) as visitor:
    for page in ("survey", "plan", "plan/live", "work", "check", "tune", "hand-over", "history", "papers/packet.pdf", "field-file"):
        assert visitor.get(page).status_code == 200, page
    while visitor.do_what_is_shown():
        pass
    visitor.post("hand-over", {"to": "http://203.0.113.9/", "note": "file:///etc/passwd"})
    survey = (visitor.get("survey/survey.yaml").text).replace("name: ", "name: http://203.0.113.9/ ", 1)
    visitor.post("survey/text", {"text": survey})
    assert visitor.get("plan").status_code == 200
print("whole job")
"""


def watched(script: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a script in a process of its own that ends at the first call to another machine."""
    return subprocess.run(
        [sys.executable, "-c", HOOK + script, *words],
        capture_output=True, text=True, check=False, cwd=EXAMPLES.parent,
    )  # fmt: skip


@pytest.mark.parametrize("words", WORDS, ids=lambda words: words[0])
def test_commands_call_nobody(words: tuple[str, ...], tmp_path: Path) -> None:
    """Planning, tuning, siting, searching a fault and a whole list of homes stay on this machine."""
    done = watched(COMMANDS, *(str(tmp_path) if word == "OUT" else word for word in words))
    assert "OUTGOING" not in done.stderr + done.stdout
    assert done.returncode in (0, 4), done.stderr


def test_a_whole_job_in_the_app_calls_nobody(tmp_path: Path) -> None:
    """Nor does the app, from the survey to handing over, though addresses are written into its fields."""
    done = watched(A_JOB, str(tmp_path))
    assert "OUTGOING" not in done.stderr + done.stdout
    assert done.stdout.endswith("whole job\n"), done.stderr


def test_a_call_would_be_seen() -> None:
    """The watch does end a process that calls."""
    done = watched("import socket; socket.create_connection(('203.0.113.9', 9), timeout=0.1)")
    assert "OUTGOING" in done.stderr
