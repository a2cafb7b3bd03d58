"""Lists as people send them: other tools' files, encodings, delimiters, spreadsheets, dirt of every sort."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import duckdb
import openpyxl
import pandas
import pikepdf
import polars
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from subbase.errors import InputError
from subbase.fleet.keeper import Keeper
from subbase.fleet.mapping import read_mapping
from subbase.fleet.records import Record, RecordReader, read_cell
from subbase.fleet.results import csv_bytes, harmless
from subbase.fleet.run import Order, run
from subbase.fleet.sources import blocks_of
from subbase.fleet.synthetic import DIRT, write_fleet
from subbase.fleet.text_tables import MOST_LINES, dialect_of, read_lines
from tests.fleet_lists import FACTS, HEADINGS, MAPPING, csv_text, mapping, rows, run_list

COUNT = 30


def read(path: Path) -> list[tuple[str | None, ...]]:
    """Return the cells of a file as the fleet reads them."""
    return [tuple(cells) for block in blocks_of(path, mapping()) for cells in block.cells]


EXPECTED = [tuple(cell or None for cell in row) for row in rows(COUNT)]


def same(found: list[tuple[str | None, ...]]) -> bool:
    """Return whether cells say what the list says; an empty cell and a missing one say the same."""
    return [tuple(cell or None for cell in row) for row in found] == EXPECTED


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_text_in_any_common_encoding_and_delimiter_is_read(tmp_path: Path, encoding: str, delimiter: str) -> None:
    """Letters beyond ASCII come through, and the delimiter is found by itself."""
    path = tmp_path / "flats.csv"
    text = csv_text(COUNT, delimiter).replace("stair 1", "Straße é 1")
    path.write_text(text, encoding, newline="")
    found = read(path)
    assert any(row[1] == "Straße é 1" for row in found)
    assert same([tuple(cell.replace("Straße é", "stair") if cell else cell for cell in row) for row in found])


@pytest.mark.parametrize(
    "tool", ["pandas csv", "pandas parquet", "polars csv", "polars parquet", "duckdb csv", "duckdb parquet"]
)
def test_files_of_other_tools_are_read(tmp_path: Path, tool: str) -> None:
    """Files that pandas, polars and DuckDB write, with numbers as numbers, give the cells of the list."""
    name, ending = tool.split()
    path = tmp_path / f"flats.{ending}"
    plain = tmp_path / "plain.csv"
    plain.write_text(csv_text(COUNT), "utf-8", newline="")
    if name == "pandas":
        frame = pandas.read_csv(plain)
        frame.to_csv(path, index=False) if ending == "csv" else frame.to_parquet(path)
    elif name == "polars":
        table = polars.read_csv(plain)
        table.write_csv(path) if ending == "csv" else table.write_parquet(path)
    else:
        duckdb.connect().execute(f"COPY (SELECT * FROM read_csv('{plain}', header=true)) TO '{path}'")
    # A column of whole numbers with holes comes back as 45.0, yes and no as true and false; they say the same.
    flags = {"true": "yes", "false": "no"}
    clean = [tuple(flags.get(cell, cell.removesuffix(".0")) if cell else cell for cell in row) for row in read(path)]
    assert same(clean)


def test_a_spreadsheet_is_read(tmp_path: Path) -> None:
    """The first sheet of an xlsx file, numbers and all."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in [HEADINGS, *rows(COUNT)]:
        sheet.append([int(cell) if cell.isdigit() else (cell or None) for cell in row])
    book.save(tmp_path / "flats.xlsx")
    assert same(read(tmp_path / "flats.xlsx"))


def test_a_folder_of_surveys_is_planned(tmp_path: Path) -> None:
    """Whole surveys need no mapping; one that cannot be read is refused with its line."""
    folder = tmp_path / "surveys"
    (folder / "north").mkdir(parents=True)
    for name in ("07-heat-only-pair", "11-stop-millivolt"):
        (folder / "north" / f"{name}.yaml").write_bytes((Path("examples") / f"{name}.yaml").read_bytes())
    (folder / "broken.yaml").write_text(
        "survey: 1\nname: x\ncontrols: {a: {old: {terminals: [R, W], wirring: mains}}}\n"
    )
    done = run(Order(folder, tmp_path / "out", workers=1))
    assert (done.totals.verdicts.planned, done.totals.verdicts.stopped, done.totals.verdicts.refused) == (1, 1, 1)
    refused = list(csv.reader(io.StringIO((tmp_path / "out" / "refused.csv").read_text("utf-8"))))
    assert refused[1][0] == "broken.yaml"
    assert "3:" in refused[1][3]
    assert "wirring" in refused[1][5] + refused[1][3]


def test_broken_lines_cost_themselves_only(tmp_path: Path) -> None:
    """A short row, a long one and a quote that is never closed are refused with their lines; the rest is read."""
    lines = csv_text(COUNT).splitlines(keepends=True)
    lines[3] = "F0002,stair 0\r\n"
    lines[5] = lines[5].rstrip() + ",one,too many\r\n"
    lines[6] = '"F0005,stair 0,never closed\r\n'
    path = tmp_path / "flats.csv"
    path.write_text("".join(lines), "utf-8", newline="")
    block = next(iter(blocks_of(path, mapping())))
    wrong = {line: problem for line, problem in zip(block.lines, block.problems, strict=True) if problem}
    assert list(wrong) == [4, 6, 7]
    assert block.raws[5].startswith('"F0005'), "the row as it stood there is kept"
    assert len(block.lines) == COUNT


def test_a_cell_of_two_lines_is_one_cell(tmp_path: Path) -> None:
    """A quoted line break belongs to its cell, and the row bears the line where it began."""
    path = tmp_path / "flats.csv"
    path.write_text('a,b\r\n1,"two\r\nlines"\r\n3,4\r\n', "utf-8", newline="")
    found = list(read_lines(path, dialect_of(path)))
    assert [(line.number, line.cells) for line in found] == [
        (1, ("a", "b")),
        (2, ("1", "two\r\nlines")),
        (4, ("3", "4")),
    ]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.text(st.characters(codec="utf-8"), max_size=30), min_size=1, max_size=MOST_LINES))
def test_no_text_at_all_stops_the_reading(tmp_path: Path, texts: list[str]) -> None:
    """Whatever stands in a file, every line comes back once or in one row, and nothing is raised."""
    path = tmp_path / "any.csv"
    path.write_text("a,b\n" + "\n".join(texts), "utf-8", newline="")
    numbers = [line.number for line in read_lines(path, dialect_of(path))]
    assert numbers[0] == 1
    assert numbers == sorted(set(numbers))


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(FACTS), st.text(max_size=40))
def test_any_cell_is_a_value_nothing_or_a_sentence(name: str, text: str) -> None:
    """A cell never raises; what it refuses it refuses in a sentence that ends."""
    found = read_cell(mapping(), name, text)
    message = getattr(found, "message", "whole.")
    assert message.endswith((".", "?"))


@settings(max_examples=100, deadline=None)
@given(
    st.fixed_dictionaries(
        {name: st.one_of(st.text(max_size=12), st.sampled_from(["R W", "18", "gas", "-3", "none"])) for name in FACTS}
    )
)
def test_any_row_is_a_record_or_reasons(cells: dict[str, str]) -> None:
    """Whatever a row holds, it is read, or refused with at least one reason that names its fact."""
    found = RecordReader(mapping()).read(cells)
    assert isinstance(found, Record) or all(item.field in FACTS for item in found)


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("length", "45", 45 * 0.3048), ("length", "12 m", 12.0), ("length", "12,5 m", 12.5), ("gauge", "18", 18.0),
        ("letters", "RhRcWYG", ("Rh", "Rc", "W", "Y", "G")), ("letters", "w, r;y", ("R", "W", "Y")), ("mercury", "X", True),
        ("gauge", "n/a", None), ("heating", "unknown", None), ("wiring", "230", "line voltage"),
    ],
)  # fmt: skip
def test_cells_are_read_as_people_mean_them(name: str, text: str, value: object) -> None:
    """Units, commas, run-together letters, other alphabets' digits; and what says nothing is nothing."""
    assert read_cell(mapping(), name, text) == (pytest.approx(value) if isinstance(value, float) else value)
    wide = "".join(chr(ord(c) + 0xFEE0) if "!" <= c <= "~" else c for c in text)
    assert read_cell(mapping(), name, wide) == (pytest.approx(value) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("name", "text"),
    [("length", "1,200"), ("length", "-3"), ("length", "9999"), ("gauge", "18.5"), ("letters", "R Q"), ("letters", "W W"), ("mercury", "maybe")],
)  # fmt: skip
def test_impossible_cells_are_refused_not_guessed(name: str, text: str) -> None:
    """A number out of range, a comma that may mean two things, a letter that there is not."""
    assert hasattr(read_cell(mapping(), name, text), "message")


def test_each_sort_of_dirt_is_refused_with_its_row_or_read(tmp_path: Path) -> None:
    """Of a made-up list every soiled row is either refused and kept as it stood, or means what it meant."""
    path, __ = write_fleet(tmp_path, 400, seed=2, dirt=0.5)
    made = read_mapping((tmp_path / "mapping.toml").read_bytes(), "mapping.toml", as_toml=True)
    reader = RecordReader(made)
    told: list[str] = []
    for block in blocks_of(path, made):
        for problem, cells in zip(block.problems, block.cells, strict=True):
            found = reader.read(dict(zip(block.names, (cell or "" for cell in cells), strict=True)))
            told += [problem] if problem else ([] if isinstance(found, Record) else [item.message for item in found])
    for words in (
        "no word for 'heating'",
        "no id",
        "cells, the heading",
        "cannot be 'length'",
        "no number",
        "without the comma",
    ):
        assert any(words in message for message in told), words
    assert len(told) > 400 * 0.5 * (len(DIRT) - 3) / len(DIRT)


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "\n=1", "\uff1d1", "\u00a0=1"]
)
def test_nothing_in_a_list_becomes_a_formula(text: str) -> None:
    """A cell that a spreadsheet would run is marked as text; numbers of ours stay numbers."""
    assert str(harmless(text)).startswith("'")
    assert csv_bytes([(text,)]).strip(b'"').startswith(b"'")
    assert csv_bytes([(-1.5, 2)]) == b"-1.5,2\r\n"


def test_a_formula_in_an_id_reaches_no_spreadsheet_and_no_page(tmp_path: Path) -> None:
    """What a list smuggles in is text in refused.csv, and no markup in the report."""
    path = tmp_path / "flats.csv"
    evil = '=HYPERLINK(1);<script>alert(1)</script>,"=cmd",d,24,none,gas,R Q,0,20,18,no,1950,\r\n'
    path.write_text(csv_text(3) + evil, "utf-8", newline="")
    run_list(path, tmp_path / "out")
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert "<script" not in page
    assert "&lt;script" in page
    found = list(csv.reader(io.StringIO((tmp_path / "out" / "refused.csv").read_text("utf-8"))))
    assert all(not cell.startswith(("=", "+", "-", "@")) for row in found for cell in row)
    assert any(cell.startswith("'=HYPERLINK") for row in found for cell in row)


UNSEEN = "\x1b[2J\x07\u202eevil\u200b\x00"


def test_what_is_no_print_in_an_address_reaches_nobody(tmp_path: Path) -> None:
    """Escapes that clear a terminal and marks that turn a line round are gone, or written out where a row is kept."""
    path = tmp_path / "flats.csv"
    good = f'F77{UNSEEN},"stair{UNSEEN}",d,24,none,pair,R W,0,30,18,no,1950,\r\n'
    path.write_text(csv_text(3) + good + good.replace("F77", "F78").replace("R W", "R Q"), "utf-8", newline="")
    done = run_list(path, tmp_path / "out")
    assert done.totals.verdicts.refused == 1
    homes = pq.read_table(tmp_path / "out" / "homes.parquet").to_pylist()
    assert [home["id"] for home in homes[3:]] == ["F77[2Jevil", "F78[2Jevil"]
    assert homes[3]["area"] == "stair[2Jevil"
    assert r"\x1b[2J" in (tmp_path / "out" / "refused.csv").read_text("utf-8"), "the row is kept as it stood"
    for name in ("refused.csv", "parts.csv", "days.csv", "report.html", "summary.json"):
        text = (tmp_path / "out" / name).read_text("utf-8")
        assert not set(UNSEEN) & set(text) - set("[2Jevil"), name


def test_ids_that_look_alike_are_one_home(tmp_path: Path) -> None:
    """Wide digits, a second blank and a mark of no width make no other home; 'not known' is nobody's id."""
    path = tmp_path / "flats.csv"
    row = "{},s,d,24,none,pair,R W,0,30,18,no,1950,\r\n"
    ids = ("F 90", "F  90", "\uff26 \uff19\uff10", "F 90\u200b", "n/a", "n/a")
    path.write_text(csv_text(0) + "".join(row.format(home) for home in ids), "utf-8", newline="")
    run_list(path, tmp_path / "out")
    homes = pq.read_table(tmp_path / "out" / "homes.parquet").to_pylist()
    assert [home["verdict"] for home in homes] == ["planned", *["refused"] * 5]
    assert [home["why"].partition(";")[0] for home in homes[1:4]] == ["The id is also on line 2"] * 3
    assert all("no id" in home["why"] for home in homes[4:])


def test_the_report_needs_nothing_beside_it(tmp_path: Path) -> None:
    """No script, no picture, no font and no sheet is fetched; each chart is there for a phone as well."""
    path = tmp_path / "flats.csv"
    path.write_text(csv_text(COUNT), "utf-8", newline="")
    run_list(path, tmp_path / "out")
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert not re.search(r"<script|<link|\bsrc=|\bhref=|url\(|@import", page)
    assert page.count("<svg") == 2 * page.count('class="broad"') > 0
    with pikepdf.open(tmp_path / "out" / "report.pdf") as pdf:
        assert len(pdf.pages) >= 1
        assert pdf.docinfo.get("/Title") == "Invented stairs"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("id = ", "idd = "), "There is no fact 'idd'"),
        (('column = "Run", unit = "ft"', 'column = "Run", unit = "mile"'), "is not a unit of 'length'"),
        (('gauge = "Gauge"', 'gauge = "Run"'), "already read as 'length'"),
        (('known = "told", why = "invented"}\ncooling', 'known = "seen", why = "invented"}\ncooling'), "told"),
        (("fleet = 1", "fleet = 2"), "1"),
        (("[columns]", "[colums]"), "columns"),
        (("fleet = 1", "fleet = = 1"), "not readable"),
    ],
)  # fmt: skip
def test_a_wrong_mapping_is_told_by_its_field(change: tuple[str, str], words: str) -> None:
    """Every fault of a mapping names the field and what would put it right."""
    with pytest.raises(InputError, match=words):
        read_mapping(MAPPING.replace(*change).encode(), "mapping.toml", as_toml=True)


def test_a_mapping_in_yaml_says_the_same() -> None:
    """TOML and YAML are two ways to write one mapping."""
    text = "fleet: 1\ncolumns: {id: Flat, length: {column: Run, unit: m}}\nnew_control: {terminals: [R, W]}\n"
    made = read_mapping(text.encode(), "mapping.yaml", as_toml=False)
    assert made.columns["length"].unit == "m"


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [("flats.csv", "", "empty"), ("flats.csv", "a,b\n1,2\n", "There is no column 'Flat'"), ("flats.doc", "x", "none of"), ("flats.parquet", "x", "Parquet"), ("flats.xlsx", "x", "spreadsheet")],
)  # fmt: skip
def test_a_source_that_cannot_be_read_is_one_sentence(tmp_path: Path, name: str, text: str, words: str) -> None:
    """Wrong columns and wrong files are told before anything is made."""
    path = tmp_path / name
    path.write_text(text, "utf-8")
    with pytest.raises(InputError, match=words):
        list(blocks_of(path, mapping()))


@pytest.mark.parametrize("encoding", ["klingon", "hex", "utf-16"])
def test_an_encoding_that_the_file_is_not_in_is_one_sentence(tmp_path: Path, encoding: str) -> None:
    """A name that is no encoding, or one that the file has no mark of, is told."""
    path = tmp_path / "flats.csv"
    path.write_text(csv_text(3), "utf-8", newline="")
    with pytest.raises(InputError, match=f"cannot be read as '{encoding}'"):
        list(blocks_of(path, mapping(), encoding=encoding))


@pytest.mark.parametrize("ending", ["parquet", "xlsx"])
def test_a_file_that_was_cut_or_rotted_is_one_sentence(tmp_path: Path, ending: str) -> None:
    """Wherever bytes are gone or changed, there is an error of ours or rows, never a traceback."""
    path = tmp_path / f"flats.{ending}"
    frame = pandas.DataFrame(rows(200), columns=list(HEADINGS))
    frame.to_parquet(path) if ending == "parquet" else frame.to_excel(path, index=False)
    whole = path.read_bytes()
    told: list[str] = []
    for at in range(4, len(whole) - 4, max(1, len(whole) // 60)):
        for damaged in (whole[:at], whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :]):
            path.write_bytes(damaged)
            try:
                list(blocks_of(path, mapping()))
            except InputError as error:
                told.append(error.faults[0].message)
    assert len(told) > 60
    assert all(message.endswith(".") for message in told)


def test_days_come_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    """Day 2 comes before day 10 in the lists for the truck."""
    path = tmp_path / "flats.csv"
    row = "F{0},s,day {0},24,none,pair,R W,0,30,18,no,1950,\r\n"
    path.write_text(csv_text(0) + "".join(row.format(day) for day in (10, 2, 1)), "utf-8", newline="")
    run_list(path, tmp_path / "out")
    for name in ("days.csv", "parts.csv"):
        found = list(csv.DictReader(io.StringIO((tmp_path / "out" / name).read_text("utf-8"))))
        assert list(dict.fromkeys(row["day"] for row in found)) == ["day 1", "day 2", "day 10"]
    assert "Parts by day and area" in (tmp_path / "out" / "report.html").read_text("utf-8")


def test_a_damaged_piece_is_none(tmp_path: Path) -> None:
    """A kept piece whose bytes changed, or whose sum is gone, is not given out."""
    keeper = Keeper(tmp_path)
    keeper.put("a/b", b"whole")
    assert keeper.get("a/b") == b"whole"
    (tmp_path / "a" / "b").write_bytes(b"whoLe")
    assert keeper.get("a/b") is None
    assert keeper.get("a/c") is None
    with pytest.raises(InputError, match="gone or damaged"):
        keeper.need("a/c")


def test_refused_rows_keep_file_line_and_text(tmp_path: Path) -> None:
    """Each refused row is there with its place, every reason, and the row as it stood."""
    path = tmp_path / "flats.csv"
    path.write_text(csv_text(COUNT), "utf-8", newline="")
    run_list(path, tmp_path / "out")
    found = list(csv.DictReader(io.StringIO((tmp_path / "out" / "refused.csv").read_text("utf-8"))))
    swapped = [row for row in found if row["line"] == "13"]
    assert {row["field"] for row in swapped} == {"heating", "letters"}
    assert swapped[0]["row"].startswith("F0011,")
    homes = pq.read_table(tmp_path / "out" / "homes.parquet")
    assert homes.num_rows == COUNT
    assert {row["line"] for row in found} == {str(h["line"]) for h in homes.to_pylist() if h["verdict"] == "refused"}
