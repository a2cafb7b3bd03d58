"""The Survey stage by its forms alone: a house entered, faults that lead to their field, two phones, photos, undo."""

from __future__ import annotations

import io
import re
from html import unescape
from pathlib import Path
from urllib.parse import unquote

import pytest
from PIL import Image

from subbase.catalog import load_catalog
from subbase.journal import new_key
from subbase.plan import make_plan
from subbase.survey import read_survey
from subbase.web.survey_document import joined, read_document
from tests.houses import EXAMPLES
from tests.web_forms import HOUSE, LANDED, Form, Phone, new_phone, read

CATALOG = load_catalog()


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    """A phone at a new job."""
    return new_phone(tmp_path)


def field(name: str, form: Form) -> str:
    """Return what a field would send."""
    return next(value for found, value in form.sends if found == name)


def enter_house(phone: Phone) -> None:
    """Enter the house of eight conductors by forms alone."""
    form = phone.form()
    form.tick("s/signs", "none of these")
    phone.press(joined("add-equipment", "gas-furnace-1"), form)
    phone.press(joined("add-equipment", "condensing-unit-1"))
    phone.press(joined("add-control", "hall"))
    phone.press(joined("terminals", "hall", "old", "R", "W", "Y", "G"))
    phone.press(joined("terminals", "hall", "new", "R", "C", "W1", "W2", "Y1", "Y2", "G", "O/B"))
    for cable, wires in LANDED.items():
        form = phone.form()
        form.set("f/controls/hall/old/power", "battery")
        phone.press(joined("add-cable", *cable.split(" to ")), form)
        for wire in wires:
            phone.press(joined("add-conductor", cable, wire))
    form = phone.form()
    for cable, wires in LANDED.items():
        form.set(joined("f", "cables", cable, "length"), "38" if "hall" in cable else "24")
        for wire, ends in wires.items():
            for end, terminal in zip(("from", "to"), ends, strict=True):
                form.set(joined("w", cable, wire, end), terminal)
    phone.press("", form)


def test_a_house_entered_without_javascript_gives_the_plan_of_the_same_survey_as_text(phone: Phone) -> None:
    """Eight conductors in two cables by forms: the plan is the one of the survey written by hand."""
    enter_house(phone)
    entered = make_plan(read_survey(phone.text.encode(), "", CATALOG))
    written = make_plan(read_survey(HOUSE.encode(), "", CATALOG))
    assert entered.verdict == "planned"
    assert entered == written
    assert "Planned: " in phone.page()


def test_where_a_conductor_lands_is_never_guessed_from_its_colour(phone: Phone) -> None:
    """A red conductor that was only just added is not known to land anywhere."""
    enter_house(phone)
    phone.press(joined("add-conductor", "furnace to outdoor", "green"))
    form = phone.form()
    assert {field(joined("w", "furnace to outdoor", "green", end), form) for end in ("from", "to")} == {"unknown"}
    assert "Where does green of the cable furnace to outdoor land" in phone.page()


def test_a_striped_conductor_is_added_by_two_colours(phone: Phone) -> None:
    """Base and stripe make one name; a stripe of the base's own colour adds nothing."""
    enter_house(phone)
    form = phone.form()
    form.set("x/base/hall to furnace", "white")
    form.set("x/stripe/hall to furnace", "orange")
    phone.press(joined("add-conductor", "hall to furnace"), form)
    assert "white-orange: unknown" in phone.text
    before = phone.text
    form = phone.form()
    form.set("x/base/hall to furnace", "white")
    form.set("x/stripe/hall to furnace", "white")
    phone.press(joined("add-conductor", "hall to furnace"), form)
    assert phone.text == before


def test_stop_signs_are_asked_first_and_stop_the_plan(phone: Phone) -> None:
    """The first question of an empty page is about signs; one of them gives a stop, and that none was seen is kept."""
    assert phone.page().index("Do you see any of these") < phone.page().index("Add equipment")
    enter_house(phone)
    assert (read_document(phone.text) or {})["signs"] == []
    form = phone.form()
    form.sends.remove(("s/signs", "none of these"))
    form.tick("s/signs", "thick conductors")
    phone.press("", form)
    assert 'verdict stopped"' in phone.page()
    assert "Treat it as live mains" in phone.page()


@pytest.mark.parametrize(
    ("wrong", "place"),
    [
        ("length: 38", "f-cables.hall_to_furnace.length"),
        ("white: W", "f-cables.hall_to_furnace.conductors.white.to"),
        ("kind: gas-furnace-1", "f-equipment.furnace.kind"),
        ("power: battery", "f-controls.hall.old.power"),
    ],
)
def test_a_fault_leads_to_its_field(phone: Phone, wrong: str, place: str) -> None:
    """What is wrong is told with a link to the place on the page where it is put right."""
    word = wrong.split(": ", maxsplit=1)[0]
    phone.write(HOUSE.replace(wrong, f"{word}: nonsense"))
    page = phone.page()
    links = {unquote(unescape(link)) for link in re.findall(r'<li><a href="#([^"]*)"', page)}
    assert place in links
    assert links <= set(read(page).ids)


def test_a_text_that_is_no_yaml_is_kept_and_shown_with_its_line(phone: Phone) -> None:
    """A text that cannot be read at all is kept as typed, and the survey page shows it with the fault's line."""
    phone.write("survey: 1\nname: [oh\n")
    assert phone.text == "survey: 1\nname: [oh\n"
    page = phone.page()
    assert "Line 3" in page
    assert "name: [oh" in page


def test_a_form_sent_to_a_text_that_cannot_be_read_changes_nothing(phone: Phone) -> None:
    """The text waits to be put right; a form from before is not laid over it."""
    enter_house(phone)
    phone.write("survey: [")
    assert phone.post("survey", [("f/notes", "x"), ("do", "")]).status_code == 200
    assert phone.text == "survey: ["


def test_a_survey_goes_out_and_comes_in_as_a_file(phone: Phone) -> None:
    """A file downloaded and uploaded again is the same text; one that is no text is refused in words."""
    text = (EXAMPLES / "02-four-conductors-all-used.yaml").read_bytes()
    path = f"/jobs/{phone.job}/survey/file"
    answer = phone.client.post(path, data={"key": new_key()}, files={"file": ("house.yaml", text)})
    assert answer.status_code == 200
    assert phone.text.encode() == text
    refused = phone.client.post(path, data={"key": new_key()}, files={"file": ("cat.jpg", b"\xff\xd8\xff\x00")})
    assert refused.status_code == 422
    assert "not UTF-8 text" in refused.text
    assert phone.text.encode() == text


def test_two_phones_on_different_parts_lose_nothing(phone: Phone) -> None:
    """Two forms from the same moment, each with a change of its own: both changes are there, and no question."""
    phone.write(HOUSE)
    one, two = phone.form(), phone.form()
    one.set("f/cables/hall%20to%20furnace/length", "40")
    two.set("w/furnace%20to%20outdoor/red/to", "cut short")
    phone.press("", one)
    phone.press("", two)
    assert "length: 40" in phone.text
    assert "to: cut short" in phone.text
    assert "Two people said different things" not in phone.page()


@pytest.mark.parametrize(("choice", "left"), [("0/ours", "40"), ("0/theirs", "55")])
def test_two_phones_that_disagree_are_both_shown_and_settled(phone: Phone, choice: str, left: str) -> None:
    """Of one field with two values both are shown; a tap settles it either way."""
    phone.write(HOUSE)
    one, two = phone.form(), phone.form()
    one.set("f/cables/hall%20to%20furnace/length", "40")
    two.set("f/cables/hall%20to%20furnace/length", "55")
    phone.press("", one)
    phone.press("", two)
    page = phone.page()
    assert "Keep: 40" in page
    assert "Take: 55" in page
    assert phone.post("survey/settle", [("key", new_key()), ("choice", choice)]).status_code == 200
    assert f"length: {left}" in phone.text
    assert "Two people said different things" not in phone.page()


def test_a_form_sent_twice_counts_once(phone: Phone) -> None:
    """The same form with the same key, sent again, adds no second entry."""
    phone.write(HOUSE)
    form = phone.form()
    form.set("f/notes", "dark")
    for _ in range(2):
        phone.press("", form)
    assert read(phone.page("history")).headings
    assert phone.page("history").count("Survey: notes") == 1


def test_an_edit_is_undone_from_the_history_and_brought_back(phone: Phone) -> None:
    """Undo is an entry: it takes an edit back, and undone itself it brings the edit back."""
    phone.write(HOUSE)
    form = phone.form()
    form.set("f/notes", "dark")
    phone.press("", form)
    for expected in (False, True):
        target = next(form for form in read(phone.page("history")).forms if form.action.endswith("/undo"))
        assert phone.post("history/undo", target.sends).status_code == 200
        assert ("dark" in phone.text) is expected


def picture() -> bytes:
    """Return a photo that says where and when it was taken."""
    image, hidden = Image.new("RGB", (64, 48), "teal"), Image.Exif()
    hidden[0x8825] = {1: "N", 2: (48.0, 51.0, 29.0)}
    hidden[0x0132] = "2026:03:05 12:00:00"
    held = io.BytesIO()
    image.save(held, "JPEG", exif=hidden)
    return held.getvalue()


def test_a_photo_is_shown_beside_what_it_documents_without_its_location(phone: Phone) -> None:
    """The photo stands in the card of the cable it shows, carries no hidden data, and can be taken off."""
    phone.write(HOUSE)
    assert Image.open(io.BytesIO(picture())).getexif()
    path = f"/jobs/{phone.job}/photos"
    data = {"key": new_key(), "shows": "hall to furnace.red"}
    assert phone.client.post(path, data=data, files={"photo": ("a.jpg", picture())}).status_code == 200
    page = phone.page()
    wire = page[page.index('data-wire="hall%20to%20furnace/red"') :]
    assert "/photos/" in wire[: wire.index("</h4>")]
    shown = re.search(r"/photos/[0-9a-f]{64}\.jpg", page)
    assert shown is not None
    kept = phone.client.get(f"/jobs/{phone.job}{shown[0]}")
    assert kept.headers["content-type"] == "image/jpeg"
    assert not Image.open(io.BytesIO(kept.content)).getexif()
    assert b"Exif" not in kept.content
    form = next(form for form in read(page).forms if form.action.endswith("/photos/remove"))
    assert phone.post("photos/remove", form.sends).status_code == 200
    assert "/photos/" + shown[0][8:] not in phone.page()


def test_what_is_no_picture_is_refused(phone: Phone) -> None:
    """A file that only calls itself a photo is told so, and nothing is kept."""
    answer = phone.client.post(
        f"/jobs/{phone.job}/photos", data={"key": new_key()}, files={"photo": ("a.jpg", b"<svg onload=x>")}
    )
    assert answer.status_code == 422
    assert "no JPEG, PNG or WebP" in answer.text


def test_a_live_answer_is_the_form_alone(phone: Phone) -> None:
    """With X-Part the same save answers with the form and what can be said of it, not with a whole page."""
    phone.write(HOUSE)
    form = phone.form()
    form.set("w/hall%20to%20furnace/red/from", "loose")
    answer = phone.client.post(f"/jobs/{phone.job}/survey", data=dict(form.sends), headers={"X-Part": "form"})
    assert answer.status_code == 200
    assert "<html" not in answer.text
    assert 'id="judged"' in answer.text


def test_a_reading_and_a_jumper_are_added_and_taken_out(phone: Phone) -> None:
    """Rows come and go by buttons; a reading that cannot be is told at once."""
    phone.write(HOUSE)
    form = phone.form()
    form.set("x/jumper/0", "furnace.Y")
    form.set("x/jumper/1", "furnace.G")
    phone.press("add-jumper", form)
    assert (read_document(phone.text) or {})["jumpers"] == [["furnace.Y", "furnace.G"]]
    form = phone.form()
    form.set("f/jumpers/0/present", "unknown")
    phone.press("remove/jumpers/0", form)
    form = phone.form()
    for name, value in (("x/reading/0", "hall.R"), ("x/reading/1", "hall.W"), ("x/reading/value", "0")):
        form.set(name, value)
    phone.press("add-reading", form)
    document = read_document(phone.text) or {}
    assert "jumpers" not in document
    assert document["readings"] == [{"between": ["hall.R", "hall.W"], "volts": "0"}]
    assert "A reading and the survey disagree" in phone.page()


@pytest.mark.parametrize(
    "name", ["", "02-four-conductors-all-used", "12-heat-pump-with-strips", "16-reading-contradicts"]
)
def test_every_field_has_a_label_and_headings_go_down_step_by_step(phone: Phone, name: str) -> None:
    """Labels for all fields, no id twice, no heading level left out; on the form, the text and the history."""
    if name:
        phone.write((EXAMPLES / f"{name}.yaml").read_text())
    for path in ("survey", "survey/text", "history"):
        found = read(phone.page(path))
        assert found.unlabelled == []
        assert len(found.ids) == len(set(found.ids))
        assert found.headings[0] == 1
        assert all(after <= before + 1 for before, after in zip(found.headings, found.headings[1:], strict=False))
