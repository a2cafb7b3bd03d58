"""What the pages' own scripts take a typed reading for, where there is no server to ask."""

from __future__ import annotations

import json
import re
import subprocess
from importlib.resources import files
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[2] / "src" / "subbase" / "web" / "static"
READ = {
    "1.6": 1.6, "26,4 V": 26.4, " 0.2 ohm ": 0.2, "12 ohms": 12, "5 Ω": 5, "5 \u2126": 5, "1.2 kΩ": 1200, "1.2k": 1200, "-3": -3,
    ".5": 0.5, "5.": 5, "72 °F": 72, "22   C": 22, "OL": "OL", "o.l.": "OL", "": "none", "about 5": "none", "1.2.3": "none",
    ".": "none", "5 ohm m": "none",
}  # fmt: skip
"""What is typed -> the number; OL for an open circuit, none for no number."""


@pytest.mark.parametrize("name", ["walk.js", "field.js"])
def test_a_typed_reading_is_the_number_that_it_says(name: str) -> None:
    """With a unit or without, with a comma, in thousands, as the sign of ohms is typed or printed; anything else is none."""
    found = re.search(r"const readNumber = .*?^  };$", (STATIC / name).read_text("utf-8"), re.MULTILINE | re.DOTALL)
    assert found is not None
    script = (
        f"{found[0]}\nconst told = (n) => (n === Infinity ? 'OL' : Number.isNaN(n) ? 'none' : n);"
        f"console.log(JSON.stringify({json.dumps(list(READ))}.map((text) => told(readNumber(text)))));"
    )
    node = Path(str(files("playwright"))) / "driver" / "node"
    done = subprocess.run([node, "-e", script], capture_output=True, text=True, check=True)
    assert dict(zip(READ, json.loads(done.stdout), strict=True)) == READ
