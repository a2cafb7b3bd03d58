"""Drawings for every eye and reader: colour-blind eyes and grey prints by published models, contrast by WCAG, SVG by its DTD."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from lxml import etree

from subbase.papers.drawing import INK, PAPER, QUIET, RULE, SHADE, Drawing, svg
from subbase.papers.insulation import COLOURS, NOT_KNOWN, insulation_of
from subbase.papers.map_layout import PlacedRun, layout
from subbase.papers.map_model import boxes_of, runs_of
from subbase.papers.tables import changed_conductors
from subbase.papers.wiring_map import wiring_map
from tests.drawn import drawings_of_house
from tests.houses import NAMES, plan_of

Rgb = tuple[float, float, float]
STYLE = Path(__file__).parents[2] / "src/subbase/web/static/page.css"
DTD = Path("/usr/share/xml/w3c-sgml-lib/schema/dtd/REC-SVG11-20110816/svg11.dtd")
"""Debian's package w3c-sgml-lib; see tools/system-packages.sh."""
EYES: dict[str, tuple[Rgb, Rgb, Rgb]] = {
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritan": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
    "grey print": ((0.2126, 0.7152, 0.0722),) * 3,
}
"""On linear sRGB. Machado, Oliveira and Fernandes (2009), severity 1.0: from memory, and as several public programs that
cite the paper hold them; the grey of a print is the luminance of sRGB."""
ALIKE = 20.0
"""CIE 1976 colour difference below which two thin lines may be taken for each other (judgement; 2.3 is just noticeable)."""
BESIDE_PT = 24.0
"""Two rows or two tracks."""


def linear(colour: str) -> Rgb:
    """Return a colour's linear red, green and blue, by the sRGB formula of WCAG 2.2."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return r, g, b


def contrast(a: str, b: str) -> float:
    """Return the contrast ratio of two colours, WCAG 2.2."""
    high, low = sorted((sum(w * c for w, c in zip(EYES["grey print"][0], linear(x), strict=True)) for x in (a, b)), reverse=True)  # fmt: skip
    return (high + 0.05) / (low + 0.05)


def seen(colour: str, eye: str) -> Rgb:
    """Return the CIE 1976 L*, a*, b* (D65) of a colour as an eye sees it."""
    found = [min(1.0, max(0.0, sum(m * c for m, c in zip(row, linear(colour), strict=True)))) for row in EYES[eye]]
    rows = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
    white = (0.9505, 1.0, 1.089)
    x, y, z = (sum(m * c for m, c in zip(row, found, strict=True)) / w for row, w in zip(rows, white, strict=True))
    fx, fy, fz = (t ** (1 / 3) if t > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29 for t in (x, y, z))
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def difference(a: str, b: str, eye: str) -> float:
    """Return how different two colours look to an eye."""
    return math.dist(seen(a, eye), seen(b, eye))


def beside(one: PlacedRun, other: PlacedRun) -> bool:
    """Return whether two runs have pieces that run beside each other within two rows or tracks."""
    for (ax, ay), (bx, by) in pairwise(one.points):
        for (cx, cy), (dx, dy) in pairwise(other.points):
            flat, flat_too = ay == by, cy == dy
            if flat != flat_too:
                continue
            gap = abs(ay - cy) if flat else abs(ax - cx)
            spans = ((ax, bx), (cx, dx)) if flat else ((ay, by), (cy, dy))
            low, high = max(min(s) for s in spans), min(max(s) for s in spans)
            if gap <= BESIDE_PT and high - low > 1.0:
                return True
    return False


@dataclass(frozen=True)
class Look:
    """What tells a conductor apart other than by colour: its labels, and whether it has a stripe."""

    labels: tuple[str, str]
    stripes: tuple[bool, bool]


def look_of(run: PlacedRun) -> Look:
    """Return the look of a run."""
    a, b = run.run.ends
    return Look((a.label, b.label), tuple(bool(insulation_of(end.colour).stripe) for end in (a, b)))  # type: ignore[arg-type]


@pytest.mark.outside(
    source="Machado, Oliveira and Fernandes, IEEE TVCG 15 (2009) 1291-1298; CIE 1976 L*a*b*",
    how="matrices of severity 1.0 applied to every two conductors that lie beside each other on every example",
)
@pytest.mark.parametrize("name", [name for name in NAMES if plan_of(name).survey.cables])
def test_conductors_beside_each_other_are_told_apart_without_colour(name: str) -> None:
    """Where two neighbours may look alike to some eye or in grey, a label at each end or a stripe tells them apart."""
    plan = plan_of(name)
    for survey in (plan.survey, plan.left):
        if survey is None:
            continue
        runs = runs_of(survey, frozenset())
        placed = [run for run in layout(boxes_of(survey, plan.catalog), runs).runs if run.run.kind == "conductor"]
        drawn = {text.text for text in wiring_map(survey, plan.catalog, title="t", changed=frozenset()).texts()}
        neighbours = [(a, b) for a, b in combinations(placed, 2) if beside(a, b)]
        assert neighbours or len(placed) < 2
        for a, b in neighbours:
            colours = [insulation_of(end.colour).base for run in (a, b) for end in run.run.ends]
            least = min(difference(x, y, eye) for eye in EYES for x in colours[:2] for y in colours[2:])
            one, other = look_of(a), look_of(b)
            assert least >= ALIKE or one.labels != other.labels or one.stripes != other.stripes, (name, one, other)
            # The labels are what a person goes by: both ends of both must stand on the drawing in full.
            assert {*one.labels, *other.labels} <= drawn


@pytest.mark.outside(
    source="Machado, Oliveira and Fernandes (2009)", how="the same matrices on every pair of colours of insulation"
)
def test_some_neighbouring_colours_do_look_alike() -> None:
    """The check above has work to do: red and green, or grey and pink, look alike to some eyes or in print."""
    alike = {
        (a, b, eye) for a, b in combinations(sorted(COLOURS), 2) for eye in EYES if difference(COLOURS[a], COLOURS[b], eye) < ALIKE
    }  # fmt: skip
    assert ("green", "red", "grey print") in alike
    assert len({(a, b) for a, b, _ in alike}) > 10


@pytest.mark.outside(source="Machado, Oliveira and Fernandes (2009); WCAG 2.2", how="every base with every stripe")
@pytest.mark.parametrize("eye", EYES)
def test_a_stripe_shows_as_a_stripe_to_every_eye(eye: str) -> None:
    """A tracer differs from its base, or the dark bars at its ends differ from one of the two."""
    for base, stripe in combinations(sorted(set(COLOURS.values())), 2):
        shown = max(difference(base, stripe, eye), difference(base, INK, eye), difference(stripe, INK, eye))
        assert shown >= ALIKE, (base, stripe)


@pytest.mark.outside(
    source="WCAG 2.2, contrast ratio: 21:1 for black on white; 4.54:1 for #767676 on white, the usual boundary example",
    how="the formula checked on both, then on every pair of ink and ground",
)
def test_contrast_of_ink_on_paper_light_and_dark() -> None:
    """Text has at least 4.5:1 and lines at least 3:1 on the ground they lie on, in print, on a light and on a dark page."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=0.05)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    for text in (INK, QUIET):
        for ground in (PAPER, SHADE):
            assert contrast(text, ground) >= 4.5, (text, ground)
    assert contrast(RULE, PAPER) >= 3.0
    style = STYLE.read_text("utf-8")
    schemes = [
        dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", block)) for block in re.findall(r":root \{[^}]*\}", style)
    ]
    assert len(schemes) == 2
    for scheme in schemes:
        for text in ("ink", "quiet", "stop", "link"):
            assert contrast(scheme[text], scheme["paper"]) >= 4.5, (text, scheme)
        assert contrast(scheme["quiet"], scheme["shade"]) >= 4.5
        # The edge of a conductor is drawn in ink: it must show on the page.
        assert contrast(scheme["ink"], scheme["paper"]) >= 3.0


def test_insulation_is_never_the_very_colour_of_ink_or_paper() -> None:
    """On a dark page ink and paper turn by their values; white and black insulation keep their own."""
    assert {*COLOURS.values(), NOT_KNOWN}.isdisjoint({INK, QUIET, PAPER, SHADE, RULE})
    style = STYLE.read_text("utf-8")
    turned = set(
        re.findall(r"\.figure:is\(\.wide, \.narrow, \.map\) svg \[(?:fill|stroke)=\"(#[0-9a-f]{6})\"\]", style)
    )
    assert turned == {INK, QUIET, PAPER, SHADE}


def drawings_of(name: str) -> list[Drawing]:
    """Return every drawing of an example."""
    plan = plan_of(name)
    changed = changed_conductors(plan) if plan.left is not None else frozenset()
    return drawings_of_house(plan.survey, plan.left, plan.catalog, changed) if plan.survey.cables else []


@pytest.mark.outside(
    source="W3C, SVG 1.1 (second edition) DTD, REC-SVG11-20110816",
    how="validated with libxml2; role is WAI-ARIA's and left out",
)
@pytest.mark.parametrize("name", [name for name in NAMES if plan_of(name).survey.cables])
def test_drawings_are_valid_svg(name: str) -> None:
    """Every drawing that is printed or kept is valid by the DTD of SVG 1.1."""
    dtd = etree.DTD(str(DTD))
    for drawing in drawings_of(name):
        root = etree.fromstring(svg(drawing).encode())
        del root.attrib["role"]
        assert dtd.validate(root), (drawing.title, dtd.error_log)


ALLOWED = {
    "svg": {"width", "height", "viewBox", "role", "font-family"},
    "title": set[str](),
    "desc": set[str](),
    "path": {"d", "fill", "stroke", "stroke-width", "stroke-dasharray", "class", "role", "tabindex", "aria-label", "aria-pressed", "data-part", "data-point", "data-conductor", "data-terminal"},
    "rect": {"x", "y", "width", "height", "rx", "fill", "stroke", "stroke-width", "stroke-dasharray", "data-part"},
    "circle": {"cx", "cy", "r", "fill", "stroke", "stroke-width", "data-part"},
    "text": {"x", "y", "font-size", "fill", "text-anchor", "font-weight", "font-style", "data-part"},
}  # fmt: skip
PATH = re.compile(r"M-?[\d.]+ -?[\d.]+( L-?[\d.]+ -?[\d.]+)*( Z)?")
NUMBER = re.compile(r"-?\d+(\.\d{1,2})?")


@pytest.mark.parametrize("name", ["15-zone-panel-three-controls", "06-colours-swapped-at-splice"])
def test_live_drawings_hold_nothing_but_what_is_allowed(name: str) -> None:
    """A drawing for the page has the elements and attributes of ours alone, and every value is of its form."""
    for drawing in drawings_of(name):
        for element in Xml.fromstring(svg(drawing, targets=True)).iter():
            tag = element.tag.rpartition("}")[2]
            assert set(element.attrib) <= ALLOWED[tag], tag
            for key, value in element.attrib.items():
                if key == "d":
                    assert PATH.fullmatch(value)
                elif key in ("fill", "stroke"):
                    assert re.fullmatch(r"none|transparent|#[0-9a-f]{6}", value)
                elif key in ("x", "y", "cx", "cy", "r", "rx", "font-size", "stroke-width"):
                    assert NUMBER.fullmatch(value)
