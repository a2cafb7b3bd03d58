"""The code on the cover, read from the printed page by a decoder that was not made here."""

from __future__ import annotations

import datetime
import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from subbase.papers.landing_code import landing_code
from subbase.papers.packet import packet_pdf
from tests.houses import plan_of

DATE = datetime.date(2026, 3, 5)


@pytest.mark.outside(
    source="ZXing-C++ decoder; ISO/IEC 18004",
    how="run: the cover rendered by poppler at 150 dots an inch and decoded, text for text, level M",
)
@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "15-zone-panel-three-controls"])
def test_the_printed_codes_are_read_by_another_decoder(name: str, tmp_path: Path) -> None:
    """From the cover as poppler draws it, another program reads exactly the texts that were written, at level M."""
    plan = plan_of(name)
    packet = tmp_path / "packet.pdf"
    packet.write_bytes(packet_pdf(plan, date=DATE))
    subprocess.run(["pdftoppm", "-r", "150", "-f", "1", "-l", "1", "-png", packet, tmp_path / "cover"], check=True)
    with Image.open(next(tmp_path.glob("cover*.png"))) as page:
        found = zxingcpp.read_barcodes(page.convert("L"))
    assert sorted(code.text for code in found) == sorted(landing_code(plan, date=DATE))
    assert {code.ec_level for code in found} == {"M"}
