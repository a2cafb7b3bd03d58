"""The pocket's folder, written: page, scripts and look, the browser's Python, and this program's own floors that run there.

The folder has a version, a hash over all that is in it. The service worker's text holds the version and every file's
checksum, so a browser that sees one byte of it changed fetches the whole of the next version beside the one in use.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import re
import tarfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata, resources
from pathlib import Path, PurePosixPath
from typing import Any

from subbase import __version__
from subbase.errors import Fault, InputError
from subbase.files import write_whole
from subbase.web.pocket.fetch import Runtime, pins
from subbase.web.pocket.page_words import all_words
from subbase.words import LANGUAGES, _

FLOORS = ("catalog", "survey", "circuit", "wiring", "plan", "work", "papers", "journal", "locale")
"""Folders of this package that the browser's Python is given, with the modules at its root; none needs numpy to be loaded."""
WEB = (
    "__init__", "check_words", "display", "record", "record_check", "record_work", "sheet", "standing", "survey_document",
    "survey_text", "work_words",
    "pocket/__init__", "pocket/acts", "pocket/answering", "pocket/bench", "pocket/engine", "pocket/shown",
)  # fmt: skip
"""Of the app, what knows nothing of a server."""
LIBRARIES = ("pydantic", "pydantic-core", "annotated-types", "typing-extensions", "typing-inspection", "PyYAML")
"""Everything else that Python needs there, taken as installed here; of the core its pure part comes with its own wheel."""
NOT_NEEDED = re.compile(
    r"(^|/)(__pycache__|deprecated)/|^pydantic/(v1|mypy)|\.(pyi|so|pyc|pyd)$|\.dist-info/|^_yaml/|^\.\."
)
PYTHON_FILES = ("pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", "python_stdlib.zip")
STATIC = ("index.html", "pocket.css", "pocket.js", "parts.js", "store.js", "draw.js", "worker.js", "pocket.webmanifest")
EPOCH = (1980, 1, 1, 0, 0, 0)
"""Of every file in an archive: the same parts give the same bytes."""


@dataclass(frozen=True, slots=True)
class Pocket:
    """A folder that was written."""

    folder: Path
    version: str
    files: dict[str, int]
    """Name -> bytes that a phone downloads for it."""

    @property
    def download_bytes(self) -> int:
        """Return what the first visit downloads."""
        return sum(self.files.values())


def build(runtime: Runtime, out: Path) -> Pocket:
    """Write the folder.

    The service worker's file is written last: a host that is filled from this folder shows no half of a version.

    Raises
    ------
    InputError
        When what is installed here does not fit the fetched runtime.
    OSError
        When the folder cannot be written.
    """
    files = _with_size(dict(_files(runtime)))
    version = _digest(files)
    listed = {
        name: {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)} for name, data in sorted(files.items())
    }
    sizes = {name: len(data) for name, data in files.items()}
    said = json.dumps({"version": version, "program": __version__, "files": listed}, indent=1)
    keeper = f"const POCKET = {said};\n" + _static("sw.js").decode()
    out.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        write_whole(out / name, data)
    write_whole(out / "sw.js", keeper.encode())
    return Pocket(out, version, sizes)


def _with_size(files: dict[str, bytes]) -> dict[str, bytes]:
    """Return the files with a sentence that says how much a first visit fetches."""
    size = f"{sum(map(len, files.values())) / 1e6:.1f}"
    said: dict[str, dict[str, str]] = json.loads(files["words.json"])
    for words in said.values():
        words["fetch_size"] = words["fetch_size"].format(all=size)
    return files | {"words.json": json.dumps(said, ensure_ascii=False, sort_keys=True).encode()}


def _digest(files: dict[str, bytes]) -> str:
    digest = hashlib.sha256(_static("sw.js"))
    for name, data in sorted(files.items()):
        digest.update(f"{name} {len(data)}\n".encode())
        digest.update(data)
    return digest.hexdigest()[:16]


def _files(runtime: Runtime) -> Iterator[tuple[str, bytes]]:
    parts = _python(runtime.python)
    # Squeezed here, since not every host does it on the way: two thirds of the whole are this one file.
    yield "pyodide.asm.wasm.gz", gzip.compress(parts.pop("pyodide.asm.wasm"), 9, mtime=0)
    yield from parts.items()
    yield "bench.zip", _bench_zip(runtime.core)
    words = {code: all_words(code) for code in LANGUAGES}
    yield "words.json", json.dumps(words, ensure_ascii=False, sort_keys=True).encode()
    yield from ((name, _static(name)) for name in STATIC)
    yield from _looks()
    yield "licences.txt", _licences(runtime)


def _python(package: Path) -> dict[str, bytes]:
    found = {}
    with tarfile.open(package) as packed:
        for name in PYTHON_FILES:
            file = packed.extractfile(f"package/{name}")
            assert file is not None
            found[name] = file.read()
    return found


def _static(name: str) -> bytes:
    return resources.files("subbase.web.pocket").joinpath("static", name).read_bytes()


def _looks() -> Iterator[tuple[str, bytes]]:
    """Yield the look of the app's own pages, and its letters."""
    from fontpkg_atkinson_hyperlegible import ROOT

    app = resources.files("subbase.web").joinpath("static")
    for name in ("page.css", "work.css", "icon.svg", "icon-192.png", "icon-512.png"):
        yield name, app.joinpath(name).read_bytes()
    for face in ("Regular", "Bold"):
        name = f"AtkinsonHyperlegible-{face}.ttf"
        yield name, next(ROOT.joinpath("files").rglob(name)).read_bytes()


# Python's own part.


def _bench_zip(core: Path) -> bytes:
    """Return this program's floors and the libraries that they need as one archive, the same bytes for the same parts."""
    found = dict(_own())
    for library in LIBRARIES:
        if library != "pydantic-core":
            found.update(_installed(library))
    with zipfile.ZipFile(core) as wheel:
        for name in wheel.namelist():
            if not NOT_NEEDED.search(name) or name.endswith(".so"):
                found[name] = wheel.read(name)
    _fits_together()
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name in sorted(found):
            archive.writestr(zipfile.ZipInfo(name, EPOCH), found[name], zipfile.ZIP_DEFLATED, 9)
    return held.getvalue()


def _own() -> Iterator[tuple[str, bytes]]:
    root = Path(str(resources.files("subbase")))
    wanted = [*root.glob("*.py"), *(root / "web" / f"{name}.py" for name in WEB)]
    wanted += [file for floor in FLOORS if (root / floor).is_dir() for file in (root / floor).rglob("*")]
    for file in wanted:
        name = file.relative_to(root.parent).as_posix()
        if file.suffix in (".py", ".toml", ".mo") and "/migrations/" not in name:
            yield name, file.read_bytes()


def _installed(library: str) -> Iterator[tuple[str, bytes]]:
    for item in metadata.files(library) or ():
        name = PurePosixPath(item).as_posix()
        if not NOT_NEEDED.search(name):
            yield name, Path(str(item.locate())).read_bytes()


def _fits_together() -> None:
    """See that the pydantic installed here is the one that the fetched core belongs to.

    Raises
    ------
    InputError
    """
    wanted, here = pins()["core"]["version"], metadata.version("pydantic-core")
    if wanted != here:
        message = _(
            "pydantic-core {here} is installed, and the browser's is {wanted}: install what requirements/run.txt locks."
        )
        raise InputError((Fault(message.format(here=here, wanted=wanted)),))


def _licences(runtime: Runtime) -> bytes:
    """Return whose work is in the folder, and under which licence, with the texts that are to go with it."""
    lines = ["What is in this folder, and under which licence. Each part is unchanged from its package.", ""]
    lines += [f"{pin['name']} {pin['version']} (from {pin['registry']}): {pin['licence']}" for pin in pins().values()]
    texts: list[str] = []
    for library in (*LIBRARIES, "fontpkg-atkinson-hyperlegible"):
        told: Any = metadata.metadata(library)
        licence = told.get("License-Expression") or told.get("License") or "see its text below"
        lines.append(f"{told['Name']} {metadata.version(library)}: {licence.splitlines()[0]}")
        for item in metadata.files(library) or ():
            if re.search(r"licen[cs]e|copying|ofl", PurePosixPath(item).name, re.I) and item.suffix not in (
                ".py",
                ".pyc",
            ):
                text = Path(str(item.locate())).read_text("utf-8", errors="replace")
                texts += ["", "-" * 72, told["Name"], "", text.strip()]
    with zipfile.ZipFile(runtime.core) as wheel:
        for name in wheel.namelist():
            if "licen" in name.lower():
                texts += ["", "-" * 72, name, "", wheel.read(name).decode(errors="replace").strip()]
    return ("\n".join([*lines, *texts]) + "\n").encode()


__all__ = ["Pocket", "build"]
