"""Fuzz readers: ``python -m fuzz [--minutes M] [--work DIR] [TARGET ...]``; with ``--keep``, bring what reached far into ``corpus/``.

Needs atheris, which ``make fuzz`` installs as requirements/fuzz.txt locks it; nothing else does. What breaks a reader is left in ``DIR/TARGET-crash-...``: put it into ``corpus/TARGET/`` under a name that says what it was, and mend the reader.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

from fuzz.seeds import CORPUS, seeds

ROOT = Path(__file__).parent.parent
LONGEST = {"photo": 20_000, "job": 20_000, "parquet": 20_000, "workbook": 20_000}
LONGEST_OTHERS = 6_000
SLOWEST_S, MOST_MB = 20, 2_048
"""No input may take longer, or make the process larger."""
KEPT_FILES, KEPT_BYTES = 10, 2_500


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
    with atheris.instrument_imports(include=["subbase", "yaml", "PIL", "openpyxl"]):
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
    """Bring a few small inputs into the corpus, evenly over their sizes; those of before go, those with a name stay."""
    target = CORPUS / name
    target.mkdir(parents=True, exist_ok=True)
    for path in target.glob("found-*"):
        path.unlink()
    gathered = [path for path in (work / name).glob("*") if 0 < path.stat().st_size <= KEPT_BYTES]
    small = sorted(gathered, key=lambda path: (path.stat().st_size, path.name))
    step = max(1, len(small) // KEPT_FILES)
    for number, path in enumerate(small[step - 1 :: step][:KEPT_FILES]):
        (target / f"found-{number:02d}").write_bytes(path.read_bytes())


if __name__ == "__main__":
    main()
