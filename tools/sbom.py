"""A software bill of materials in CycloneDX 1.6: ``python -m tools.sbom [--out FILE]``, made from the locks themselves.

It names what a user installs (requirements/run.txt) and what the pocket folder ships to a phone (runtime.toml), each with
its version, package URL and every checksum that the lock allows. It bears no time and no address: the same locks give the
same bytes.
"""

from __future__ import annotations

import argparse
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from cyclonedx.model import HashAlgorithm, HashType
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.output import make_outputter
from cyclonedx.schema import OutputFormat, SchemaVersion
from packageurl import PackageURL

from subbase import __version__

ROOT = Path(__file__).parents[1]
LOCK = ROOT / "requirements" / "run.txt"
RUNTIME = ROOT / "src" / "subbase" / "web" / "pocket" / "runtime.toml"
_PINNED = re.compile(r"^(?P<name>[a-z0-9][a-z0-9.-]*)(?:\[[a-z0-9,-]+\])?==(?P<version>[^\s;\\]+)")
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")


def pinned(lock: Path) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield (name, version, SHA-256 of every file allowed) of each package of a lock.

    Raises
    ------
    ValueError
        When a line of the lock is neither a pinned package nor one of its checksums.
    """
    name, version, sums = "", "", list[str]()
    for number, line in enumerate(lock.read_text("utf-8").splitlines(), start=1):
        found, checksum = _PINNED.match(line), _HASH.search(line)
        if found:
            if name:
                yield name, version, tuple(sums)
            name, version, sums = found["name"], found["version"], []
        elif checksum:
            sums.append(checksum[1])
        elif line.strip() and not line.lstrip().startswith("#"):
            raise ValueError(f"{lock.name}:{number}: neither a pinned package nor a checksum: {line}")
    if name:
        yield name, version, tuple(sums)


def bill() -> Bom:
    """Return the bill of materials of the package."""
    bom = Bom(serial_number=uuid5(NAMESPACE_URL, LOCK.read_text("utf-8") + RUNTIME.read_text("utf-8")))
    bom.metadata.timestamp = None  # type: ignore[assignment]
    root = Component(name="subbase", version=__version__, bom_ref="subbase", type=ComponentType.APPLICATION)
    bom.metadata.component = root
    for name, version, sums in pinned(LOCK):
        hashes = [HashType(alg=HashAlgorithm.SHA_256, content=content) for content in sums]
        bom.components.add(_component("pypi", name, version, hashes))
    for part in tomllib.loads(RUNTIME.read_text("utf-8")).values():
        kinds = (("sha256", HashAlgorithm.SHA_256), ("sha512", HashAlgorithm.SHA_512))
        hashes = [HashType(alg=kind, content=part[key]) for key, kind in kinds if key in part]
        bom.components.add(_component(part["registry"].lower(), part["name"], part["version"], hashes, part["file"]))
    bom.register_dependency(root, bom.components)
    return bom


def _component(registry: str, name: str, version: str, hashes: list[HashType], file: str = "") -> Component:
    url = PackageURL(registry, name=name, version=version, qualifiers={"file_name": file} if file else None)
    return Component(name=name, version=version, purl=url, bom_ref=str(url), hashes=hashes, type=ComponentType.LIBRARY)


def as_json(bom: Bom) -> str:
    """Return a bill of materials as CycloneDX JSON, the same every time."""
    return make_outputter(bom, OutputFormat.JSON, SchemaVersion.V1_6).output_as_string(indent=1) + "\n"


def main() -> None:
    """Write the bill of materials."""
    asked = argparse.ArgumentParser(prog="python -m tools.sbom")
    asked.add_argument("--out", type=Path, default=ROOT / "out" / "sbom.cdx.json")
    out: Path = asked.parse_args().out
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(as_json(bill()), encoding="utf-8")
    print(f"{len(bill().components)} components in {out}.")


if __name__ == "__main__":
    main()
