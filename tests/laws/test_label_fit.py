"""Laws of labels: whatever a label says, its text stays inside its piece, is never smaller than 6 pt, and both halves agree."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fontpkg_atkinson_hyperlegible import ROOT
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from hypothesis import example, given, settings
from hypothesis import strategies as st

from subbase.papers.label_fit import ASCENT_EM, DESCENT_EM, LEAST_PT, MM_PER_PT, fit, height_mm
from subbase.papers.label_layout import STYLES, TAPE_MARGIN_MM, LaidOut, Style, laid_out, on_tape
from subbase.papers.label_sheets import PAPER_MM, SHEETS, misfit
from subbase.papers.labels import Label

WORDS = st.text(st.characters(codec="latin-1", categories=("L", "N", "P", "Zs")), min_size=1, max_size=40)
LABELS = st.builds(
    Label, terminal=WORDS, place=WORDS, wire=WORDS, carries=st.one_of(st.just(""), WORDS), other_end=WORDS,
    number=st.sampled_from(["", "1", "12"]),
)  # fmt: skip
FONTS = {
    bold: TTFont(ROOT / "files" / f"AtkinsonHyperlegible-{'Bold' if bold else 'Regular'}.ttf") for bold in (False, True)
}
TOLERANCE_MM = 1e-6


def width_by_the_font(text: str, size_pt: float, *, bold: bool) -> float:
    """Return a text's width from the font's own table of advances [mm]; a letter it has not is left out."""
    font = FONTS[bold]
    glyphs, advances, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
    units: int = sum(advances[glyphs[ord(c)]][0] for c in text if ord(c) in glyphs)
    return units / float(em) * size_pt * MM_PER_PT


def assert_inside(item: LaidOut) -> None:
    """Hold every line against the edges of its piece, and against every other line."""
    boxes = []
    for line in item.lines:
        width = width_by_the_font(line.text, line.size_pt, bold=line.bold)
        top = line.y_mm - ASCENT_EM * line.size_pt * MM_PER_PT
        bottom = line.y_mm + DESCENT_EM * line.size_pt * MM_PER_PT
        assert line.size_pt >= LEAST_PT
        assert line.x_mm >= 0.0
        assert line.x_mm + width <= item.wide + TOLERANCE_MM, line
        assert top >= -TOLERANCE_MM
        assert bottom <= item.tall + TOLERANCE_MM, line
        boxes.append((line.x_mm, top, line.x_mm + width, bottom))
    for n, a in enumerate(boxes):
        for b in boxes[n + 1 :]:
            apart = (
                a[2] <= b[0] + TOLERANCE_MM
                or b[2] <= a[0] + TOLERANCE_MM
                or a[3] <= b[1] + TOLERANCE_MM
                or b[3] <= a[1] + TOLERANCE_MM
            )
            assert apart, (a, b)


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("style", STYLES)
@settings(max_examples=15, deadline=None)
@given(label=LABELS)
def test_no_text_leaves_a_label_of_a_sheet(name: str, style: Style, label: Label) -> None:
    """By the font's own widths, every line lies inside its label, on no other line, at 6 pt or more."""
    item = laid_out(label, style, SHEETS[name].wide, SHEETS[name].tall)
    assert item.lines
    assert_inside(item)


@pytest.mark.parametrize("tape", TAPE_MARGIN_MM)
@pytest.mark.parametrize("style", STYLES)
@settings(max_examples=25, deadline=None)
@given(label=LABELS)
def test_no_text_leaves_its_piece_of_tape(tape: int, style: Style, label: Label) -> None:
    """The same on tape, and clear of the edges where tape printers do not print."""
    item = on_tape(label, style, tape)
    assert item.tall == tape
    assert_inside(item)
    for line in item.lines:
        assert line.y_mm - ASCENT_EM * line.size_pt * MM_PER_PT >= TAPE_MARGIN_MM[tape] - TOLERANCE_MM


@settings(max_examples=60, deadline=None)
@given(label=LABELS, wide=st.floats(30, 110), tall=st.floats(6, 40))
def test_both_halves_of_a_flag_say_the_same_and_none_lies_on_the_fold(label: Label, wide: float, tall: float) -> None:
    """A flag is read from both sides, and nothing is printed where it goes around the conductor."""
    item = laid_out(label, "flag", wide, tall)
    first = [line for line in item.lines if line.x_mm < item.folds[0]]
    second = [line for line in item.lines if line.x_mm >= item.folds[1]]
    assert [(x.text, x.size_pt, x.y_mm) for x in first] == [(x.text, x.size_pt, x.y_mm) for x in second]
    assert len(first) + len(second) == len(item.lines)
    for line in first:
        assert line.x_mm + width_by_the_font(line.text, line.size_pt, bold=line.bold) <= item.folds[0] + TOLERANCE_MM


@settings(max_examples=100, deadline=None)
@example(lines=[" "], wide=20.0, tall=10.0)
@given(lines=st.lists(WORDS, min_size=1, max_size=6), wide=st.floats(5, 80), tall=st.floats(3, 40))
def test_what_is_left_out_is_told(lines: list[str], wide: float, tall: float) -> None:
    """Every line is there, or is told to be left out; only the first one is ever cut, and then that is told."""
    fitted = fit(lines, (wide, tall))
    shown = "".join("".join(line.text.split()) for line in fitted.lines)
    wanted = [line for line in lines if line.strip()]
    kept = wanted[: len(wanted) - len(fitted.left_out)]
    if fitted.cut:
        assert shown.endswith("…")
        assert len(kept) == 1
        assert "".join(kept[0].split()).startswith(shown.rstrip("…"))
    else:
        assert shown == "".join("".join(line.split()) for line in kept)
    assert tuple(wanted[len(kept) :]) == fitted.left_out


def test_the_terminal_is_the_last_thing_to_go() -> None:
    """On the smallest piece the terminal still stands, whatever else had no room."""
    label = Label("Y1", "hall", "wall, yellow", "cool 1", "furnace Y", "3")
    for tape in TAPE_MARGIN_MM:
        assert on_tape(label, "flag", tape).lines[0].text.startswith("Y1")
    small = laid_out(label, "flag", 24.0, 5.0)
    assert small.lines[0].text == "Y1"
    assert small.left_out
    assert laid_out(replace(label, carries=""), "wrap", 60.0, 12.7).left_out == ()


def test_ascent_and_descent_are_those_of_the_font() -> None:
    """A line takes at least what the font says that its letters take."""
    for font in FONTS.values():
        em = font["head"].unitsPerEm
        assert font["hhea"].ascent / em <= ASCENT_EM
        assert -font["hhea"].descent / em <= DESCENT_EM
    assert height_mm([6.0]) == pytest.approx(6.0 * (ASCENT_EM + DESCENT_EM) * MM_PER_PT)


@pytest.mark.parametrize("name", SHEETS)
def test_every_named_sheet_fits_its_paper(name: str) -> None:
    """Labels of a named sheet neither overlap nor leave the paper, and lie the same way from both edges, within 3 mm."""
    sheet = SHEETS[name]
    assert misfit(sheet) == ""
    wide, tall = PAPER_MM[sheet.paper]
    places = list(sheet.places())
    assert len(set(places)) == sheet.columns * sheet.rows
    assert abs(places[-1][0] + sheet.wide + sheet.left - wide) <= 3.0
    assert abs(places[-1][1] + sheet.tall + sheet.top - tall) <= 3.0
