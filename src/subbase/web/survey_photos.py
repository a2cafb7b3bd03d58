"""Photos of a job: from the camera, made harmless, shown beside the wiring that they document."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

from fastapi import APIRouter, File, Form, HTTPException, Request, Response, UploadFile

from subbase.journal.bodies import PhotoAdded
from subbase.journal.fold import Record
from subbase.journal.photos import MOST_BYTES, clean_photo
from subbase.survey.yaml_tree import plain_words
from subbase.web.asking import JobHere, KeyField, OfficeHere, go, keep

router = APIRouter()


@router.post("/jobs/{job}/photos")
def add_photo(
    request: Request,
    view: JobHere,
    office: OfficeHere,
    key: KeyField,
    photo: Annotated[UploadFile, File()],
    shows: Annotated[list[str] | None, Form(max_length=50)] = None,
) -> Response:
    """Keep a photo without its location and other hidden data.

    Raises
    ------
    InputError
        When it is no picture, or too large.
    """
    clean = clean_photo(photo.file.read(MOST_BYTES + 1), file=plain_words(photo.filename or ""))
    body = {
        "kind": "photo_added",
        "photo": office.journal.put_photo(view.id, clean),
        "mime": clean.mime,
        "size": len(clean.data),
        "width": clean.width,
        "height": clean.height,
        "shows": [name for name in shows or () if name.strip()],
    }
    keep(request, office, view, {key: body})
    return go(f"/jobs/{view.id}/survey#photos")


@router.post("/jobs/{job}/photos/remove")
def remove_photo(
    request: Request, view: JobHere, office: OfficeHere, key: KeyField, added: Annotated[str, Form(max_length=40)]
) -> Response:
    """Show a photo no longer; the history keeps that it was there."""
    body = {"kind": "photo_removed", "added": added}
    keep(request, office, view, {key: body})
    return go(f"/jobs/{view.id}/survey#photos")


@router.get("/jobs/{job}/photos/{photo}.jpg")
def photo_bytes(view: JobHere, office: OfficeHere, photo: str, small: int = 0) -> Response:
    """Return a photo, or its small preview."""
    found = office.journal.photo(view.id, photo, preview=bool(small)) if len(photo) == 64 else None
    if found is None:
        raise HTTPException(404, "There is no such photo")
    headers = {"Cache-Control": "private, max-age=31536000, immutable"}
    return Response(found.data, media_type=found.mime, headers=headers)


def photos_by_part(photos: Iterable[Record[PhotoAdded]]) -> dict[str, list[Record[PhotoAdded]]]:
    """Return part of the survey -> the photos that document it."""
    found: dict[str, list[Record[PhotoAdded]]] = {}
    for record in photos:
        for name in record.body.shows:
            found.setdefault(name, []).append(record)
    return found
