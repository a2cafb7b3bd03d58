"""Fuzz readers: ``python -m fuzz [--minutes M] [--work DIR] [TARGET ...]``; with ``--keep``, bring what reached far into ``corpus/``.

Needs atheris, which ``make fuzz`` installs as requirements/fuzz.txt locks it; nothing else does. What breaks a reader is left in ``DIR/TARGET-crash-...``: put it into ``corpus/TARGET/`` under a name that says what it was, and mend the reader.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import zipfile
from io import BytesIO
from pathlib import Path

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
CORPUS = Path(__file__).parent / "corpus"
LONGEST = {"photo": 20_000, "job": 20_000}
LONGEST_OTHERS = 6_000
SLOWEST_S, MOST_MB = 20, 2_048
"""No input may take longer, or make the process larger."""
KEPT_FILES, KEPT_BYTES = 40, 3_000


def main() -> None:
    """Run each target in a process of its own, one after another."""
    asked = argparse.ArgumentParser(prog="python -m fuzz", description=__doc__)
    asked.add_argument("targets", nargs="*", help="readers; all when left out")
    asked.add_argument("--minutes", type=float, default=1.0, help="of each reader")
    asked.add_argument("--work", type=Path, default=Path("/tmp/subbase-fuzz"), help="where inputs are gathered")
    asked.add_argument("--keep", action="store_true", help="only bring few and small inputs into corpus/")
    asked.add_argument("--one", help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.one:
        fuzz_here(given.one, given.minutes, given.work)
        return
    from fuzz.targets import TARGETS

    broken = []
    for name in given.targets or TARGETS:
        if given.keep:
            keep(name, given.work)
            continue
        command = [
            sys.executable,
            "-m",
            "fuzz",
            "--one",
            name,
            "--minutes",
            str(given.minutes),
            "--work",
            str(given.work),
        ]
        if subprocess.run(command, cwd=ROOT, check=False).returncode:
            broken.append(name)
    if broken:
        sys.exit(f"Broken: {', '.join(broken)}; see {given.work}.")


def fuzz_here(name: str, minutes: float, work: Path) -> None:
    """Fuzz one reader in this process; it ends with status 0 when nothing broke it."""
    import atheris

    # Nothing of the package may be loaded before this, or it would be fuzzed blind.
    with atheris.instrument_imports(include=["subbase", "yaml"]):
        from fuzz.targets import TARGETS

        target = TARGETS[name]
        for seed in seeds(name):
            target(seed)
    gathered = work / name
    gathered.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(seeds(name)):
        (gathered / f"seed-{number}").write_bytes(seed)
    words = work / f"{name}.dict"
    words.write_text("".join(f'"{word}"\n' for word in dictionary()))
    atheris.Setup(
        [
            sys.argv[0], str(gathered), f"-max_total_time={int(minutes * 60)}", f"-timeout={SLOWEST_S}",
            f"-rss_limit_mb={MOST_MB}", f"-max_len={LONGEST.get(name, LONGEST_OTHERS)}", f"-dict={words}",
            f"-artifact_prefix={work}/{name}-", "-print_final_stats=1", "-verbosity=1",
        ],
        target,
    )  # fmt: skip
    atheris.Fuzz()


def seeds(name: str) -> list[bytes]:
    """Return inputs to begin with: examples of the reader's own kind, and what is kept."""
    kept = [path.read_bytes() for path in sorted((CORPUS / name).glob("*"))]
    texts = {
        "survey": sorted(EXAMPLES.glob("*.yaml")),
        "rooms": sorted((EXAMPLES / "rooms").glob("*.yaml")),
        "taken": sorted((EXAMPLES / "readings").glob("*")),
        "evidence": sorted((EXAMPLES / "evidence").glob("*")),
        "kind": sorted((ROOT / "src/subbase/catalog/kinds").glob("*.toml"))[:12],
    }.get(name, [])
    found = [path.read_bytes() for path in texts if path.is_file()]
    if name == "form":
        first = (EXAMPLES / "01-no-common-spare-blue.yaml").read_bytes()
        found = [first + b"\x1ef/cables/stat/gauge=20\x1fdo=add-jumper\x1fx/jumper/0=wall.R\x1fx/jumper/1=wall.W"]
    if name == "job":
        packed = BytesIO()
        with zipfile.ZipFile(packed, "w") as made:
            made.writestr("manifest.json", '{"format": 1, "members": []}')
        found = [packed.getvalue()]
    if name == "photo":
        from PIL import Image

        for kind in ("JPEG", "PNG", "WEBP"):
            packed = BytesIO()
            Image.new("RGB", (12, 9), (120, 60, 30)).save(packed, kind)
            found.append(packed.getvalue())
    if name == "weather":
        head = ["LOCATION,Nowhere,IL,USA,invented,725300,41.98,-87.92,-6.0,201.0", "DESIGN CONDITIONS,0"]
        head += ["TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0", "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0"]
        head += ["COMMENTS 1,invented", "COMMENTS 2,", "DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]
        hour = "2025,1,1,1,0,?9,-6.0,-8.0,86,99000,0,0,260,0,0,0,0,0,0,9999,210,3.6,9,9,20.0,77777,9,999999999,90,0.08,0,88"
        found = ["\n".join((*head, hour)).encode(), "\n".join((*head, *[hour] * 12)).encode()]
    if name == "deck":
        found = [b"* a lamp\nV1 a 0 AC 24\nR1 a b 0.5\nR2 b 0 60\n.end\n"]
    if name == "entries":
        found = [b'{"format": 1, "job": "00000000-0000-4000-8000-000000000000", "entries": []}']
    return [*found, *kept]


def dictionary() -> list[str]:
    """Return the words of the files' own fields, which chance would take long to spell."""
    from subbase.catalog import load_catalog
    from subbase.survey.schema import survey_schema

    words: set[str] = set(load_catalog())

    def gather(part: object) -> None:
        if isinstance(part, dict):
            for key, value in part.items():
                words.update([key] if isinstance(key, str) else [])
                gather(value)
        elif isinstance(part, list):
            for value in part:
                gather(value)
        elif isinstance(part, str):
            words.add(part)

    gather(survey_schema())
    return sorted(
        word
        for word in words
        if word and word.isascii() and word.isprintable() and len(word) < 24 and '"' not in word and "\\" not in word
    )


def keep(name: str, work: Path) -> None:
    """Bring the smallest inputs that together reach all that was reached into the corpus."""
    target = CORPUS / name
    target.mkdir(parents=True, exist_ok=True)
    small = sorted(
        (path for path in (work / name).glob("*") if path.stat().st_size <= KEPT_BYTES),
        key=lambda path: path.stat().st_size,
    )
    step = max(1, len(small) // KEPT_FILES)
    for number, path in enumerate(small[::step][:KEPT_FILES]):
        (target / f"found-{number:02d}").write_bytes(path.read_bytes())


if __name__ == "__main__":
    main()
