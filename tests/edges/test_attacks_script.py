"""Stored script: a job in which every word that a person may write is an attack, and every page that shows it.

Content Security Policy would stop such a script from running; here nothing of it may become a part of a page at all.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

import pikepdf
import pytest
import yaml
from lxml import etree, html
from pypdf import PdfReader

from subbase.journal.bodies import HandedOver, NoteMade, PersonPresent
from subbase.journal.events import Entry, new_key
from tests.houses import EXAMPLES
from tests.web_jobs import Visitor, visiting

LINE = """</script><xp onxp="1">'"`${7}{{7*7}}]]>--><!--"""
"""Breaks out of an element, an attribute, a script, CDATA and a comment, wherever one of these is open."""
TYPESET = '#read("etc")*b*$x$'
"""Would read a file, and set type, if the typesetter took it for its own language."""
NAME = """'"><xp onxp='1'>`$"""
"""The same for names, which hold no dot and no stroke; a letter after it tells them apart."""
PAGES = (
    "survey", "survey/text", "survey/rooms", "survey/rooms/verdict", "plan", "plan/live", "work", "work/steps", "check",
    "check/fault", "tune", "hand-over", "history", "field-file",
)  # fmt: skip
NAMED = ("hall", "handler", "outdoor", "pan switch", "wall", "outside")
"""What the example names itself: places and cables."""


def poisoned(data: Any) -> Any:
    """Return a survey with its own names, and every line in words, replaced by attacks."""
    if isinstance(data, dict):
        return {renamed(str(key)): words(str(key), value) for key, value in data.items()}
    if isinstance(data, list):
        return [poisoned(item) for item in data]
    return renamed(data) if isinstance(data, str) else data


def words(key: str, value: Any) -> Any:
    """Return a value; what a field holds in words of one's own is an attack."""
    if key == "name":
        return TYPESET
    if key == "at" and value not in NAMED:
        return LINE
    return poisoned(value)


def renamed(text: str) -> str:
    """Return a name, or a terminal of a named place, with the name replaced."""
    place, dot, terminal = text.partition(".")
    return f"{NAME}{NAMED.index(place)}{dot}{terminal}" if place in NAMED else text


def poisoned_rooms() -> str:
    """Return rooms whose names, places and furniture are attacks."""
    text = (EXAMPLES / "rooms" / "01-hall-between-two-rooms.yaml").read_text("utf-8")
    site = text[text.index("\nsite:") :]
    for number, name in enumerate(("living room", "study", "hall, inside wall", "by the flue"), start=10):
        site = site.replace(f" {name}", " '{}'".format(f"{NAME}{number}".replace("'", "''")))
    return site.replace("what: sofa", "what: '{}'".format(f"{NAME}14".replace("'", "''")))


def attacks(markup: bytes) -> list[str]:
    """Return what of the attacks became elements or attributes of a page or a drawing."""
    root = html.document_fromstring(markup)
    elements = [element for element in root.iter() if isinstance(element.tag, str)]
    assert len(elements) > 5
    found = [str(element.tag) for element in elements if element.tag == "xp"]
    found += [name for element in elements for name in map(str, element.attrib) if name.startswith("on")]
    for script in root.iter("script"):
        if script.text and "json" in script.get("type", ""):
            json.loads(script.text)
        else:
            found += ["script in a page"] if script.text and "xp" in script.text and "7*7" in script.text else []
    return found + (["a template was filled in"] if b"'\"`${7}49" in markup else [])


@pytest.fixture(scope="module")
def visitor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    """A job of a heat pump and of rooms, all of its words attacks."""
    house = yaml.safe_load((EXAMPLES / "12-heat-pump-with-strips.yaml").read_text("utf-8"))
    text = yaml.safe_dump(poisoned(house), sort_keys=False, allow_unicode=True) + poisoned_rooms()
    with visiting(tmp_path_factory.mktemp("attacked"), LINE, text) as found:
        for body in (NoteMade(text=LINE), HandedOver(to=LINE, note=LINE), PersonPresent(name=LINE)):
            entry = Entry(key=new_key(), actor=LINE, device=LINE, made_at=datetime.now(tz=UTC), body=body)
            found.journal.append(found.job, [entry])
        yield found


@pytest.mark.parametrize("page", PAGES)
def test_nothing_that_was_written_becomes_part_of_a_page(visitor: Visitor, page: str) -> None:
    """Names, places, notes, people and the job's own name stand on every page as text."""
    answer = visitor.get(page)
    assert answer.status_code == 200, answer.text[:500]
    assert attacks(answer.content) == []
    assert "xp onxp" in answer.text  # it is there, as text


def test_the_plan_is_made_all_the_same(visitor: Visitor) -> None:
    """The attacks hide nothing: the house is planned as it is under its own names."""
    assert "Planned" in visitor.get("plan").text


@pytest.mark.parametrize("paper", ["wiring-found.svg", "wiring-left.svg", "ladder-left.svg"])
def test_nothing_that_was_written_becomes_part_of_a_drawing(visitor: Visitor, paper: str) -> None:
    """A drawing opened by itself is a document of its own: it is well-formed, and has no script and no way out."""
    answer = visitor.get(f"papers/{paper}")
    assert answer.status_code == 200
    root = etree.fromstring(answer.content)
    names = {etree.QName(element).localname for element in root.iter() if isinstance(element.tag, str)}
    assert names <= {"svg", "title", "desc", "g", "path", "rect", "circle", "text", "tspan", "style"}
    assert not [name for element in root.iter() for name in element.attrib if "href" in name or name.startswith("on")]
    assert "xp onxp" in answer.text


def test_what_a_name_says_is_not_carried_out_by_the_typesetter(visitor: Visitor) -> None:
    """The packet shows the attacks as text; it has no script, no address to go to and no file inside."""
    answer = visitor.get("papers/packet.pdf")
    assert answer.status_code == 200
    with pikepdf.open(BytesIO(answer.content)) as pdf:
        kinds = {
            str(item.get(key))
            for item in pdf.objects
            if isinstance(item, pikepdf.Dictionary)
            for key in ("/S", "/Type")
            if item.get("/S") in ("/JavaScript", "/URI", "/Launch", "/SubmitForm", "/GoToR", "/ImportData")
            or item.get("/Type") == "/EmbeddedFile"
        }
        assert kinds == set()
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages)
    assert TYPESET in text.replace("\u200b", "")
