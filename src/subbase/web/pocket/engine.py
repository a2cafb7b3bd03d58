"""The door into a browser's Python: one call, a JSON object in, a JSON object out; nothing is kept between calls but what can be made again.

The page sends the job's entries with every call, because the phone's own store holds them and Python holds none.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from subbase.catalog import load_catalog
from subbase.errors import InputError
from subbase.web.pocket.acts import entries_for
from subbase.web.pocket.bench import Bench, Job, job_from
from subbase.web.pocket.shown import check_data, fault_data, plan_data, work_data
from subbase.words import language

MOST_FAULTS = 20


@cache
def _bench() -> Bench:
    return Bench(load_catalog(()))


def call(request: str) -> str:
    """Answer a request of the page.

    Parameters
    ----------
    request
        A JSON object: ``ask`` is job, plan, work or act; ``job``, ``entries``, ``language``; of an act also ``act`` and
        ``fields``.

    Returns
    -------
    str
        A JSON object; ``said`` holds sentences when it was refused.
    """
    asked: dict[str, Any] = json.loads(request)
    with language(str(asked.get("language", "en"))):
        try:
            found = _answer(_bench(), asked)
        except InputError as error:
            found = {"said": [fault.message for fault in error.faults[:MOST_FAULTS]]}
    return json.dumps(found, ensure_ascii=False, allow_nan=False)


def _answer(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    job = job_from(str(asked.get("job", "")), asked.get("entries", []))
    match asked.get("ask"):
        case "act":
            fields = {name: str(value) for name, value in asked.get("fields", {}).items()}
            return {"entries": entries_for(bench, job, str(asked.get("act", "")), fields)}
        case "plan":
            plan = bench.plan(job)
            return {"plan": None if plan is None else plan_data(plan)}
        case "work":
            standing = bench.standing(job)
            if standing is None:
                return {"work": None, "checks": None}
            return {"work": work_data(standing), "checks": check_data(standing, bench.report(standing))}
    return _job(bench, job)


def _job(bench: Bench, job: Job) -> dict[str, Any]:
    read = bench.read(job)
    return {
        "name": job.state.name,
        "text": job.state.survey.text,
        "faults": [fault_data(fault) for fault in read.faults[:MOST_FAULTS]],
        "readable": read.survey is not None,
        "handed_over": [record.body.to for record in job.state.handovers],
        "notes": [record.body.text for record in job.state.notes],
        "history": [
            {"key": line.event.key, "kind": line.event.body.kind, "undone": bool(line.undone_by), "at": _at(line.event)}
            for line in job.state.history
        ],
    }


def _at(event: Any) -> str:
    return str(event.made_at.isoformat())


__all__ = ["call"]
