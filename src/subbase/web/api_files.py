"""The API of files: photos, papers, a whole job as one file; and of the kinds of equipment that are known."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request, Response
from pydantic import Field

from subbase.catalog.model import Kind
from subbase.journal import accounts as who
from subbase.journal.bodies import Filled, Line, PhotoAdded
from subbase.journal.bundle import export_job, import_bundle, read_bundle
from subbase.journal.photos import clean_photo
from subbase.journal.trouble import JobExists, NoSuchJob
from subbase.papers.data_shape import Shape
from subbase.papers.write import PAPER_NAMES, paper_makers
from subbase.web.api_asking import (
    IfNoneMatch,
    KeyHeader,
    PhotoBytes,
    ZipBytes,
    body_schema,
    is_known,
    kept,
    key_or_new,
    unchanged,
)
from subbase.web.api_problem import ROOT, ApiProblem, responses
from subbase.web.api_shapes import Next
from subbase.web.api_survey import LATER
from subbase.web.asking import AuditHere, CallerHere, JobHere, OfficeHere, entry_from
from subbase.web.jobs import JobView, Office
from subbase.web.slow import PATIENCE_S
from subbase.web.stage_check import checked
from subbase.web.stage_hand_over import PAPER_WORDS, record_and_work, today
from subbase.web.stage_work import standing_of
from subbase.words import _

router = APIRouter(prefix=ROOT)
PAPER_TYPES = {"pdf": "application/pdf", "svg": "image/svg+xml", "csv": "text/csv"}
BINARY = {"schema": {"type": "string", "format": "binary"}}
PhotoName = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of the photo.")]


class PhotoShape(Shape):
    """One photo of a job; location and other hidden data were taken out of it."""

    photo: str = Field(description="SHA-256 of its bytes.")
    key: str = Field(description="Of the event that added it; a 'photo_removed' entry names it.")
    sequence: int
    width: int = Field(description="Pixels.")
    height: int = Field(description="Pixels.")
    size: int = Field(description="Bytes.")
    caption: str
    shows: tuple[str, ...]
    href: str


class Shown(Shape):
    """What is said of a photo that is sent."""

    shows: tuple[Filled, ...] = Field(
        default=(), max_length=50, description="Places, terminals or conductors that it documents: 'hall', 'hall.R'."
    )
    caption: Line = ""


class PhotoList(Shape):
    """The photos of a job that are shown."""

    photos: tuple[PhotoShape, ...]
    next: Next = None


class PaperShape(Shape):
    """One paper of a job."""

    name: str
    title: str
    media_type: str
    href: str


class PaperList(Shape):
    """The papers that a job has now."""

    papers: tuple[PaperShape, ...]
    next: Next = None


class ImportedShape(Shape):
    """What came of a job file."""

    job: str
    name: str
    new_job: bool
    events: int = Field(description="Events that were not there before.")
    photos: int = Field(description="Photos that the job did not have before.")


class KindShape(Shape):
    """One kind of equipment, in short."""

    kind: str
    title: str
    group: str
    about: str
    href: str


class KindList(Shape):
    """Every kind that surveys may name."""

    kinds: tuple[KindShape, ...]
    next: Next = None


# Photos.


@router.get(
    "/jobs/{job}/photos",
    response_model=PhotoList,
    tags=["files"],
    summary="List a job's photos",
    responses=responses(404),
)
def list_photos(view: JobHere) -> PhotoList:
    """Those that are shown, in the order in which they came."""
    return PhotoList(photos=tuple(_photo(view.id, r.body, r.event.key, r.event.sequence) for r in view.state.photos))


@router.post(
    "/jobs/{job}/photos", response_model=PhotoShape, status_code=201, tags=["files"], summary="Add a photo",
    responses=responses(404, 409, 413, 415, 422),
    openapi_extra=body_schema(
        image_jpeg={"type": "string", "format": "binary"}, image_png={"type": "string", "format": "binary"},
        image_webp={"type": "string", "format": "binary"},
    ),
)  # fmt: skip
def add_photo(
    request: Request,
    view: JobHere,
    data: PhotoBytes,
    office: OfficeHere,
    told: Annotated[Shown, Query()],
    key: KeyHeader = None,
) -> PhotoShape:
    """Send the picture itself. It is turned upright and written anew, so that nothing but what it shows is kept."""
    clean = clean_photo(data, file="photo")
    body = PhotoAdded(
        photo=office.journal.put_photo(view.id, clean),
        mime="image/jpeg",
        size=len(clean.data),
        width=clean.width,
        height=clean.height,
        caption=told.caption,
        shows=told.shows,
    )
    made = key_or_new(key)
    result = kept(office, view.id, entry_from(request, made, body.model_dump(mode="json"), seen=view.state.sequence))
    return _photo(view.id, body, made, result.sequence)


@router.get(
    "/jobs/{job}/photos/{photo}", tags=["files"], summary="Read a photo", response_class=Response,
    responses={
        200: {"description": "The picture.", "content": {"image/jpeg": BINARY}},
        304: {"description": "You have it already."},
        **responses(404, 422),
    },
)  # fmt: skip
def read_photo(
    view: JobHere,
    office: OfficeHere,
    photo: PhotoName,
    small: Annotated[bool, Query(description="The preview instead.")] = False,
    if_none_match: IfNoneMatch = None,
) -> Response:
    """The bytes never change, so they may be kept for good."""
    found = office.journal.photo(view.id, photo, preview=small)
    if found is None:
        raise ApiProblem(404, _("There is no such photo"))
    tag = f'"{photo}{"-small" if small else ""}"'
    if is_known(if_none_match, tag):
        return unchanged(tag)
    headers = {"Cache-Control": "private, max-age=31536000, immutable", "ETag": tag}
    return Response(found.data, media_type=found.mime, headers=headers)


def _photo(job: str, body: PhotoAdded, key: str, sequence: int) -> PhotoShape:
    return PhotoShape(
        photo=body.photo,
        key=key,
        sequence=sequence,
        width=body.width,
        height=body.height,
        size=body.size,
        caption=body.caption,
        shows=body.shows,
        href=f"{ROOT}/jobs/{job}/photos/{body.photo}",
    )


# Papers.


@router.get(
    "/jobs/{job}/papers", response_model=PaperList, tags=["files"], summary="List a job's papers", responses=LATER
)
def list_papers(view: JobHere, office: OfficeHere) -> PaperList:
    """A job whose plan is stopped has its packet alone, which says why."""
    papers = tuple(
        PaperShape(
            name=name,
            title=_(PAPER_WORDS[name]),
            media_type=_media_type(name),
            href=f"{ROOT}/jobs/{view.id}/papers/{name}",
        )
        for name in PAPER_NAMES
        if name in _makers(view, office)
    )
    return PaperList(papers=papers)


@router.get(
    "/jobs/{job}/papers/{name}", tags=["files"], summary="Read a paper", response_class=Response,
    responses={**LATER, 200: {"description": "The paper.", "content": dict.fromkeys(PAPER_TYPES.values(), BINARY)}},
)  # fmt: skip
def read_paper(view: JobHere, office: OfficeHere, name: Annotated[str, Path(max_length=40)]) -> Response:
    """Made anew from the job as it stands."""
    make = _makers(view, office).get(name) if name in PAPER_NAMES else None
    if make is None:
        raise ApiProblem(404, _("There is no such paper"))
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return Response(make(), headers=headers | {"Content-Type": _media_type(name)})


def _makers(view: JobView, office: Office) -> dict[str, Any]:
    """Return what makes each paper.

    Raises
    ------
    NotYet
    ApiProblem
        When there is nothing to make them from.
    """
    plan = office.plan(view, patience_s=PATIENCE_S)
    if plan is None:
        raise ApiProblem(409, _("The survey cannot be read"), faults=view.read.faults)
    standing_of(office, view)
    checked(office, view)
    record, work = record_and_work(view, office)
    return dict(paper_makers(plan, date=today(), record=record, work=work))


def _media_type(name: str) -> str:
    return PAPER_TYPES[name.rpartition(".")[2]]


# A whole job.


@router.get(
    "/jobs/{job}/export", tags=["files"], summary="Read a whole job as one file", response_class=Response,
    responses={
        200: {"description": "Its events, survey and photos, each with its checksum.", "content": {"application/zip": BINARY}},
        **responses(404),
    },
)  # fmt: skip
def read_job_file(view: JobHere, office: OfficeHere) -> Response:
    """The same job gives the same bytes; ``import`` takes them, here or in another journal."""
    headers = {"Content-Disposition": f'attachment; filename="subbase-{view.id[:8]}.job"'}
    return Response(export_job(office.journal, view.id), media_type="application/zip", headers=headers)


@router.post(
    "/import", response_model=ImportedShape, tags=["files"], summary="Take in a job file",
    responses=responses(409, 413, 415, 422),
    openapi_extra=body_schema(application_zip={"type": "string", "format": "binary"}),
)  # fmt: skip
def import_job(
    data: ZipBytes,
    office: OfficeHere,
    caller: CallerHere,
    audit: AuditHere,
    add: Annotated[bool, Query(description="Add to the job if it is here and not the same.")] = False,
) -> ImportedShape:
    """Looked through before anything is kept; the same file again changes nothing. A new job is yours to see."""
    bundle = read_bundle(data, "job file")
    try:
        office.journal.job(bundle.job)
    except NoSuchJob:
        there = False
    else:
        there = True
        if not caller.sees(office.journal, bundle.job):
            raise ApiProblem(409, _("This job cannot be taken in"), _("Its id is taken here. Ask the office."))
    try:
        made = import_bundle(office.journal, bundle, add=add and there)
    except JobExists as error:
        raise ApiProblem(409, _("This job cannot be taken in"), str(error)) from None
    person = caller.person
    if person is not None and made.new_job:
        if person.role != "office":
            who.give_job(office.journal, made.job, person.id)
        audit.did(caller, "began job", job=made.job)
    return ImportedShape.model_validate(made)


# Kinds.


@router.get("/kinds", response_model=KindList, tags=["catalogue"], summary="List the kinds of equipment")
def list_kinds(office: OfficeHere) -> KindList:
    """Every kind that a survey may name."""
    found = sorted(office.catalog.items())
    return KindList(
        kinds=tuple(
            KindShape(kind=name, title=k.title, group=k.group, about=k.about, href=f"{ROOT}/kinds/{name}")
            for name, k in found
        )
    )


@router.get("/kinds/{kind}", response_model=Kind, tags=["catalogue"], summary="Read one kind", responses=responses(404))
def read_kind(office: OfficeHere, kind: Annotated[str, Path(max_length=60)]) -> Kind:
    """Its terminals, parts, values and their sources, and what each call must bring on."""
    found = office.catalog.get(kind)
    if found is None:
        raise ApiProblem(404, _("There is no such kind"))
    return found


__all__ = ["router"]
