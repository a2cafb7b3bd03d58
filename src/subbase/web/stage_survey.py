"""The Survey stage: the form, its buttons, the survey as text and as a file, and what two phones said differently."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, File, Form, HTTPException, Request, Response, UploadFile
from markupsafe import Markup
from starlette.datastructures import FormData

from subbase.errors import Fault, InputError
from subbase.journal import fold, new_key
from subbase.journal.bodies import SurveyEdited
from subbase.journal.fold import Conflict
from subbase.journal.merge import WHOLE, fields_changed, text_hash
from subbase.papers.insulation import insulation_of
from subbase.survey.shorthand import COLOURS
from subbase.survey.yaml_tree import MOST_BYTES, plain_words, visible
from subbase.web.asking import JobHere, KeyField, OfficeHere, go, keep
from subbase.web.jobs import JobView, Office
from subbase.web.looks import html, page
from subbase.web.survey_acts import act
from subbase.web.survey_document import Document, at, document_text, put, read_document
from subbase.web.survey_form import with_fields
from subbase.web.survey_judged import judged, linked
from subbase.web.survey_photos import photos_by_part
from subbase.web.survey_view import view_of
from subbase.words import _

router = APIRouter()
MOST_FIELDS = 6000
MOST_WORDS = 3
LOOKS = tuple(sorted({insulation_of(colour).base for colour in ("", *COLOURS)}))
"""Every look of insulation of one colour, drawn once on a page."""
Pairs = list[tuple[str, str]]


async def sent(request: Request) -> Pairs:
    """Return what a form sent, in its order, files left out."""
    form: FormData = await request.form(max_fields=MOST_FIELDS, max_files=0)
    return [(name, value) for name, value in form.multi_items() if isinstance(value, str)]


Sent = Annotated[Pairs, Depends(sent)]


def typed(fields: Sent) -> Pairs:
    """Return what a form sent without characters that nobody sees: a paste can bring them, and no survey may hold them."""
    return [(visible(name), visible(value)) for name, value in fields]


Typed = Annotated[Pairs, Depends(typed)]


@router.get("/jobs/{job}/survey")
def survey_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the survey as a form, with what can be said of it now."""
    document = read_document(view.state.survey.text, view.state.name)
    if document is None:
        return _text_page(request, view, office)
    body = _body(request, view, office, document)
    return page(request, "survey.html", job=view, body=body, parts=_parts(document))


@router.post("/jobs/{job}/survey")
def save_survey(request: Request, view: JobHere, office: OfficeHere, fields: Typed) -> Response:
    """Keep what the form says, do what its button says, and show the form again.

    With the header ``X-Part`` the answer is the form alone, so that a page can put it in its own place.
    """
    inputs = dict(fields)
    base = _text_made_on(view, inputs)
    document = read_document(base, view.state.name)
    if document is None:
        return go(f"/jobs/{view.id}/survey/text")
    made = with_fields(document, fields)
    made, place = act(made, inputs.get("do", ""), inputs, office.catalog)
    if made != document or not base:
        _keep_text(request, view, office, (base, document_text(made)), inputs)
    if request.headers.get("x-part"):
        fresh = office.job(view.id)
        left = read_document(fresh.state.survey.text, fresh.state.name)
        if left is not None:
            return Response(_body(request, fresh, office, left), media_type="text/html; charset=utf-8")
    return go(f"/jobs/{view.id}/survey{'#' + quote(place) if place else ''}")


@router.get("/jobs/{job}/survey/text")
def survey_text(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the survey as text, with its faults by line."""
    return _text_page(request, view, office)


@router.post("/jobs/{job}/survey/text")
def save_text(request: Request, view: JobHere, office: OfficeHere, fields: Sent) -> Response:
    """Keep the survey's text as typed, also when it cannot be read."""
    inputs = dict(fields)
    text = inputs.get("text", "").replace("\r\n", "\n")
    base = _text_seen(view, inputs.get("seen", ""))
    if text != base:
        _keep_text(request, view, office, (base, text), inputs)
    return go(f"/jobs/{view.id}/survey/text")


@router.post("/jobs/{job}/survey/file")
def take_file(
    request: Request, view: JobHere, office: OfficeHere, key: KeyField, file: Annotated[UploadFile, File()]
) -> Response:
    """Put a survey file in place of the text; the text before stays in the history.

    Raises
    ------
    InputError
        When it is too large or no text.
    """
    name = plain_words(file.filename or "survey")
    raw = file.file.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        message = _("The file is larger than {most} bytes; a survey never is.").format(most=MOST_BYTES)
        raise InputError((Fault(message, file=name),))
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise InputError((Fault(_("The file is not UTF-8 text; save it as UTF-8."), file=name),)) from None
    inputs = {"key": key, "what": _("file {name}").format(name=name), "seen": str(view.state.sequence)}
    _keep_text(request, view, office, (view.state.survey.text, text), inputs)
    return go(f"/jobs/{view.id}/survey/text" if read_document(text) is None else f"/jobs/{view.id}/survey")


@router.get("/jobs/{job}/survey/survey.yaml")
def give_file(view: JobHere) -> Response:
    """Return the survey as a file."""
    headers = {"Content-Disposition": 'attachment; filename="survey.yaml"'}
    return Response(view.state.survey.text, media_type="application/yaml; charset=utf-8", headers=headers)


@router.post("/jobs/{job}/survey/settle")
def settle(
    request: Request,
    view: JobHere,
    office: OfficeHere,
    key: KeyField,
    choice: Annotated[str, Form(pattern=r"^\d{1,4}/(ours|theirs)$")],
) -> Response:
    """Settle one field that two people said differently: leave what stands, or take the other."""
    number, _slash, which = choice.partition("/")
    conflicts = view.state.survey.conflicts
    if int(number) >= len(conflicts):
        raise HTTPException(404, "There is no such difference; it may have been settled meanwhile")
    conflict = conflicts[int(number)]
    text = view.state.survey.text
    if which == "theirs":
        text = _theirs(text, conflict)
    body = {
        "kind": "survey_edited",
        "text": text,
        "base": view.state.survey.sha256,
        "what": _("settled: {field}").format(field=conflict.clash.field or _("the whole text"))[:200],
        "settles": [conflict.clash.field],
    }
    keep(request, office, view, {key: body})
    return go(f"/jobs/{view.id}/survey")


# --- pages -----------------------------------------------------------------------------------------------------------


def _body(request: Request, view: JobView, office: Office, document: Document) -> Markup:
    # A survey that is empty yet bears the job's name.
    shown = office.shown_once(f"form {view.state.name}", view, lambda: view_of(document, office.catalog))
    photos = photos_by_part(view.state.photos)
    form = html(
        request,
        "survey_form.html",
        job=view,
        view=shown,
        photos=photos,
        state=view.state,
        look=insulation_of,
        looks=LOOKS,
    )
    found = linked(judged(office, view), form)
    said = html(request, "survey_judged.html", job=view, found=found, conflicts=_conflicts(view))
    # Both were made by templates that escape.
    return Markup(f'<div class="survey-columns">{form}{said}</div>')


def _parts(document: Document) -> tuple[tuple[str, str], ...]:
    """Return what a photo may show: (name in the journal, words)."""
    places = [(name, name) for group in ("controls", "equipment", "transformers") for name in document.get(group) or ()]
    wires = [
        (f"{cable}.{wire}", _("{wire} of {cable}").format(wire=wire, cable=cable))
        for cable in document.get("cables") or ()
        for wire in at(document, "cables", cable, "conductors") or ()
    ]
    return tuple(places + [(cable, cable) for cable in document.get("cables") or ()] + wires)


def _text_page(request: Request, view: JobView, office: Office) -> Response:
    text = view.state.survey.text or document_text(read_document("", view.state.name) or {})
    readable = read_document(view.state.survey.text) is not None
    return page(
        request,
        "survey_text.html",
        job=view,
        text=text,
        readable=readable,
        found=judged(office, view),
        conflicts=_conflicts(view),
    )


def _conflicts(view: JobView) -> Sequence[tuple[Conflict, str]]:
    return [(conflict, conflict.edit.actor or conflict.edit.device) for conflict in view.state.survey.conflicts]


# --- keeping ---------------------------------------------------------------------------------------------------------


def _text_made_on(view: JobView, inputs: dict[str, str]) -> str:
    """Return the text that a form was made on: of an edit that waited on a phone before it, else what its page showed."""
    after = inputs.get("after", "")
    edits = (line.event for line in view.state.history if after and line.event.key == after)
    texts = (event.body.text for event in edits if isinstance(event.body, SurveyEdited))
    return next(texts, None) or _text_seen(view, inputs.get("seen", ""))


def _text_seen(view: JobView, seen: str) -> str:
    """Return the survey text that a form was made from, so that an edit is held against what its maker saw."""
    number = int(seen) if seen.isdigit() and len(seen) < 10 else view.state.sequence
    if number >= view.state.sequence:
        return view.state.survey.text
    return fold(line.event for line in view.state.history if 0 < line.event.sequence <= number).survey.text


def _keep_text(request: Request, view: JobView, office: Office, texts: tuple[str, str], inputs: dict[str, str]) -> None:
    before, after = texts
    body = {
        "kind": "survey_edited",
        "text": after,
        "base": text_hash(before) if before else "",
        "what": inputs.get("what") or _what(before, after),
    }
    seen = inputs.get("seen", "")
    number = min(int(seen), view.state.sequence) if seen.isdigit() and len(seen) < 10 else view.state.sequence
    keep(request, office, view, {inputs.get("key") or new_key(): body}, seen=number)


def _what(before: str, after: str) -> str:
    """Return what an edit changed, in a few words."""
    fields = fields_changed(before, after)
    if fields is None:
        return _("text")
    leaves = sorted(field for field in fields if not any(other.startswith(f"{field}.") for other in fields))
    if len(leaves) > MOST_WORDS:
        return _("{count} fields").format(count=len(leaves))
    shown = ", ".join(leaf.replace(".", " ") for leaf in leaves)
    return shown if len(shown) <= 200 else f"{shown[:190]} ..."


def _theirs(text: str, conflict: Conflict) -> str:
    """Return the text with the later edit's value of one field."""
    theirs = str(getattr(conflict.edit.body, "text", ""))
    document, other = read_document(text), read_document(theirs)
    if conflict.clash.field == WHOLE or document is None or other is None:
        return theirs
    path = _path(conflict.clash.field, document) or _path(conflict.clash.field, other)
    return document_text(put(document, path, at(other, *path))) if path else text


def _path(field: str, document: Document) -> tuple[str, ...]:
    """Return the steps of a field written with dots; names may hold dots themselves."""

    def search(steps: list[str], here: object) -> tuple[str, ...] | None:
        if not steps:
            return ()
        for count in range(1, len(steps) + 1):
            name = ".".join(steps[:count])
            if isinstance(here, dict) and name in here:
                rest = search(steps[count:], here[name])
                if rest is not None:
                    return (name, *rest)
        return None

    return search(field.split("."), document) or ()
