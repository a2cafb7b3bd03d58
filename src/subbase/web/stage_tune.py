"""The Tune stage: how each control is set, what is known of the house, and what the schedule does in a year."""

from __future__ import annotations

import datetime
import hashlib
import json
import re
from collections import OrderedDict
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

from fastapi import APIRouter, Request, Response, UploadFile

from subbase.comfort.answers import QUESTIONS, Answers, Units, read_answers, restored, stored, typed
from subbase.comfort.equipment_settings import tuning
from subbase.comfort.house_facts import facts_of
from subbase.comfort.learn import CannotTell, Learnt
from subbase.comfort.log_reading import MOST_BYTES, parse_log
from subbase.comfort.made_weather import made_weather
from subbase.comfort.packed import pack_log, pack_weather, unpack_log, unpack_weather
from subbase.comfort.served import Wired
from subbase.comfort.setting_records import Facts, Tuning
from subbase.comfort.study import Place, Study, house_of, learn_from, place_of, study
from subbase.comfort.weather import WeatherYear, parse_epw
from subbase.comfort.weekly import calendar
from subbase.comfort.wired import wired_of
from subbase.errors import Fault, InputError
from subbase.papers.drawing import svg
from subbase.papers.tune_charts import NARROW
from subbase.papers.tune_pages import charts_of, settings_pdf
from subbase.papers.tune_tables import (
    best_week,
    house_rows,
    learnt_rows,
    outcome_table,
    owner_words,
    schedule_table,
    setback_words,
    unit_of,
)
from subbase.plan import ControlPlan, Plan
from subbase.web.asking import JobHere, KeyField, OfficeHere, go, keep
from subbase.web.forms import FormFields, form_key
from subbase.web.jobs import JobView, Office
from subbase.web.looks import drawing, page
from subbase.web.slow import PATIENCE_S, NotYet, Told
from subbase.words import _, current_language

router = APIRouter()
ANSWERS, WEATHER, LOG = "house answers", "house weather", "house log"
"""Names of settings in the journal: what was answered, the year of weather, the house's log."""
MOST_EPW_BYTES = 6_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Tuned:
    """One control: settings, and the year where the house is known."""

    tuning: Tuning
    found: Study | None = None
    learnt: Learnt | CannotTell | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What the journal holds of the house."""

    units: Units
    answers: Answers | None
    weather: str
    """Packed; empty when the year is made up."""
    log: str
    mark: str
    """Changes when any of it does."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What was sent and could not be kept."""

    said: dict[str, str] = field(default_factory=dict)
    """Question -> what is wrong."""
    given: dict[str, str] = field(default_factory=dict)
    refused: tuple[str, ...] = ()
    """What is wrong with a file."""


def known_of(view: JobView) -> Known:
    """Return what the journal holds of the house."""
    values = {name: view.state.settings.get(("", name)) for name in (ANSWERS, WEATHER, LOG)}
    told = {name: record.body.value if record is not None else None for name, record in values.items()}
    answered = told[ANSWERS]
    answers = restored(answered) if isinstance(answered, dict) else None
    weather, log = (value if isinstance(value, str) else "" for value in (told[WEATHER], told[LOG]))
    units: Units = view.survey.units if view.survey is not None else "us"
    digest = hashlib.sha256(json.dumps(told, sort_keys=True, ensure_ascii=False).encode()).hexdigest()
    return Known(units, answers, weather, log, digest)


def tuned(office: Office, view: JobView, *, patience_s: float | None = PATIENCE_S) -> list[Tuned] | None:
    """Return every control's settings, with its year where the house is known; None without a plan to set by.

    The packet and the owner's page take what they print from here.

    Raises
    ------
    NotYet
        While a year is being run.
    """
    made = office.plan(view)
    if made is None or made.left is None:
        return None
    known = known_of(view)
    if known.answers is None:
        return [Tuned(settings_of(made, item, Facts())) for item in made.controls]
    key = f"{current_language()} {view.state.survey.sha256} {known.mark}"
    return office.slow.get(
        "tune", key, lambda say: _worked(made, known, say), what=_("The year of the house"), patience_s=patience_s
    )


def settings_known(office: Office, view: JobView) -> tuple[Tuning, ...]:
    """Return how each control is set where the house was described; empty where it was not."""
    if known_of(view).answers is None:
        return ()
    return tuple(item.tuning for item in tuned(office, view, patience_s=None) or ())


def settings_of(made: Plan, item: ControlPlan, facts: Facts) -> Tuning:
    """Return one control's settings."""
    assert made.left is not None
    return tuning(made.left, made.catalog, item.control, set(item.wanted) - set(item.chosen.lost), facts)


def _worked(made: Plan, known: Known, say: Told) -> list[Tuned]:
    answers = known.answers
    assert answers is not None
    say(_("The weather is read."))
    place = _place(answers, known)
    found = []
    # Controls that drive the same share a year.
    kept: dict[Wired, Study] = {}
    for item in made.controls:
        settled = settings_of(made, item, Facts())
        log = unpack_log(known.log) if known.log else None
        learnt = learn_from(log, answers, settled.heat) if log is not None else None
        house = house_of(answers, place, learnt)
        settled = settings_of(made, item, facts_of(answers, house, Facts()))
        wired = wired_of(settled)
        if wired not in kept:
            kept[wired] = study(item.control, answers, house, place, wired, say)
        year = replace(kept[wired], control=item.control, controls=len(made.controls))
        found.append(Tuned(settled, year, learnt))
    return found


def _place(answers: Answers, known: Known) -> Place:
    weather: WeatherYear | None = unpack_weather(known.weather) if known.weather else None
    if weather is None:
        return place_of(made_weather(answers.winter, answers.summer, answers.latitude), made_up=True)
    return place_of(weather)


@router.get("/jobs/{job}/tune")
def tune_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the settings that follow from the equipment, and ask for the house."""
    return _page(request, view, office)


@router.post("/jobs/{job}/tune/answers")
def keep_answers(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Keep what is known of the house."""
    key, known = form_key(fields), known_of(view)
    try:
        answers = read_answers({q.key: fields.get(q.key, "") for q in QUESTIONS}, known.units)
    except InputError as error:
        said = {fault.where: fault.message for fault in error.faults}
        return _page(request, view, office, Tried(said=said, given=dict(fields)))
    keep(request, office, view, {key: _setting(ANSWERS, stored(answers))})
    return go(f"/jobs/{view.id}/tune/year")


@router.post("/jobs/{job}/tune/weather")
def keep_weather(request: Request, view: JobHere, office: OfficeHere, key: KeyField, file: UploadFile) -> Response:
    """Keep a year of weather."""
    name = (file.filename or "weather")[:80]
    try:
        packed = pack_weather(parse_epw(_raw(file, MOST_EPW_BYTES, name).decode("latin-1"), name))
    except InputError as error:
        return _page(request, view, office, Tried(refused=tuple(map(str, error.faults[:6]))))
    keep(request, office, view, {form_key({"key": key}): _setting(WEATHER, packed)})
    return go(f"/jobs/{view.id}/tune#year")


@router.post("/jobs/{job}/tune/log")
def keep_log(request: Request, view: JobHere, office: OfficeHere, key: KeyField, file: UploadFile) -> Response:
    """Keep a log of the house."""
    name = (file.filename or "log")[:80]
    try:
        packed = pack_log(parse_log(_raw(file, MOST_BYTES, name), name))
    except InputError as error:
        return _page(request, view, office, Tried(refused=tuple(map(str, error.faults[:6]))))
    keep(request, office, view, {form_key({"key": key}): _setting(LOG, packed)})
    return go(f"/jobs/{view.id}/tune#year")


def _setting(name: str, value: Any) -> dict[str, Any]:
    return {"kind": "setting_made", "name": name, "value": value}


@router.get("/jobs/{job}/tune/year")
def year_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the year under each schedule."""
    known = known_of(view)
    found = tuned(office, view)
    if found is None or known.answers is None:
        return go(f"/jobs/{view.id}/tune")
    units = known.units
    shown = [
        {
            "control": item.tuning.control,
            "week": schedule_table(item.found, units),
            "year": outcome_table(item.found),
            "setback": setback_words(item.found, units),
            "house": house_rows(item.found, units),
            "charts": [
                (one.title, drawing(svg(one)), drawing(svg(slim)))
                for one, slim in zip(
                    charts_of(item.found, units).values(), charts_of(item.found, units, NARROW).values(), strict=True
                )
            ],
            "log": learnt_rows(item.learnt, units) if item.learnt is not None else None,
            "owner": owner_words(item.tuning, item.found, units),
        }
        for item in found
        if item.found is not None
    ]
    return page(request, "tune_year.html", job=view, shown=shown)


@router.get("/jobs/{job}/tune/settings.pdf")
def settings_paper(view: JobHere, office: OfficeHere) -> Response:
    """Hand out settings, schedules and charts on paper, with a page for those who live there."""
    found = tuned(office, view, patience_s=None) or []
    made = office.plan(view)
    if made is None or not found:
        raise InputError((Fault(_("There are no settings to print; look at the Tune page.")),))
    today = datetime.datetime.now(tz=datetime.UTC).date()
    raw = settings_pdf(made, [(item.tuning, item.found) for item in found], date=today)
    headers = {"Content-Disposition": 'inline; filename="settings.pdf"'}
    return Response(raw, media_type="application/pdf", headers=headers)


@router.get("/jobs/{job}/tune/schedule/{number}.ics")
def schedule_file(view: JobHere, office: OfficeHere, number: int) -> Response:
    """Hand out the cheapest week of one control as iCalendar."""
    found = tuned(office, view, patience_s=None) or []
    if not 1 <= number <= len(found) or found[number - 1].found is None:
        raise InputError((Fault(_("There is no schedule of that number; look at the Tune page.")),))
    item = found[number - 1]
    assert item.found is not None
    now = datetime.datetime.now(tz=datetime.UTC)
    name = f"{view.state.name}: {item.tuning.control}"
    text = calendar(best_week(item.found), name, now.date(), now, unit_of(known_of(view).units))
    slug = re.sub(r"[^0-9a-z]+", "-", item.tuning.control.lower()).strip("-") or "control"
    return Response(
        text,
        media_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="schedule-{number}-{slug}.ics"'},
    )


def _page(request: Request, view: JobView, office: Office, tried: Tried | None = None) -> Response:
    made = office.plan(view)
    if made is None or made.left is None:
        return page(request, "work_none.html", job=view, plan=made, stage=_("Tune"))
    known = known_of(view)
    ready: list[Tuned] | None = None
    is_coming = False
    try:
        ready = tuned(office, view, patience_s=0.05)
    except NotYet:
        is_coming = True
    if ready is None:
        ready = [Tuned(settings_of(made, item, Facts())) for item in made.controls]
    groups: OrderedDict[str, list[Any]] = OrderedDict(
        (group, list(items)) for group, items in groupby(QUESTIONS, key=lambda question: question.group)
    )
    return page(
        request,
        "tune.html",
        status=200 if tried is None else 422,
        job=view,
        tunings=[item.tuning for item in ready],
        groups=groups,
        units=known.units,
        given=tried.given if tried is not None and tried.given else typed(known.answers, known.units),
        said=tried.said if tried is not None else {},
        refused=tried.refused if tried is not None else (),
        known=known,
        is_coming=is_coming,
        place=_place_words(known),
    )


def _place_words(known: Known) -> str:
    weather = unpack_weather(known.weather) if known.weather else None
    return weather.site.name if weather is not None else ""


def _raw(file: UploadFile, most: int, name: str) -> bytes:
    raw = file.file.read(most + 1)
    if len(raw) > most:
        message = _("The file is larger than {most} MB; it is none of these.").format(most=most // 1_000_000)
        raise InputError((Fault(message, file=name),))
    return raw


__all__ = ["Tuned", "router", "settings_known", "tuned"]
