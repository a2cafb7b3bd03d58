"""The papers: nothing overlaps or is cut off, the same plan gives the same bytes, and no name can break them."""

from __future__ import annotations

import datetime
import io
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from fontpkg_atkinson_hyperlegible import ROOT
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from pypdf import PageObject, PdfReader
from pypdf.generic import DictionaryObject

from subbase.catalog import load_catalog
from subbase.papers.blocks import soft
from subbase.papers.data_rows import reading_rows
from subbase.papers.drawing import Area, Drawing, svg
from subbase.papers.labels import labels_of
from subbase.papers.ladder import ladder_sheets, ladder_svg
from subbase.papers.map_layout import PlacedRun, layout
from subbase.papers.map_model import boxes_of, parts_of, runs_of
from subbase.papers.measure import width_of, wrapped
from subbase.papers.packet import LEAST_TEXT_PT, map_sheets, packet_pdf, scale_of
from subbase.papers.proof_tables import load_table, proof_table
from subbase.papers.rung_trees import Leaf, Series
from subbase.papers.rungs import ladder_of
from subbase.papers.tables import changed_conductors, landing_table, marks, steps
from subbase.papers.wiring_map import wiring_map, wiring_map_svg
from subbase.papers.write import csv_bytes, write_papers
from subbase.plan import Plan, make_plan
from subbase.survey import Survey, read_survey
from tests.houses import NAMES, plan_of

DATE = datetime.date(2026, 3, 5)
SVG = "{http://www.w3.org/2000/svg}"
PLANNED = tuple(name for name in NAMES if plan_of(name).verdict == "planned")
NOT_PLANNED = tuple(name for name in NAMES if name not in PLANNED)
HOSTILE = """
survey: 1
name: "<script>alert('x')</script> & \\"Kärntner Weg\\" {name}"
units: si
place: {{year_built: 1990}}
equipment:
  "fur<b>nace & co": {{kind: gas-furnace-1, at: "</svg><script>"}}
  outdoor: {{kind: condensing-unit-1}}
controls:
  '"hall" <img src=x>':
    at: "#import \\"x\\" *bold* $math$ \\\\ [content]"
    old: {{terminals: [R, W, Y, G]}}
    new: {{terminals: [R, C, W1, Y1, G], power: common, asleep_va: 0.6, awake_va: 3}}
cables:
  "wall <!-- -->":
    from: '"hall" <img src=x>'
    to: "fur<b>nace & co"
    length: 12
    gauge: 18
    conductors:
      red: R
      "{long_word}": {{from: W, to: W}}
      yellow: {{from: Y, to: Y, colours: ["=1+1", "yellow & white"]}}
      green: G
      "blau für später, наверное": {{from: loose, to: loose, colours: [blue, blue]}}
  outside: {{from: "fur<b>nace & co", to: outdoor, length: 9, gauge: 18, conductors: {{yellow: Y, blue: C}}}}
"""


@cache
def hostile_plan() -> Plan:
    """Return the plan of a house whose names try to break out of every paper."""
    text = HOSTILE.format(long_word="Donaudampfschifffahrtselektrizitätenhaup", name="n" * 60)
    return make_plan(read_survey(text.encode()))


@cache
def packet_of(name: str) -> PdfReader:
    """Return the packet of an example, opened."""
    return PdfReader(io.BytesIO(packet_pdf(plan_of(name), date=DATE)))


def plan_named(name: str) -> Plan:
    """Return the plan of an example or of the hostile house."""
    return hostile_plan() if name == "hostile" else plan_of(name)


def drawings_of(plan: Plan) -> list[Drawing]:
    """Return every drawing of a plan, whole and in sheets."""
    found = [wiring_map(plan.survey, plan.catalog, title="as found", changed=frozenset())]
    found += map_sheets(plan, plan.survey, "as found", frozenset())
    if plan.left is not None:
        changed = changed_conductors(plan)
        found.append(wiring_map(plan.left, plan.catalog, title="as left", changed=changed))
        found += map_sheets(plan, plan.left, "as left", changed)
        found += ladder_sheets(plan.left, plan.catalog, title="ladder")
        found += ladder_sheets(plan.left, plan.catalog, title="ladder", room=(520.0, 400.0))
    return found


# --- drawings --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*NAMES, "hostile"])
def test_no_two_texts_of_a_drawing_overlap_and_none_leaves_it(name: str) -> None:
    """Every text has room of its own inside the drawing."""
    for drawing in drawings_of(plan_named(name)):
        texts = drawing.texts()
        page = Area(0, 0, drawing.width, drawing.height)
        assert texts
        assert [text.text for text in texts if not page.holds(text.area())] == []
        clashes = [(a.text, b.text) for a, b in combinations(texts, 2) if a.area().overlaps(b.area())]
        assert clashes == []


@pytest.mark.parametrize("name", [*NAMES, "hostile"])
def test_no_two_runs_lie_on_each_other(name: str) -> None:
    """Conductors and leads cross squarely and never share a piece of line; none passes through a box."""
    plan = plan_named(name)
    for survey in (plan.survey, plan.left):
        if survey is None:
            continue
        placed = layout(boxes_of(survey, plan.catalog), runs_of(survey, frozenset()))
        pieces = [(run, piece) for run in placed.runs for piece in pieces_of(run)]
        for (one, a), (other, b) in combinations(pieces, 2):
            assert one is other or not on_each_other(a, b), (one.run.key, other.run.key)
        for run, piece in pieces:
            assert not any(through(piece, box.area) for box in placed.boxes), run.run.key


def pieces_of(run: PlacedRun) -> list[Area]:
    """Return the straight pieces of a run as flat rectangles."""
    found = []
    for (x1, y1), (x2, y2) in zip(run.points, run.points[1:], strict=False):
        assert x1 == x2 or y1 == y2, "a run goes straight or squarely"
        found.append(Area(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)))
    return found


def on_each_other(a: Area, b: Area) -> bool:
    """Return whether two flat pieces of the same direction share more than a point."""
    if a.top == a.bottom == b.top == b.bottom:
        return a.left < b.right and b.left < a.right
    if a.left == a.right == b.left == b.right:
        return a.top < b.bottom and b.top < a.bottom
    return False


def through(piece: Area, box: Area) -> bool:
    """Return whether a flat piece goes through the inside of a box."""
    inside_x = piece.left < box.right and box.left < piece.right
    inside_y = piece.top < box.bottom and box.top < piece.bottom
    return inside_x and inside_y


@pytest.mark.parametrize("name", NAMES)
def test_every_conductor_is_named_at_both_ends(name: str) -> None:
    """A wiring map says each conductor's colour, or its name, at both its ends, and where it lands."""
    plan = plan_of(name)
    runs = [run for run in runs_of(plan.survey, frozenset()) if run.kind == "conductor"]
    assert len(runs) == sum(1 for _ in plan.survey.conductors())
    drawn = [text.text for text in wiring_map(plan.survey, plan.catalog, title="t", changed=frozenset()).texts()]
    for run in runs:
        for end in run.ends:
            assert end.label in drawn
            assert (end.terminal or end.said) in drawn


@pytest.mark.parametrize("name", NAMES)
def test_sheets_hold_every_run_once(name: str) -> None:
    """When a wiring map is shared out over sheets, nothing is lost and nothing drawn twice."""
    for survey in (plan_of(name).survey, plan_of(name).left):
        if survey is not None:
            runs = runs_of(survey, frozenset())
            shared = [key for part in parts_of(survey, runs).values() for key in part]
            assert sorted(shared) == sorted(run.key for run in runs)


@pytest.mark.parametrize("name", PLANNED)
def test_map_text_is_large_enough_on_paper(name: str) -> None:
    """Scaled to its page, no text of a wiring map is smaller than 6 pt."""
    plan = plan_of(name)
    assert plan.left is not None
    for drawing in map_sheets(plan, plan.left, "as left", changed_conductors(plan)):
        assert scale_of(drawing) * drawing.least_text() >= LEAST_TEXT_PT


def test_what_changes_bears_a_number_and_not_only_a_heavier_line() -> None:
    """The blue spare of the first house, landed at both ends, is numbered at both ends and in the key."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.left is not None
    assert marks(plan) == {("wall", "blue"): 1}
    texts = [t.text for t in wiring_map(plan.left, plan.catalog, title="t", changed=changed_conductors(plan)).texts()]
    assert texts.count("1") == 3
    assert "wall, blue: hall C to furnace C" in texts
    found = [t.text for t in wiring_map(plan.survey, plan.catalog, title="t", changed=frozenset()).texts()]
    assert "1" not in found


def test_an_unknown_landing_is_drawn_as_not_known() -> None:
    """What the survey does not know is never drawn as if it had been seen."""
    plan = plan_of("08-changeover-not-known")
    texts = [t.text for t in wiring_map(plan.survey, plan.catalog, title="t", changed=frozenset()).texts()]
    assert any(text.startswith("not known: ") for text in texts)


def test_pale_insulation_has_a_dark_edge() -> None:
    """A white conductor is drawn over a wider dark line, so that it shows on white paper."""
    plan = plan_of("01-no-common-spare-blue")
    root = Xml.fromstring(wiring_map_svg(plan.survey, plan.catalog, title="t", changed=frozenset()))
    paths = [(p.get("d"), p.get("stroke"), float(p.get("stroke-width", "0"))) for p in root.iter(f"{SVG}path")]
    pale = {(d, width) for d, stroke, width in paths if stroke == "#fefefe"}
    edges = {d: width for d, stroke, width in paths if stroke == "#111111"}
    white = [(d, width) for d, width in pale if d in edges and width < edges[d]]
    assert white


@pytest.mark.parametrize("name", [*NAMES, "hostile"])
def test_svg_is_well_formed_and_holds_no_markup_of_a_name(name: str) -> None:
    """Whatever a name holds stays text: the SVG has no elements but those that the drawing made."""
    for drawing in drawings_of(plan_named(name)):
        root = Xml.fromstring(svg(drawing))
        tags = {element.tag.removeprefix(SVG) for element in root.iter()}
        assert tags <= {"svg", "title", "desc", "path", "rect", "circle", "text"}
        assert all(not key.startswith("on") for element in root.iter() for key in element.attrib)


def test_svg_is_the_same_every_time() -> None:
    """A drawing depends on the survey alone."""
    plan = plan_of("15-zone-panel-three-controls")
    assert plan.left is not None
    once = wiring_map_svg(plan.left, plan.catalog, title="t", changed=changed_conductors(plan))
    assert once == wiring_map_svg(plan.left, plan.catalog, title="t", changed=changed_conductors(plan))
    assert ladder_svg(plan.left, plan.catalog, title="t") == ladder_svg(plan.left, plan.catalog, title="t")


@pytest.mark.parametrize("face", ["Regular", "Bold"])
def test_text_widths_are_upper_bounds_of_the_embedded_font(face: str) -> None:
    """No character that the papers use is wider in the font than the layout takes it to be."""
    font = TTFont(ROOT / "files" / f"AtkinsonHyperlegible-{face}.ttf")
    glyphs, advances, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
    characters = [chr(code) for code in (*range(32, 127), *map(ord, "·–−×°±²…äöüßéèñç"))]
    wider = [c for c in characters if advances[glyphs[ord(c)]][0] / em > width_of(c, 1.0, bold=face == "Bold")]
    assert wider == []


def test_wrapped_lines_fit_and_lose_nothing() -> None:
    """A text broken into lines keeps every character, and no line is wider than asked."""
    text = "one two " + "Donaudampfschifffahrtsgesellschaft" * 3 + " 24 V end"
    lines = wrapped(text, 60.0, 8.0)
    assert all(width_of(line, 8.0) <= 60.0 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert any("24 V" in line for line in lines)


# --- ladder ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PLANNED)
def test_every_load_is_on_a_rung_or_said_to_be_on_none(name: str) -> None:
    """No load of the circuit is left out of the ladder, and none has two rungs at one supply."""
    plan = plan_of(name)
    assert plan.left is not None
    ladder = ladder_of(plan.left, plan.catalog)
    for supply in ladder.supplies:
        tags = [rung.load.tag for rung in supply.rungs]
        assert len(tags) == len(set(tags))
        assert supply.complete
    shown = [text.text for text in ladder_sheets(plan.left, plan.catalog, title="t")[0].texts()]
    for number in range(1, len({r.load.tag for s in ladder.supplies for r in s.rungs}) + 1):
        assert str(number) in shown


def test_a_rung_holds_what_must_be_made_in_order() -> None:
    """The compressor contactor hangs on the control's Y1, then high pressure, then low pressure, behind the fuse."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.left is not None
    supply = ladder_of(plan.left, plan.catalog).supplies[0]
    rung = next(rung for rung in supply.rungs if rung.load.tag == "outdoor/contactor")
    assert [leaf.element.tag for leaf in supply.rail[: rung.rail]] == ["furnace/fuse"]
    assert tags_of(rung.hot_side) == ["hall/Y1", "outdoor/high-pressure", "outdoor/low-pressure"]
    assert tags_of(rung.common_side) == []


def tags_of(series: Series) -> list[str]:
    """Return the elements of a side without branches."""
    return [item.element.tag for item in series.items if isinstance(item, Leaf)]


def test_two_supplies_have_two_ladders() -> None:
    """A house with two transformers has a ladder for each, and the heating load hangs on its own."""
    plan = plan_of("03-two-transformers")
    assert plan.left is not None
    supplies = ladder_of(plan.left, plan.catalog).supplies
    assert len(supplies) == 2
    assert [r.load.tag for r in supplies[0].rungs if r.load.tag.endswith("gas-valve")] == ["furnace/gas-valve"]


# --- tables ----------------------------------------------------------------------------------------------------------


def test_landing_table_says_found_left_and_what_to_do() -> None:
    """The blue spare's row: number, carries, both ends before and after."""
    plan = plan_of("01-no-common-spare-blue")
    table = landing_table(plan, plan.controls[0])
    row = next(row for row in table.rows if row[1] == "wall, blue")
    assert row == ("1", "wall, blue", "common", "loose", "hall C", "loose", "furnace C", "land both ends")
    assert len(table.head) == len(table.weights) == len(row)


def test_steps_name_every_conductor_that_is_moved() -> None:
    """What to do at the equipment names each conductor whose far end changes."""
    for name in PLANNED:
        for item in plan_of(name).controls:
            words = " ".join(steps(item))
            for landing in item.chosen.landings:
                if landing.far_found != landing.far_left:
                    assert landing.conductor in words


def test_proof_tables_list_every_single_call_and_every_load_at_its_worst() -> None:
    """Every single call of the proof has a row; every load has one, with the least volts that any state leaves it."""
    proof = plan_of("12-heat-pump-with-strips").proof
    assert proof is not None
    listed = {row[0] for row in proof_table(proof).rows}
    assert {s.words for s in proof.states if all(len(c) == 1 for _, c in s.state.calls)} <= listed
    least: dict[str, float] = {}
    for state in proof.states:
        for load in state.loads:
            least[load.words] = min(least.get(load.words, load.inrush_v), load.low_v, load.inrush_v)
    rows = {row[0]: row for row in load_table(proof).rows}
    assert rows.keys() == least.keys()
    for words, volts in least.items():
        lowest_running, lowest_pulling = float(rows[words][1].split()[0]), float(rows[words][2])
        assert min(lowest_running, lowest_pulling) == pytest.approx(volts, abs=0.051)


def test_a_label_for_each_end_of_each_conductor() -> None:
    """Labels name the landing as left, at both ends."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.left is not None
    labels = labels_of(plan)
    assert len(labels) == 2 * sum(1 for _ in plan.left.conductors())
    blue = [label for label in labels if label.wire == "wall, blue"]
    assert [(label.place, label.terminal, label.other_end) for label in blue] == [
        ("hall", "C", "furnace C"),
        ("furnace", "C", "hall C"),
    ]
    assert {label.carries for label in blue} == {"common"}


def test_csv_cells_are_never_formulas() -> None:
    """A cell that a spreadsheet would run is marked as text; commas and quotes are kept."""
    assert csv_bytes((("=1+1", 'a,"b"'),)) == b'\'=1+1,"a,""b"""\r\n'


# --- packet ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "10-stop-line-voltage"])
def test_packet_has_the_same_bytes_twice(name: str) -> None:
    """The same plan and date give the same file; another date gives another."""
    plan = plan_of(name)
    once = packet_pdf(plan, date=DATE)
    assert once == packet_pdf(plan, date=DATE)
    assert once != packet_pdf(plan, date=DATE + datetime.timedelta(days=1))


@pytest.mark.parametrize("name", PLANNED)
def test_packet_holds_every_landing(name: str) -> None:
    """Every conductor of a control's cable stands in the packet with where it goes."""
    plan = plan_of(name)
    text = squeezed("".join(page.extract_text() for page in packet_of(name).pages))
    for item in plan.controls:
        for cells in landing_table(plan, item).rows:
            assert squeezed("".join(cells[2:])) in text, cells


def squeezed(text: str) -> str:
    """Return a text without spaces, so that line breaks do not matter."""
    return "".join(text.replace("\N{ZERO WIDTH SPACE}", "").split())


@pytest.mark.parametrize("name", NAMES)
def test_no_text_leaves_its_page_or_is_too_small(name: str) -> None:
    """Every piece of text lies between the edges of its page and is at least 6 pt tall."""
    for page in packet_of(name).pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        for text, x, y, size in texts_on(page):
            assert 20.0 <= x <= width - 20.0, text
            assert 20.0 <= y <= height - 20.0, text
            # Widths are upper bounds; the font takes at least seven tenths of them.
            assert x + 0.7 * width_of(text, size) <= width - 20.0, text
            assert size >= LEAST_TEXT_PT - 0.01, (text, size)


def texts_on(page: PageObject) -> list[tuple[str, float, float, float]]:
    """Return (text, x, y, size) of a page's texts [pt]."""
    found = []

    def visit(text: str, current: list[float], matrix: list[float], _: object, size: float) -> None:
        if text.strip():
            x = matrix[4] * current[0] + matrix[5] * current[2] + current[4]
            y = matrix[4] * current[1] + matrix[5] * current[3] + current[5]
            found.append((text.strip(), x, y, size * abs(current[0] * matrix[0])))

    page.extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_packet_uses_the_embedded_font_alone(name: str) -> None:
    """No glyph falls back to another face, in the text or inside a drawing."""
    fonts = {font for page in packet_of(name).pages for font in fonts_of(page)}
    assert fonts
    assert {font.partition("+")[2] for font in fonts} <= {
        "AtkinsonHyperlegible-Regular",
        "AtkinsonHyperlegible-Bold",
        "AtkinsonHyperlegible-Italic",
    }


def fonts_of(page: PageObject) -> set[str]:
    """Return the names of the fonts that a page and its drawings use."""
    found: set[str] = set()
    resources = [entry(page, "/Resources")]
    while resources:
        own = resources.pop()
        found |= {str(entry(fonts, name)["/BaseFont"]).lstrip("/") for fonts in [entry(own, "/Font")] for name in fonts}
        forms = entry(own, "/XObject")
        resources += [entry(entry(forms, name), "/Resources") for name in forms]
    return found


def entry(holder: DictionaryObject, key: str) -> DictionaryObject:
    """Return a dictionary inside another, empty when there is none."""
    found = holder.get(key, DictionaryObject()).get_object()
    assert isinstance(found, DictionaryObject)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_packet_is_tagged_titled_and_says_its_language(name: str) -> None:
    """A screen reader finds structure, title and language."""
    catalog = entry(packet_of(name).trailer, "/Root")
    assert "/StructTreeRoot" in catalog
    assert str(catalog["/Lang"]) == "en"
    metadata = packet_of(name).metadata
    assert metadata is not None
    assert metadata.title is not None
    assert metadata.title.startswith(plan_of(name).survey.name)


@pytest.mark.parametrize("name", NOT_PLANNED)
def test_a_stop_or_a_question_is_one_sheet(name: str) -> None:
    """Where nothing is planned, one page says what stops it or what to answer, and how; behind it the owner's page."""
    plan = plan_of(name)
    reader = packet_of(name)
    assert len(reader.pages) == 2
    text = squeezed(reader.pages[0].extract_text())
    for stop in plan.stops:
        assert squeezed(stop.seen) in text
        assert squeezed(stop.instead) in text
    for question in plan.questions:
        assert squeezed(question.text) in text
        assert squeezed(question.how) in text


def test_a_house_without_a_route_says_why_each_was_refused() -> None:
    """When no route is left the sheet says so, with every refusal and its reason."""
    planned = plan_of("14-oil-with-separate-cooling")
    refused = tuple(route for route in planned.controls[0].routes if not route.offered)
    assert refused
    plan = replace(planned, verdict="stopped", controls=(), refused=refused, left=None, proof=None, readings=())
    text = squeezed("".join(p.extract_text() for p in PdfReader(io.BytesIO(packet_pdf(plan, date=DATE))).pages))
    for route in refused:
        assert squeezed(route.title) in text
        assert squeezed(" ".join(route.reasons)) in text


@pytest.mark.parametrize("name", NAMES)
def test_cautions_stand_on_the_first_pages(name: str) -> None:
    """Every caution is read before the first drawing."""
    plan = plan_of(name)
    text = squeezed("".join(page.extract_text() for page in packet_of(name).pages[:2]))
    assert plan.cautions
    for caution in plan.cautions:
        assert squeezed(caution.text) in text


def test_paper_size_follows_the_units() -> None:
    """A survey in US units is set on Letter, one in SI units on A4."""
    us = packet_of("01-no-common-spare-blue").pages[0].mediabox
    assert (float(us.width), float(us.height)) == (612.0, 792.0)
    si = PdfReader(io.BytesIO(packet_pdf(hostile_plan(), date=DATE))).pages[0].mediabox
    assert (round(float(si.width)), round(float(si.height))) == (595, 842)


def test_hostile_names_reach_the_packet_as_text() -> None:
    """Markup of the template, of SVG and of HTML in names is printed, not obeyed, and no long word leaves the page."""
    reader = PdfReader(io.BytesIO(packet_pdf(hostile_plan(), date=DATE)))
    assert hostile_plan().verdict == "planned"
    text = squeezed("".join(page.extract_text() for page in reader.pages))
    assert squeezed("<script>alert('x')</script>") in text
    assert "fur<b>nace" in text
    for page in reader.pages:
        for words, x, _, size in texts_on(page):
            assert x + 0.7 * width_of(words, size) <= float(page.mediabox.width) - 20.0, words


def test_a_long_word_can_break_anywhere() -> None:
    """A word too long for a column gets places to break and keeps its letters."""
    broken = soft("x" * 50)
    assert "\N{ZERO WIDTH SPACE}" in broken
    assert broken.replace("\N{ZERO WIDTH SPACE}", "") == "x" * 50


# --- files -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "08-changeover-not-known", "10-stop-line-voltage"])
def test_papers_are_written_whole(name: str, tmp_path: Path) -> None:
    """Each file is there under its own name, nothing half-written beside it, and a second run replaces it."""
    plan = plan_of(name)
    files = write_papers(plan, tmp_path, date=DATE)
    before = {file: file.read_bytes() for file in files}
    assert sorted(tmp_path.iterdir()) == sorted(files)
    assert write_papers(plan, tmp_path, date=DATE) == files
    assert {file: file.read_bytes() for file in files} == before
    names = [file.name for file in files]
    assert names[0] == "packet.pdf"
    assert ("wiring-left.svg" in names) == (plan.verdict == "planned")


def test_readings_file_has_a_row_for_each_reading() -> None:
    """The readings file holds every expected reading under one head."""
    readings = plan_of("01-no-common-spare-blue").readings
    rows = reading_rows(readings)
    assert len(rows) == len(readings) + 1
    assert {len(row) for row in rows} == {len(rows[0])}


def test_a_house_without_cables_can_be_drawn() -> None:
    """A control alone is one box, and its map has no key."""
    survey = Survey.model_validate(
        {"survey": 1, "name": "bare", "controls": {"hall": {"old": {"terminals": ["R", "W"]}}}}
    )
    drawing = wiring_map(survey, load_catalog(), title="bare", changed=frozenset())
    assert [text.text for text in drawing.texts()] == ["bare", "hall", "control", "R", "W"]
