"""What each reader's fuzzing begins with: the examples of its own kind, made-up small files, and what is kept."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from fuzz.books import book, parquet_list, sheet_of_book

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
CORPUS = Path(__file__).parent / "corpus"
BODIES = (
    b'{"kind": "note_made", "text": "Blue is loose."}',
    b'{"kind": "survey_edited", "text": "survey: 1", "base": "", "what": "typed"}',
    b'{"kind": "named", "name": "Hill Road 9"}',
    b'{"kind": "step_done", "step": "lock", "did": "skipped", "note": "x"}',
    b'{"kind": "reading_taken", "between": ["hall.R", "hall.C"], "unit": "V", "value": 26.4}',
    b'{"kind": "verdict_given", "about": "lock", "outcome": "good"}',
    b'{"kind": "setting_made", "name": "cycles", "value": 3, "control": "hall"}',
    b'{"kind": "handed_over", "to": "owner", "papers": {}}',
    b'{"kind": "undone", "target": "KEY"}',
    b'{"kind": "of_a_later_version", "anything": [1, {"x": null}]}',
)
"""What may have happened in a job, as a program tells it."""


def seeds(name: str) -> list[bytes]:
    """Return inputs to begin with."""
    kept = [path.read_bytes() for path in sorted((CORPUS / name).glob("*"))]
    return [*MADE[name](), *kept]


def _files(pattern: str, folder: Path = EXAMPLES, most: int = 100) -> list[bytes]:
    return [path.read_bytes() for path in sorted(folder.glob(pattern)) if path.is_file()][:most]


def _form() -> list[bytes]:
    first = (EXAMPLES / "01-no-common-spare-blue.yaml").read_bytes()
    return [first + b"\x1ef/cables/stat/gauge=20\x1fdo=add-jumper\x1fx/jumper/0=wall.R\x1fx/jumper/1=wall.W"]


def _job() -> list[bytes]:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w") as made:
        made.writestr("manifest.json", '{"format": 1, "members": []}')
    return [packed.getvalue()]


def _photo() -> list[bytes]:
    from PIL import Image

    found = []
    for kind in ("JPEG", "PNG", "WEBP"):
        packed = BytesIO()
        Image.new("RGB", (12, 9), (120, 60, 30)).save(packed, kind)
        found.append(packed.getvalue())
    return found


def _weather() -> list[bytes]:
    head = ["LOCATION,Nowhere,IL,USA,invented,725300,41.98,-87.92,-6.0,201.0", "DESIGN CONDITIONS,0"]
    head += ["TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0", "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0"]
    head += ["COMMENTS 1,invented", "COMMENTS 2,", "DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]
    hour = "2025,1,1,1,0,?9,-6.0,-8.0,86,99000,0,0,260,0,0,0,0,0,0,9999,210,3.6,9,9,20.0,77777,9,999999999,90,0.08,0,88"
    return ["\n".join((*head, hour)).encode(), "\n".join((*head, *[hour] * 12)).encode()]


def _api() -> list[bytes]:
    entry = b'e{"entries": [{"key": "KEY", "made_at": "2026-03-05T12:00:00Z", "body": %s}]}'
    more = [b'j{"name": "Hill Road 7", "id": "KEY"}', b's{"survey": 1, "name": "x"}', b"tsurvey: 1\nname: x\n"]
    return [*(entry % body for body in BODIES), *more]


MADE: dict[str, Callable[[], list[bytes]]] = {
    "survey": lambda: _files("*.yaml"),
    "rooms": lambda: _files("rooms/*.yaml"),
    "kind": lambda: _files("*.toml", ROOT / "src/subbase/catalog/kinds", 12),
    "taken": lambda: _files("readings/*"),
    "evidence": lambda: _files("evidence/*"),
    "weather": _weather,
    "deck": lambda: [b"* a lamp\nV1 a 0 AC 24\nR1 a b 0.5\nR2 b 0 60\n.end\n"],
    "job": _job,
    "photo": _photo,
    "entries": lambda: [b'{"format": 1, "job": "00000000-0000-4000-8000-000000000000", "entries": []}'],
    "form": _form,
    "homes": lambda: [(EXAMPLES / "fleet" / "flats.csv").read_bytes()[:3000]],
    "parquet": lambda: [parquet_list()],
    "workbook": lambda: [book(), sheet_of_book()],
    "mapping": lambda: _files("fleet/mapping.toml"),
    "log": lambda: [b"time,indoor_c,outdoor_c,on_min\n2026-01-05 00:00,20.5,-3,15\n2026-01-05 01:00,20.4,,15\n"],
    "api": _api,
}
