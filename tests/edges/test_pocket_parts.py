"""The pocket without a browser: what its Python needs, what it writes, what is fetched, what its folder holds."""

from __future__ import annotations

import gzip
import hashlib
import json
import re
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from subbase.catalog import load_catalog
from subbase.errors import InputError
from subbase.journal import read_entry
from subbase.plan import make_plan
from subbase.survey.read import read_survey
from subbase.web.pocket.answering import answered
from subbase.web.pocket.build import WEB, Pocket
from subbase.web.pocket.engine import call
from subbase.web.pocket.fetch import fetch, pins
from subbase.web.pocket.page_words import KIND_WORDS, all_words
from subbase.web.pocket.pattern import pattern
from tests.houses import EXAMPLES
from tests.pocket_host import ROOT, built
from tests.web_jobs import visiting

STATIC = ROOT / "src/subbase/web/pocket/static"
JOB = "00000000-0000-4000-8000-000000000001"
LIGHT = frozenset(
    {"annotated_types", "pydantic", "pydantic_core", "subbase", "typing_extensions", "typing_inspection", "yaml"}
)
"""What the browser's Python has besides its standard library."""
BESIDE_LIGHT = ("_yaml", "_cython", "cython_runtime", "__editable", "_sysconfigdata")
"""Names that come with them or with this machine's Python: compiled parts of PyYAML, the installed project, build facts."""


class Phone:
    """The pocket's page, without the page: it keeps the entries and sends all of them with every call."""

    def __init__(self) -> None:
        self.entries: list[dict[str, Any]] = []

    def ask(self, what: str, **more: Any) -> dict[str, Any]:
        """Return what Python answers."""
        found: dict[str, Any] = json.loads(call(json.dumps({"ask": what, "job": JOB, "entries": self.entries, **more})))
        return found

    def act(self, what: str, **fields: str) -> list[str]:
        """Keep what comes of an act; return what was said against it."""
        found = self.ask("act", act=what, fields=fields)
        self.entries += found.get("entries", [])
        said: list[str] = found.get("said", [])
        return said


def example(name: str) -> str:
    """Return an example's text."""
    return (EXAMPLES / f"{name}.yaml").read_text("utf-8")


@pytest.fixture
def phone() -> Phone:
    """A phone with one house on it."""
    made = Phone()
    assert made.act("begin", text=example("01-no-common-spare-blue")) == []
    return made


@pytest.fixture(scope="module")
def pocket(tmp_path_factory: pytest.TempPathFactory) -> Pocket:
    """The folder."""
    return built(tmp_path_factory.mktemp("pocket"))


def test_a_whole_job_needs_nothing_that_a_browser_has_not() -> None:
    """Planning, steps, checks, judging and drawing load the standard library, pydantic and PyYAML, and nothing else."""
    script = f"""
import json, sys
before = set(sys.modules)
from subbase.web.pocket.engine import call
entries = []
def ask(**more):
    return json.loads(call(json.dumps({{"job": {JOB!r}, "entries": entries, **more}})))
entries += ask(ask="act", act="begin", fields={{"text": {example("01-no-common-spare-blue")!r}}})["entries"]
assert ask(ask="plan")["plan"]["maps"]["ladder"].startswith("<svg")
found = ask(ask="work")
line = found["checks"]["groups"][0]["lines"][0]["id"]
entries += ask(ask="act", act="reading", fields={{"check": line, "value": "0.2", "mark": found["work"]["mark"]}})["entries"]
assert ask(ask="work")["checks"]["groups"][0]["lines"][0]["verdict"]["mark"] == "fail"
named = {{name.partition(".")[0] for name in set(sys.modules) - before}}
print(json.dumps(sorted(named - set(sys.stdlib_module_names))))
print(json.dumps(sorted(name for name in sys.modules if name.startswith("subbase"))))
"""
    done = subprocess.run([sys.executable, "-I", "-c", script], capture_output=True, text=True, check=True, cwd=ROOT)
    named, own = map(json.loads, done.stdout.splitlines())
    assert {name for name in named if not name.startswith(BESIDE_LIGHT)} <= LIGHT
    shipped = {f"subbase.web.{name.replace('/', '.').removesuffix('.__init__')}" for name in WEB} | {"subbase.web"}
    assert {name for name in own if name.startswith("subbase.web")} <= shipped


def test_the_phone_writes_what_the_apps_pages_write(phone: Phone, tmp_path: Path) -> None:
    """A step and a reading told on the phone are the very bodies that the app keeps of the same step and reading."""
    found = phone.ask("work")
    step, line = found["work"]["open"][0], found["checks"]["groups"][0]["lines"][0]["id"]
    mark = found["work"]["mark"]
    assert phone.act("step", step=step, act="done", mark=mark) == []
    assert phone.act("reading", check=line, value="0.2", mark=mark) == []
    with visiting(tmp_path) as visitor:
        visitor.get("work")
        visitor.post("work/result", {"step": step, "act": "done", "mark": mark})
        visitor.post("check/readings", {f"v-{line}": "0.2", "mark": mark})
        app = [line.event.body for line in visitor.state.history][-2:]
    mine = [read_entry(entry).body for entry in phone.entries[-2:]]
    assert [body.kind for body in app] == ["step_done", "reading_taken"]
    assert mine == app


@pytest.mark.parametrize(
    ("act", "fields", "said"),
    [
        ("reading", {"check": "nothing", "value": "1"}, "The wiring in the survey was changed"),
        ("note", {"text": "  "}, "There is nothing in the note."),
        ("answer", {"field": "cables.wall.length", "index": "0"}, "This question is not open any more"),
        ("fly", {}, "does not know"),
        ("undo", {"target": "nobody"}, "There is nothing to take back."),
        ("day", {"outdoor": "hot"}, "is no reading"),
    ],
)
def test_what_cannot_be_kept_is_refused_in_words(phone: Phone, act: str, fields: dict[str, str], said: str) -> None:
    """A refusal is a sentence, and no entry comes of it."""
    before = len(phone.entries)
    assert said in " ".join(phone.act(act, **fields))
    assert len(phone.entries) == before


def test_a_survey_that_cannot_be_read_names_its_faults() -> None:
    """A text with a fault is kept as typed, its faults are told with their lines, and there is no plan."""
    phone = Phone()
    assert phone.act("begin", text="survey: 1\nname: Broken\nequipment: 3\n") == []
    told = phone.ask("job")
    assert told["name"] == "Broken"
    assert told["faults"]
    assert not told["readable"]
    assert phone.ask("plan")["plan"] is None
    assert phone.ask("work") == {"work": None, "checks": None}


def test_taking_back_an_answer_opens_the_question_again() -> None:
    """Undo is an event: the survey is as before, and nothing is deleted."""
    phone = Phone()
    phone.act("begin", text=example("08-changeover-not-known"))
    asked = phone.ask("plan")["plan"]["questions"][0]
    assert phone.act("answer", field=asked["field"], index="0") == []
    assert phone.ask("plan")["plan"]["verdict"] == "planned"
    assert phone.act("undo", target=phone.entries[-1]["key"]) == []
    assert phone.ask("plan")["plan"]["verdict"] == "question"
    assert len(phone.entries) == 4


@pytest.mark.parametrize("short", ["unknown", "{from: R, to: unknown}", "{from: unknown, to: R}"])
def test_an_answer_lands_wherever_the_survey_left_it_open(short: str) -> None:
    """Every candidate of every open field gives a text that reads as the survey meant, also in the short way of writing."""
    from subbase.plan.unknowns import open_facts

    catalog = load_catalog(())
    text = (
        pattern()
        .replace("red: R", f"red: {short}")
        .replace("length: 40 ft", "length: unknown")
        .replace("gauge: 18", "gauge: unknown")
    )
    survey = read_survey(text.encode(), "survey", catalog)
    facts = open_facts(survey, catalog)
    assert {fact.field.rpartition(".")[2] for fact in facts} >= {"length", "gauge"}
    for fact in facts:
        for index, value in enumerate(fact.candidates):
            filled = answered(text, fact.field, index, catalog)
            assert read_survey(filled.encode(), "survey", catalog) == fact.put(survey, value)


def test_the_pattern_can_be_planned() -> None:
    """What stands in the page to be filled in is a house that is planned as it stands."""
    catalog = load_catalog(())
    assert make_plan(read_survey(pattern().encode(), "survey", catalog), catalog).verdict == "planned"


def test_the_page_has_every_word_that_it_shows_and_no_other() -> None:
    """Each name that the scripts look up is there, and each that is there is looked up."""
    scripts = "".join((STATIC / name).read_text("utf-8") for name in ("pocket.js", "parts.js", "draw.js"))
    used = set(re.findall(r"(?<!\")\bwords\.(\w+)", scripts))
    words = all_words("en")
    grouped = {name for name in words if " " in name}
    by_part = {"survey", "plan", "work", "check", "hand_over"}
    assert used <= words.keys()
    assert words.keys() - grouped - by_part == used - by_part
    assert {f"kind {kind}" for kind in KIND_WORDS} <= grouped


def test_the_same_parts_give_the_same_folder(pocket: Pocket, tmp_path: Path) -> None:
    """Built twice, every file is the same byte for byte, so a phone fetches nothing anew."""
    again = built(tmp_path / "again")
    assert again.version == pocket.version
    for name in (*pocket.files, "sw.js"):
        assert (again.folder / name).read_bytes() == (pocket.folder / name).read_bytes(), name


def test_the_service_worker_knows_every_file_by_its_checksum(pocket: Pocket) -> None:
    """What the service worker fetches is what lies there, and it is all of it."""
    text = (pocket.folder / "sw.js").read_text("utf-8")
    told = json.loads(text[text.index("{") : text.index(";\n")])
    assert told["version"] == pocket.version
    there = {file.name for file in pocket.folder.iterdir()} - {"sw.js"}
    assert told["files"].keys() == there
    for name, said in told["files"].items():
        data = (pocket.folder / name).read_bytes()
        assert said == {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}


def test_the_folder_is_small_and_names_no_host(pocket: Pocket) -> None:
    """The first visit takes at most 11 MB, and nothing of ours in it reaches for another address."""
    assert pocket.download_bytes < 11e6
    for name in pocket.files:
        if name.endswith((".js", ".html", ".css", ".webmanifest")):
            assert not re.search(r"https?://|//[a-z]+\.", (pocket.folder / name).read_text("utf-8")), name
    with zipfile.ZipFile(pocket.folder / "bench.zip") as bench:
        assert not [name for name in bench.namelist() if name.startswith(("numpy", "subbase/web/app"))]
    assert gzip.decompress((pocket.folder / "pyodide.asm.wasm.gz").read_bytes())[:4] == b"\0asm"


def test_licences_go_with_what_is_theirs(pocket: Pocket) -> None:
    """Every part is named with its licence."""
    text = (pocket.folder / "licences.txt").read_text("utf-8")
    for name in ("pyodide", "pydantic", "PyYAML", "typing_extensions", "MPL-2.0", "PSF", "MIT"):
        assert name.lower() in text.lower(), name


def test_what_has_another_checksum_is_not_kept(tmp_path: Path) -> None:
    """A package that was changed on the way is refused and leaves nothing behind."""

    def changed(command: list[str], folder: Path) -> None:
        pin = pins()["python" if command[0] == "npm" else "core"]
        (folder / pin["file"]).write_bytes(b"something else")

    with pytest.raises(InputError, match="does not have the checksum"):
        fetch(tmp_path, run=changed)
    assert list(tmp_path.iterdir()) == []


def test_a_registry_that_gives_nothing_is_said_so(tmp_path: Path) -> None:
    """A command that ends well but brings nothing is no success."""
    with pytest.raises(InputError, match="gave no file"):
        fetch(tmp_path, run=lambda _command, _folder: None)


def test_without_npm_the_command_says_what_is_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is fetched and nothing is written; one sentence says what is needed."""
    from click.testing import CliRunner

    from subbase.cli.pocket_command import pocket as command

    monkeypatch.setattr("shutil.which", lambda _name: None)
    out = tmp_path / "out"
    done = CliRunner().invoke(command, ["--out", str(out), "--kept", str(tmp_path / "kept")])
    assert done.exit_code == 2
    assert "npm is needed to fetch the browser's Python" in done.output
    assert not out.exists()
