"""The API of a job's survey, and of what follows from it: plan, checks, work steps, verdicts, diagnosis, site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, TypeVar

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import BaseModel, Field

from subbase.journal.bodies import MOST_SURVEY_CHARACTERS, Sha256
from subbase.papers.data_plan import PlanShape
from subbase.papers.data_shape import FaultShape
from subbase.survey.file_form import file_form
from subbase.survey.read import read_survey
from subbase.web.api_advice import DiagnosisShape, SiteShape
from subbase.web.api_asking import (
    IfMatch,
    IfNoneMatch,
    KeyHeader,
    SurveyBytes,
    body_schema,
    etag,
    is_known,
    kept,
    key_or_new,
    text_of,
    unchanged,
)
from subbase.web.api_jobs import conflicts
from subbase.web.api_problem import ROOT, ApiProblem, responses
from subbase.web.api_shapes import SurveyShape, Working
from subbase.web.api_work import ReportShape, SheetShape, WorkShape
from subbase.web.asking import JobHere, OfficeHere, entry_from
from subbase.web.jobs import JobView
from subbase.web.rooms_sketch import rooms_of
from subbase.web.slow import PATIENCE_S
from subbase.web.stage_check import checked
from subbase.web.stage_diagnose import search_of
from subbase.web.stage_rooms import verdict_of
from subbase.web.stage_work import standing_of
from subbase.web.survey_document import read_document
from subbase.web.workbench import sheet_of
from subbase.words import _

T = TypeVar("T")
router = APIRouter(prefix=ROOT, tags=["survey and plan"])
LATER: dict[int | str, dict[str, Any]] = {
    202: {
        "model": Working,
        "description": "It is being worked out; ask again.",
        "headers": {"Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer", "minimum": 1}}},
    },
    304: {"description": "You have it already."},
    **responses(404, 409, 422),
}
YAML_EXAMPLE = """survey: 1
name: Hill Road 7
equipment:
  furnace: {kind: gas-furnace-1}
controls:
  hall:
    old: {terminals: [R, W, G], power: battery}
    new: {terminals: [R, C, W1, G], power: common, asleep_va: 0.6, awake_va: 3}
cables:
  wall: {from: hall, to: furnace, length: 45 ft, gauge: 18, conductors: {red: R, white: W, green: G, blue: loose}}
"""


class Putting(BaseModel):
    """How a survey is put in place of the one that is there."""

    base: Sha256 | None = Field(
        default=None,
        description="SHA-256 of the text that you changed: what others changed since is brought together with it.",
    )
    as_typed: bool = Field(default=False, description="Keep it also when it cannot be read.")


@dataclass(frozen=True, slots=True)
class Given:
    """What makes a change harmless to repeat, and what it was made from."""

    key: KeyHeader = None
    if_match: IfMatch = None


@router.get(
    "/jobs/{job}/survey", response_model=SurveyShape, summary="Read the survey",
    responses={304: {"description": "You have it already."}, **responses(404)},
)  # fmt: skip
def read_job_survey(view: JobHere, response: Response, if_none_match: IfNoneMatch = None) -> SurveyShape | Response:
    """Its text as typed, and as it can be read; with every fault, and the fields that two people set differently."""
    tag = etag(view, "survey")
    if is_known(if_none_match, tag):
        return unchanged(tag)
    response.headers["ETag"] = tag
    return _survey(view)


@router.get(
    "/jobs/{job}/survey.yaml", summary="Read the survey's text", response_class=Response,
    responses={
        200: {"description": "As typed, whether it can be read or not.", "content": {"application/yaml": {"schema": {}}}},
        304: {"description": "You have it already."},
        **responses(404),
    },
)  # fmt: skip
def read_survey_text(view: JobHere, if_none_match: IfNoneMatch = None) -> Response:
    """The text alone, as YAML or JSON; empty while there is none. Its ETag is its SHA-256."""
    tag = f'"{view.state.survey.sha256}"'
    if is_known(if_none_match, tag):
        return unchanged(tag)
    return Response(view.state.survey.text.encode(), media_type="application/yaml", headers={"ETag": tag})


@router.put(
    "/jobs/{job}/survey", response_model=SurveyShape, summary="Put a survey in place of the one that is there",
    responses=responses(404, 409, 412, 415, 422),
    openapi_extra=body_schema(
        application_yaml={"type": "string", "maxLength": MOST_SURVEY_CHARACTERS, "examples": [YAML_EXAMPLE]},
        application_json={"type": "object", "description": "The same fields as in YAML."},
    ),
)  # fmt: skip
def put_survey(
    request: Request,
    view: JobHere,
    data: SurveyBytes,
    office: OfficeHere,
    told: Annotated[Putting, Query()],
    given: Annotated[Given, Depends()],
) -> SurveyShape:
    """Take a survey file as it is.

    Without ``base`` it replaces what is there; with ``If-Match`` (the text's SHA-256) only if nobody has changed it since.
    The same text again changes nothing.
    """
    state = view.state
    if given.if_match is not None and not is_known(given.if_match, f'"{state.survey.sha256}"'):
        raise ApiProblem(
            412, _("The survey was changed meanwhile"), _("Read it again, or say with 'base' what you changed.")
        )
    text = text_of(data)
    if not told.as_typed:
        read_survey(data, "survey", office.catalog)
    if text != state.survey.text:
        body = {
            "kind": "survey_edited",
            "text": text,
            "base": told.base or state.survey.sha256,
            "what": _("sent by a program"),
        }
        kept(office, view.id, entry_from(request, key_or_new(given.key), body, seen=state.sequence))
    return _survey(office.job(view.id))


def _survey(view: JobView) -> SurveyShape:
    state, read = view.state, view.read
    return SurveyShape(
        sha256=state.survey.sha256,
        text=state.survey.text,
        readable=read.survey is not None,
        faults=tuple(map(FaultShape.model_validate, read.faults)),
        survey=None if read.survey is None else file_form(read.survey),
        conflicts=conflicts(state.survey.conflicts),
        sequence=state.sequence,
    )


@router.get("/jobs/{job}/plan", response_model=PlanShape, summary="Read the plan", responses=LATER)
def read_plan(
    view: JobHere, office: OfficeHere, response: Response, if_none_match: IfNoneMatch = None
) -> PlanShape | Response:
    """The verdict, each control's routes and landings, the proof, expected readings, cautions; as ``subbase plan --json``."""
    _readable(view)
    tag = etag(view, "plan", survey_only=True)
    if is_known(if_none_match, tag):
        return unchanged(tag)
    plan = office.plan(view, patience_s=PATIENCE_S)
    assert plan is not None  # it can be read
    response.headers["ETag"] = tag
    return PlanShape.of(plan)


@router.get("/jobs/{job}/checks", response_model=SheetShape, summary="Read the sheet of checks", responses=LATER)
def read_checks(
    view: JobHere, office: OfficeHere, response: Response, if_none_match: IfNoneMatch = None
) -> SheetShape | Response:
    """The fewest readings that tell the plan from every wrong landing; send each as a 'reading_taken' entry."""
    _readable(view)
    tag = etag(view, "checks", survey_only=True)
    if is_known(if_none_match, tag):
        return unchanged(tag)
    found = _planned(sheet_of(office, view))
    response.headers["ETag"] = tag
    return SheetShape.on(found, view.state.survey.sha256)


@router.get("/jobs/{job}/work", response_model=WorkShape, summary="Read the work steps", responses=LATER)
def read_work(
    view: JobHere, office: OfficeHere, response: Response, if_none_match: IfNoneMatch = None
) -> WorkShape | Response:
    """Every step with its gates and where it stands; send results as 'step_done' and 'reading_taken' entries."""
    _readable(view)
    tag = etag(view, "work")
    if is_known(if_none_match, tag):
        return unchanged(tag)
    found = _planned(standing_of(office, view))
    response.headers["ETag"] = tag
    return WorkShape.on(found, view.state.survey.sha256)


@router.get(
    "/jobs/{job}/verdicts", response_model=ReportShape, summary="Read what is said of the readings", responses=LATER
)
def read_verdicts(
    view: JobHere, office: OfficeHere, response: Response, if_none_match: IfNoneMatch = None
) -> ReportShape | Response:
    """Every reading that counts, held against the house as planned; and whether the house is proved."""
    _readable(view)
    tag = etag(view, "verdicts")
    if is_known(if_none_match, tag):
        return unchanged(tag)
    found = _planned(checked(office, view))
    response.headers["ETag"] = tag
    return ReportShape.on(found, view.state.survey.sha256)


@router.get(
    "/jobs/{job}/diagnosis", response_model=DiagnosisShape, summary="Ask for the next best test", responses=LATER
)
def read_diagnosis(
    view: JobHere, office: OfficeHere, response: Response, if_none_match: IfNoneMatch = None
) -> DiagnosisShape | Response:
    """The likeliest causes after all readings and answers, and what to test, repair or hand over; send answers as entries."""
    _readable(view)
    tag = etag(view, "diagnosis")
    if is_known(if_none_match, tag):
        return unchanged(tag)
    found = _planned(search_of(office, view))
    response.headers["ETag"] = tag
    return DiagnosisShape.on(found, view.state.survey.sha256)


@router.get("/jobs/{job}/site", response_model=SiteShape, summary="Ask where the control goes", responses=LATER)
def read_site(
    view: JobHere, office: OfficeHere, response: Response, if_none_match: IfNoneMatch = None
) -> SiteShape | Response:
    """Every place on the walls judged by sun, heat, draughts, reach and radio; the survey must have rooms."""
    tag = etag(view, "site", survey_only=True)
    document = read_document(view.state.survey.text, view.state.name)
    house, faults = rooms_of(document) if document is not None else (None, ())
    if house is None:
        raise ApiProblem(409, _("No rooms can be read in the survey"), faults=(*view.read.faults, *faults))
    if is_known(if_none_match, tag):
        return unchanged(tag)
    found = verdict_of(office, view, house)
    response.headers["ETag"] = tag
    return SiteShape.on(found, view.state.survey.sha256)


def _readable(view: JobView) -> None:
    """Refuse what follows from a survey that there is none of, or that cannot be read."""
    if view.survey is None:
        title = _("The survey cannot be read") if view.state.survey.text.strip() else _("There is no survey yet")
        raise ApiProblem(409, title, faults=view.read.faults)


def _planned(found: T | None) -> T:
    """Return what follows from a plan; refuse when there is none."""
    if found is None:
        raise ApiProblem(
            409, _("There is no plan to work by"), _("Read the plan: it says what stops it, or what it asks.")
        )
    return found


__all__ = ["router"]
