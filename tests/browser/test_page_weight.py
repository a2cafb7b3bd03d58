"""Every page of the largest example stays under 100 kB on the line, nearly all with all that they load; photos are not counted."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web_jobs import Visitor, visiting

LARGEST = "15-zone-panel-three-controls"
MOST_BYTES = 100_000
MOST_FIRST_BYTES = 110_000
"""With style sheets, scripts and two fonts (59 kB), which a browser loads once."""
RAW_BYTES = {"survey": 280_000, "plan": 160_000, "plan/live": 410_000}
"""Before they are compressed: the survey offers each terminal of its place at either end of 21 conductors; the others are drawings."""
PAGES = (
    "survey", "survey/text", "survey/rooms", "plan", "plan/live", "work", "work/steps", "check", "check/call?of=ground%3A%20heat%201",
    "tune", "hand-over", "history",
)  # fmt: skip


@pytest.fixture(scope="module")
def visitor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    """Somebody at the largest example."""
    with visiting(tmp_path_factory.mktemp("journal"), LARGEST) as found:
        yield found


def on_the_line(visitor: Visitor, address: str) -> int:
    """Return the bytes of an answer as it is transferred."""
    answer = visitor.client.get(address, headers={"Accept-Encoding": "gzip"})
    assert answer.status_code == 200, address
    assert answer.headers.get("content-encoding") == "gzip" or len(answer.content) < 1000, address
    return answer.num_bytes_downloaded


@pytest.mark.parametrize("path", PAGES)
def test_a_page_with_all_that_it_loads_is_light(visitor: Visitor, path: str, tmp_path: Path) -> None:
    """Compressed as it is sent, a page takes less than 100 kB; its style sheets, scripts and both fonts add little, once."""
    text = visitor.get(path).text
    loaded = set(re.findall(r'(?:src|href)="(/static/[^"]+\.(?:css|js|svg))"', text))
    assert any(name.endswith("page.css") for name in loaded)
    page_css = next(name for name in loaded if name.endswith("page.css"))
    folder = page_css.rpartition("/")[0]
    loaded |= {f"{folder}/AtkinsonHyperlegible-{face}.ttf" for face in ("Regular", "Bold")}
    page = on_the_line(visitor, f"/jobs/{visitor.job}/{path}")
    whole = page + sum(on_the_line(visitor, name) for name in loaded)
    (tmp_path / "weight.txt").write_text(
        f"{path}: {len(text.encode())} raw, {page} on the line, {whole} with all it loads\n"
    )
    assert "&lt;svg" not in text  # a drawing is drawn, never told as text
    assert page < MOST_BYTES
    assert whole < MOST_FIRST_BYTES
    assert len(text.encode()) < RAW_BYTES.get(path, MOST_BYTES)
