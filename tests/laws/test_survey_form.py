"""Laws of survey entry: a form sent back untouched changes nothing, edits keep what they do not know, names can go and come."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from subbase.catalog import load_catalog
from subbase.survey import read_survey
from subbase.survey.rooms import Site
from subbase.web.survey_acts import act
from subbase.web.survey_document import at, document_text, joined, named, put, read_document, split
from subbase.web.survey_form import with_fields
from subbase.web.survey_names import removed, renamed
from subbase.web.survey_view import view_of
from subbase.web.survey_wires import ENDS, landing, with_landing
from tests.houses import EXAMPLES, NAMES
from tests.web_forms import Phone, new_phone

CATALOG = load_catalog()
EVERY = {name: read_document((EXAMPLES / f"{name}.yaml").read_text()) or {} for name in NAMES}
houses = st.sampled_from(sorted(EVERY)).map(lambda name: EVERY[name])
texts = st.text(max_size=12)
steps = st.lists(texts, min_size=1, max_size=5).map(tuple)


@pytest.fixture(scope="module")
def phone(tmp_path_factory: pytest.TempPathFactory) -> Phone:
    """One job that takes one house after another."""
    return new_phone(tmp_path_factory.mktemp("form"))


@pytest.mark.parametrize("name", NAMES)
def test_a_form_sent_back_untouched_changes_nothing(phone: Phone, name: str) -> None:
    """The page of any house, sent back as it came, leaves the text as it was, to the letter."""
    text = (EXAMPLES / f"{name}.yaml").read_text()
    phone.write(text)
    assert phone.text == text
    phone.press("")
    assert phone.text == text


@given(houses, st.data())
def test_landing_an_end_says_so_and_moves_nothing_else(document: dict[str, Any], data: st.DataObject) -> None:
    """After an end is landed it is where it was put, and every other end is where it was."""
    wires = [(c, w) for c in named(document, "cables") for w in named(document, "cables", c, "conductors")]
    if not wires:
        return
    cable, wire = data.draw(st.sampled_from(wires))
    end = data.draw(st.sampled_from(ENDS))
    value = data.draw(st.sampled_from(["R", "C", "loose", "cut short", "unknown", "joint 1"]))
    made = with_landing(document, (cable, wire, end), value)
    for c, w in wires:
        for e in ENDS:
            expected = value if (c, w, e) == (cable, wire, end) else landing(document, c, w, e)
            assert landing(made, c, w, e) == expected
    assert with_landing(made, (cable, wire, end), value) == made


@given(houses, st.data())
def test_a_name_changed_and_changed_back_leaves_the_house_as_it_was(
    document: dict[str, Any], data: st.DataObject
) -> None:
    """A place named anew is spoken of by its new name everywhere, so that naming it back restores the document."""
    group = data.draw(st.sampled_from([g for g in ("controls", "equipment", "cables") if named(document, g)]))
    old = data.draw(st.sampled_from(sorted(named(document, group))))
    made = renamed(document, group, old, "new name")
    assert old not in named(made, group)
    assert renamed(made, group, "new name", old) == document
    read_survey(document_text(made).encode(), "renamed", CATALOG)


@given(houses, st.data())
def test_a_place_taken_out_leaves_a_house_that_says_nothing_of_it(
    document: dict[str, Any], data: st.DataObject
) -> None:
    """With equipment go its cables, jumpers and readings."""
    place = data.draw(st.sampled_from(sorted(named(document, "equipment")) or ["nothing"]))
    made = removed(document, ("equipment", place))
    ends = [cable.get(end) for cable in named(made, "cables").values() for end in ENDS]
    assert place not in ends
    assert not any(f"{place}." in str(row) for row in [*made.get("jumpers", []), *made.get("readings", [])])


@given(houses, st.lists(st.tuples(st.sampled_from(["f", "s", "p", "w", "c", "t", "n", "x"]), steps, texts), max_size=4))
def test_no_field_that_a_stranger_sends_breaks_the_form(
    document: dict[str, Any], sent: list[tuple[str, Any, str]]
) -> None:
    """Fields of no known path are passed over, and the page can be made of whatever comes out."""
    made = with_fields(document, [(joined(sort, *path), value) for sort, path, value in sent])
    assert view_of(made, CATALOG) is not None


@given(
    houses, st.sampled_from(["add-cable", "add-conductor", "terminals", "remove", "add-equipment", "replace"]), steps
)
def test_no_button_that_a_stranger_sends_breaks_the_form(document: dict[str, Any], what: str, args: Any) -> None:
    """A button of no known thing leaves a document that the page can still show."""
    made, _place = act(document, joined(what, *args), {}, CATALOG)
    assert view_of(made, CATALOG) is not None


json_like = st.recursive(
    st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)
WORDS = ("name", "units", "place", "signs", "equipment", "transformers", "controls", "cables", "jumpers", "readings")


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.sampled_from(WORDS), st.dictionaries(st.text(max_size=4), json_like, max_size=2) | json_like))
def test_any_document_can_be_shown(document: dict[str, Any]) -> None:
    """A survey that holds the wrong sort of thing anywhere still has a page on which it can be put right."""
    assert view_of(document, CATALOG) is not None


@given(steps)
def test_names_of_fields_hold_any_step(path: tuple[str, ...]) -> None:
    """A path comes back out of a field's name as it went in."""
    assert split(joined(*path)) == path


@given(houses, st.text(alphabet="abc xyz-", min_size=1, max_size=8), texts)
def test_what_is_put_is_there_and_the_rest_is_kept(document: dict[str, Any], word: str, value: str) -> None:
    """A part put in is found again, and taken out again it leaves the document as it was."""
    made = put(document, ("unheard of " + word,), value)
    assert at(made, "unheard of " + word) == value
    assert put(made, ("unheard of " + word,), None) == document


def test_what_the_form_does_not_know_is_kept(tmp_path: Path) -> None:
    """Rooms, how facts are known, and fields of a later version survive an edit by form."""
    phone = new_phone(tmp_path)
    assert "rooms" in Site.model_fields
    more = "known: {cables.wall.length: measured}\nsite:\n  rooms: {}\nlater: {a: [1, 2]}\n"
    phone.write((EXAMPLES / f"{NAMES[0]}.yaml").read_text() + more)
    before = read_document(phone.text) or {}
    form = phone.form()
    form.set("f/notes", "under the stairs")
    phone.press("", form)
    after = read_document(phone.text) or {}
    assert after.pop("notes") == "under the stairs"
    before.pop("notes", None)
    assert after == before
