"""The built wheel, installed by itself: it has all it needs, works without the source tree, and leaves nothing when it goes."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

from tests.houses import EXAMPLES

ROOT = Path(__file__).parents[2]
KINDS_OF_FILES = ("*.toml", "*.typ", "*.html", "*.css", "*.js", "*.sql", "*.mo", "*.svg", "*.png", "*.csv")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from a copy of what the repository holds."""
    source = tmp_path_factory.mktemp("source")
    for name in ("pyproject.toml", "README.md"):
        (source / name).write_bytes((ROOT / name).read_bytes())
    for path in (ROOT / "src").rglob("*"):
        if path.is_file() and "__pycache__" not in path.parts and ".egg-info" not in str(path):
            (source / path.relative_to(ROOT)).parent.mkdir(parents=True, exist_ok=True)
            (source / path.relative_to(ROOT)).write_bytes(path.read_bytes())
    out = tmp_path_factory.mktemp("wheel")
    run("-m", "pip", "wheel", "-q", "--no-deps", "--no-index", "--no-build-isolation", "-w", str(out), str(source))
    (found,) = out.glob("subbase-*.whl")
    return found


def run(*words: str, python: Path | str = sys.executable, cwd: Path | None = None) -> str:
    """Run Python and return what it printed; a failure shows everything."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "PIP_"))}
    done = subprocess.run(
        [str(python), *words], capture_output=True, text=True, check=False, cwd=cwd, env=environment
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def python(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new environment with the wheel in it; what it depends on is lent by this one, the package itself is not."""
    home = tmp_path_factory.mktemp("clean")
    run("-m", "venv", "--without-pip", str(home))
    made = home / "bin" / "python"
    (site,) = home.glob("lib/python*/site-packages")
    lent = home / "lent"
    lent.mkdir()
    for path in Path(sysconfig.get_path("purelib")).iterdir():
        if not path.name.lower().startswith(("subbase", "__editable__")):
            (lent / path.name).symlink_to(path)
    (site / "lent.pth").write_text(f"{lent}\n")
    run("-m", "pip", "--python", str(made), "install", "-q", "--no-deps", "--no-index", str(wheel))
    return made


def test_the_wheel_holds_every_file_that_the_program_reads(wheel: Path) -> None:
    """Templates, styles, scripts, kinds, migrations, catalogues and typesetting are in it, and no tests."""
    held = set(zipfile.ZipFile(wheel).namelist())
    wanted = {
        path.relative_to(ROOT / "src").as_posix() for kind in KINDS_OF_FILES for path in (ROOT / "src").rglob(kind)
    }
    assert wanted - held == set()
    assert [name for name in held if name.startswith(("tests/", "tools/", "bench/", "fuzz/"))] == []


def test_it_plans_and_writes_papers_away_from_the_source(python: Path, tmp_path: Path) -> None:
    """The command is there; a house is planned, with its papers, in both languages."""
    house = tmp_path / "house.yaml"
    house.write_bytes((EXAMPLES / "01-no-common-spare-blue.yaml").read_bytes())
    where = run("-c", "import subbase; print(subbase.__file__)", python=python, cwd=tmp_path)
    assert str(ROOT) not in where
    command = str(python.parent / "subbase")
    said = run(command, "plan", str(house), "--out", "out", python=python, cwd=tmp_path)
    assert "PLAN FOR HALL" in said
    assert (tmp_path / "out" / "packet.pdf").read_bytes().startswith(b"%PDF")
    assert "PLAN PARA HALL" in run(command, "--language", "es", "plan", str(house), python=python, cwd=tmp_path)


def test_the_app_answers_from_the_wheel(python: Path, tmp_path: Path) -> None:
    """A page, its style and its script come from the package."""
    script = """
import re, sys
from fastapi.testclient import TestClient
from subbase.web.app import create_app
from subbase.web.settings import Settings
with TestClient(create_app(Settings(journal=sys.argv[1])), base_url="http://127.0.0.1:8024") as client:
    page = client.get("/")
    assert page.status_code == 200
    for path in re.findall(r'(?:href|src)="(/static/[^"]+)"', page.text):
        assert client.get(path).status_code == 200, path
print("answers")
"""
    assert run("-c", script, str(tmp_path / "jobs.db"), python=python, cwd=tmp_path) == "answers\n"


def test_taking_it_out_leaves_nothing(wheel: Path, tmp_path: Path) -> None:
    """After an uninstall no file of it is left, caches of compiled code included."""
    run("-m", "venv", "--without-pip", str(tmp_path / "env"))
    made = tmp_path / "env" / "bin" / "python"
    before = {path for path in (tmp_path / "env").rglob("*") if "__pycache__" not in path.parts}
    run("-m", "pip", "--python", str(made), "install", "-q", "--no-deps", "--no-index", str(wheel))
    run("-c", "import subbase", python=made)
    run("-m", "pip", "--python", str(made), "uninstall", "-q", "-y", "subbase")
    assert {path for path in (tmp_path / "env").rglob("*") if "__pycache__" not in path.parts} == before
    assert not list((tmp_path / "env").rglob("subbase*"))
