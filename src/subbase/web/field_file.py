"""Work and Hand over as one HTML file for a phone that never meets the server, and what comes back from it.

The file holds its styles, drawings and script; what is done is kept on the phone and saved as a file of journal entries.
Without a script it can still be read from top to bottom. It judges a reading by its bounds alone; the server, once it has
the entries, holds all readings against every wrong landing.
"""

from __future__ import annotations

import base64
import datetime
import hashlib
import json
import math
import re
from typing import Any

from markupsafe import Markup

from subbase.errors import Fault, InputError
from subbase.journal.events import Entry, Refused, read_entries
from subbase.papers.tables import landing_table, settings_rows
from subbase.web.check_words import GROUP_CAUTIONS, GROUP_WORDS, ends_words, must_words
from subbase.web.jobs import JobView
from subbase.web.live_ladder import live_of
from subbase.web.looks import environment, script_json, static_files
from subbase.web.maps import maps_of
from subbase.web.record import Mine
from subbase.web.record_check import reading_body
from subbase.web.record_work import result_body
from subbase.web.sheet import Item
from subbase.web.standing import Standing
from subbase.web.work_words import STATUS_WORDS
from subbase.words import _, current_language, date_words
from subbase.work.progress import Result, result_data
from subbase.work.reading_verdicts import TOO_HIGH_V
from subbase.work.steps import PHASE_TITLES, Step
from subbase.work.taken import Taken

FORMAT = 1
WHAT = "subbase entries"
MOST_BYTES = 20_000_000
MOST_ENTRIES = 5_000
_FONT_FACE = re.compile(r"@font-face\s*\{[^{}]*\}\s*")


def field_file(view: JobView, standing: Standing, taken: Taken, *, date: datetime.date) -> str:
    """Return the whole file as HTML text.

    Parameters
    ----------
    taken
        Readings of the sheet that count, to begin from.
    """
    sheet = standing.mine.sheet
    plan, left = sheet.plan, sheet.left
    script = "".join(static_files()[name].decode() for name in ("fold.js", "field.js", "ladder.js"))
    style = "".join(static_files()[name].decode() for name in ("page.css", "work.css", "ladder.css"))
    several = len(left.controls) > 1
    title = plan.survey.name
    return environment().get_template("field_file.html").render(
        job=view, language=current_language(), date=date_words(date), title=title,
        style=Markup(_FONT_FACE.sub("", style)), script=Markup(script), script_hash=_hash(script),
        data=script_json(_data(view, standing, taken)),
        standing=standing, phase_words=PHASE_TITLES, plan=plan, sheet=sheet,
        groups=[(group, [i for i in sheet.items if i.group == group]) for group in GROUP_WORDS],
        group_words=GROUP_WORDS, group_cautions=GROUP_CAUTIONS, must=must_words,
        ends=lambda check: ends_words(check, several=several),
        landings=lambda item: landing_table(plan, item), settings=settings_rows,
        map=maps_of(plan),
        live=live_of(plan),
    )  # fmt: skip


def _data(view: JobView, standing: Standing, taken: Taken) -> dict[str, Any]:
    sheet, mine = standing.mine.sheet, standing.mine
    return {
        "job": view.id,
        "file": f"subbase-entries-{view.id[:8]}.json",
        "seen": view.state.sequence,
        "survey": view.state.survey.sha256,
        "mark": sheet.mark,
        "units": standing.steps.units,
        "too_high_v": TOO_HIGH_V,
        "steps": [step_data(mine, step) for step in standing.steps.steps],
        "results": [result_data(result) for result in standing.now.results],
        "checks": [item_data(mine, item) for item in sheet.items],
        "readings": {
            item.id: {"value": None if math.isinf(r.value or 0.0) else r.value}
            for r in taken.latest()
            for item in sheet.items
            if _same(item, r.key)
        },
        "words": phone_words(),
    }


def step_data(mine: Mine, step: Step) -> dict[str, Any]:
    """Return a step as the file's script needs it; what is only shown stands in the page itself."""
    found: dict[str, Any] = {
        "id": step.id, "kind": step.kind, "title": step.title, "after": step.after, "needs": step.needs, "voids": step.voids,
        "renews": step.renews, "may_skip": step.may_skip, "may_do": step.may_do, "who": step.who, "live": step.live,
        "otherwise": step.otherwise, "unit": "", "low": None, "high": None,
    }  # fmt: skip
    if step.expected is not None:
        body = result_body(mine, step, Result(step.id, "read", 0.0))
        found |= {
            "unit": step.expected.unit,
            "low": _end(step.expected.low),
            "high": _end(step.expected.high),
            "body": body,
        }
    return found


def item_data(mine: Mine, item: Item) -> dict[str, Any]:
    """Return a line of the sheet of checks as a script needs it."""
    check = item.check
    ends = {"low": _end(check.low), "high": _end(check.high)}
    return {"id": item.id, "unit": check.unit, **ends, "body": reading_body(mine, item, 0.0)}


def _end(value: float) -> float | str | None:
    """Return a bound for the script: OL for an open circuit, null for no lower bound."""
    if not math.isinf(value):
        return value
    return "OL" if value > 0.0 else None


def _same(item: Item, key: tuple[object, ...]) -> bool:
    check = item.check
    clip = frozenset(check.clip) if check.clip else None
    return key == (frozenset(check.between), clip, check.unit, check.state if check.unit == "V" else None)


def phone_words() -> dict[str, Any]:
    """Return the sentences that a script on the phone says of steps and readings."""
    return {
        "status": {status: _(words) for status, words in STATUS_WORDS.items()},
        "met": _("{met} of {all} steps met"),
        "waits": _("It waits for:"),
        "failed": _("Not met:"),
        "back": _("Take it back"),
        "who": _("Name of who did it"),
        "display": _("The display shows, in"),
        "enter": _("Enter"),
        "so": _("It is so"),
        "done": _("Done"),
        "not_so": _("Not so"),
        "not_so_or_skip": _("Not so, or leave it out"),
        "reason": _("What is seen instead, or why it is left out"),
        "skip": _("Leave it out, with this reason"),
        "waiting": _("{count} entries are on this phone only; the office has not got them."),
        "nothing": _("Nothing is on this phone that the office has not got."),
        "forget": _("Forget everything that was entered on this phone?"),
        "within": _("within its bounds"),
        "outside": _("fails: put it right behind the lock, and take it again"),
        "too_high": _("more than any 24 V winding gives: power off now; line voltage may be on these wires"),
        "checked": _("{within} of {all} readings within their bounds"),
        "left": _("{steps} steps are not met."),
        "refused": {
            "early": _("Not yet: what it waits for comes first."),
            "unknown": _("There is no such step."),
            "nothing": _("There is nothing to take back."),
            "guards": _("This step guards what follows; it may not be left out."),
            "reason": _("Say why it is left out: the reason goes on the papers."),
            "who": _("Say who did it: this step needs a licence."),
            "number": _("Enter the reading as the display shows it: 26.4, or OL."),
            "negative": _("Volts AC and ohms are never negative; look at the meter's range."),
            "range": _("OL is a reading of ohms; of volts it says that the range is too small."),
        },
    }


def _hash(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def read_entries_file(data: bytes, job: str) -> tuple[tuple[Entry, ...], tuple[Refused, ...]]:
    """Return the entries in a file that a phone saved, and those that cannot be read.

    Raises
    ------
    InputError
        When it is no such file, or belongs to another job.
    """
    if len(data) > MOST_BYTES:
        raise _fault(_("The file is larger than any that a phone saves here."))
    try:
        found = json.loads(data)
    except (ValueError, RecursionError):
        raise _fault(_("This is no file of entries: it is no JSON. Choose the file that the phone saved.")) from None
    if not isinstance(found, dict) or found.get("what") != WHAT or not isinstance(found.get("entries"), list):
        raise _fault(_("This is no file of entries. Choose the file that the phone saved."))
    if found.get("format") != FORMAT:
        raise _fault(_("The file is of a format that this version does not know."))
    if found.get("job") != job:
        raise _fault(_("These entries belong to another job; open that one and bring them in there."))
    if len(found["entries"]) > MOST_ENTRIES:
        raise _fault(_("The file holds more entries than a job can take."))
    return read_entries(found["entries"])


def _fault(message: str) -> InputError:
    return InputError((Fault(message),))


__all__ = ["field_file", "item_data", "phone_words", "read_entries_file", "step_data"]
