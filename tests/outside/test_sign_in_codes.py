"""Codes at sign-in against the examples that the standards print, and a symbol read by a decoder that was not made here."""

from __future__ import annotations

import base64
from datetime import UTC, datetime
from pathlib import Path

import pyotp
import pytest
import typst
import zxingcpp
from PIL import Image

from subbase.journal import accounts as who
from subbase.journal.database import run
from subbase.journal.second_factor import begin_codes, device_address, is_code, key_to_set_up, turn_codes_on
from subbase.journal.store import Journal, open_journal
from subbase.papers.landing_code import code_svgs

KEY = base64.b32encode(b"12345678901234567890").decode()


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """A journal of one person, whose device has the key of the standards' examples, in 1970."""
    made = open_journal(tmp_path / "jobs.db")
    bo = who.add_account(made, "bo", "installer", "seven dry conductors")
    with made.database.write() as connection:
        sql = "UPDATE accounts SET code_key = :key, code_since = '1970', code_step = 0 WHERE id = :id"
        run(connection, sql, key=KEY, id=bo.id)
    return made


@pytest.mark.outside(
    source="RFC 6238, appendix B (table of SHA-1, eight digits)",
    how="the last six of each printed code: a code of six digits is the same number modulo 10^6 (RFC 4226, 5.3)",
)
@pytest.mark.parametrize(
    ("at_s", "printed"),
    [
        (59, "94287082"), (1111111109, "07081804"), (1111111111, "14050471"),
        (1234567890, "89005924"), (2000000000, "69279037"), (20000000000, "65353130"),
    ],
)  # fmt: skip
def test_codes_are_those_of_the_standard(journal: Journal, at_s: int, printed: str) -> None:
    """At each printed moment the printed code opens, and the one beside it does not."""
    (bo,) = who.accounts(journal)
    now = datetime.fromtimestamp(at_s, UTC)
    wrong = str((int(printed[2:]) + 1) % 10**6).zfill(6)
    assert is_code(journal, bo.id, wrong, now) is None
    assert is_code(journal, bo.id, printed[2:], now) == bo
    assert is_code(journal, bo.id, printed[2:], now) is None


@pytest.mark.outside(
    source="RFC 4226, appendix D (HOTP values for counts 0 to 9)", how="each value, as the code of its half minute"
)
def test_counts_are_those_of_the_standard(journal: Journal) -> None:
    """The codes of the first ten half minutes of 1970, but for the first, whose number stands for none."""
    (bo,) = who.accounts(journal)
    printed = ["755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"]
    for count, code in enumerate(printed[1:], start=1):
        assert is_code(journal, bo.id, code, datetime.fromtimestamp(30 * count + 29, UTC)) == bo


@pytest.mark.outside(
    source="ZXing-C++ decoder; ISO/IEC 18004",
    how="run: the page's symbol as the typesetter draws it, decoded; the key in it gives the code that opens",
)
def test_a_device_reads_the_key_from_the_symbol(tmp_path: Path) -> None:
    """What another program reads from the symbol turns the code on."""
    with open_journal(tmp_path / "jobs.db") as journal:
        bo = who.add_account(journal, "Bo Ó'Neill & Søn", "office", "seven dry conductors")
        begin_codes(journal, bo.id)
        ((svg, _side),) = code_svgs([device_address(key_to_set_up(journal, bo.id), bo.name)])
        (tmp_path / "symbol.svg").write_text(svg, encoding="utf-8")
        (tmp_path / "page.typ").write_text('#image("symbol.svg", width: 8cm)', encoding="utf-8")
        typst.compile(tmp_path / "page.typ", output=tmp_path / "page.png", format="png", ppi=150)
        with Image.open(tmp_path / "page.png") as picture:
            (found,) = zxingcpp.read_barcodes(picture.convert("L"))
        device = pyotp.parse_uri(found.text)
        assert isinstance(device, pyotp.TOTP)
        assert (device.name, device.issuer) == (bo.name, "subbase")
        assert turn_codes_on(journal, bo.id, device.now())
