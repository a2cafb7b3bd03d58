"""What the pocket's page shows, as plain data: a survey's faults, a plan with its proof and drawings, the work, the checks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Literal

from subbase.errors import Fault
from subbase.papers.ladder import ladder_svg
from subbase.papers.plan_maps import plan_maps
from subbase.papers.proof_tables import load_table, proof_table, reading_tables, supply_table
from subbase.papers.route_tables import caution_table, parts_table, refusal_table, route_table
from subbase.papers.tables import Table, landing_table, settings_rows, steps
from subbase.plan import ControlPlan, Plan
from subbase.web.check_words import (
    GROUP_CAUTIONS,
    GROUP_NOTES,
    GROUP_WORDS,
    MARK_LOOKS,
    MARK_WORDS,
    ends_words,
    must_words,
)
from subbase.web.pocket.answering import asked_of
from subbase.web.record_check import taken_before
from subbase.web.record_work import left_behind
from subbase.web.sheet import Day, Item, Sheet
from subbase.web.standing import Standing
from subbase.web.work_words import STATUS_SIGNS, STATUS_WORDS, unit_words, value_words
from subbase.words import _
from subbase.work.check_bounds import Check
from subbase.work.progress import back_to_dead
from subbase.work.reading_verdicts import ReadingVerdict
from subbase.work.steps import PHASE_TITLES, Step, shown_value
from subbase.work.verdicts import Report

Data = dict[str, Any]
MOST_SHOWN = 8


def fault_data(fault: Fault) -> Data:
    """Return one fault of a survey."""
    return {"text": fault.message, "where": fault.where, "line": fault.line}


def plan_data(plan: Plan) -> Data:
    """Return a plan: the verdict first, then everything that makes it believed."""
    found: Data = {
        "verdict": plan.verdict,
        "line": verdict_line(plan),
        "stops": [{"seen": stop.seen, "instead": stop.instead} for stop in plan.stops],
        "contradictions": [{"text": c.text, "would": list(c.would_agree)} for c in plan.contradictions],
        "questions": _questions(plan),
        "refused": [] if plan.stops or plan.verdict != "stopped" else [table_data(refusal_table(plan.refused))],
        "cautions": table_data(caution_table(plan)),
        "controls": [_control(plan, item) for item in plan.controls],
        "indifferent": list(plan.indifferent),
        "tables": [],
        "maps": None,
        "margin": None,
    }
    if plan.proof is None or plan.left is None:
        return found
    tables = [proof_table(plan.proof), load_table(plan.proof), supply_table(plan.proof)]
    tables += [*reading_tables(plan.readings)]
    for item in plan.controls:
        tables += [route_table(item.routes, item.chosen), refusal_table(item.routes)]
    tables.append(parts_table(plan))
    return found | {
        "margin": plan.proof.margin,
        "margin_at": plan.proof.margin_words,
        "maps": _maps(plan),
        "tables": [table_data(item) for item in tables if item.rows],
    }


def verdict_line(plan: Plan) -> str:
    """Return the verdict as one line, to be read at a glance."""
    if plan.verdict == "planned":
        if len(plan.controls) == 1:
            return _("Planned: {how}").format(how=plan.controls[0].chosen.title)
        return _("Planned: every new control can be wired and fed")
    if plan.verdict == "stopped":
        if plan.stops:
            return _("Stop: {seen}").format(seen=plan.stops[0].seen)
        return _("Stop: no wiring of the new control was found that the circuit proves")
    if plan.questions:
        return _("Answer first: {question}").format(question=plan.questions[0].text)
    return _("Something must be settled first")


def _questions(plan: Plan) -> list[Data]:
    return [
        {
            "field": asked.field,
            "text": asked.text,
            "how": asked.how,
            "answers": [
                {"index": answer.index, "value": answer.words, "leads_to": answer.leads_to} for answer in asked.answers
            ],
        }
        for asked in asked_of(plan)
    ]


def _control(plan: Plan, item: ControlPlan) -> Data:
    return {
        "control": item.control,
        "title": item.chosen.title,
        "steps": list(steps(item)),
        "landings": table_data(landing_table(plan, item)),
        "settings": [list(row) for row in settings_rows(item)],
        "moved": [
            [x.cable, x.conductor, x.carries, x.wall_found, x.wall_left, x.far_found, x.far_left]
            for x in item.chosen.landings
        ],
    }


def _maps(plan: Plan) -> dict[str, str]:
    assert plan.left is not None
    ladder = ladder_svg(plan.left, plan.catalog, title=_("Ladder diagram as left"))
    drawings = plan_maps(plan) | {"ladder": ladder}
    return {name: text[text.index("<svg") :] for name, text in drawings.items()}


def table_data(table: Table) -> Data:
    """Return a table."""
    rows = [[*map(str, row)] for row in table.rows]
    return {"title": table.title, "head": list(table.head), "rows": rows, "note": table.note}


# The work.


def work_data(standing: Standing) -> Data:
    """Return every step with its state, and which may be done now."""
    plan, now = standing.steps, standing.now
    return {
        "day": day_data(standing.day, plan.units),
        "mark": standing.mine.sheet.mark,
        "steps": [_step(standing, step) for step in plan.steps],
        "open": list(now.open),
        "met": now.count("done") + now.count("skipped"),
        "finished": now.finished,
        "left_behind": left_behind(standing.mine),
    }


def day_data(day: Day, units: Literal["us", "si"]) -> Data:
    """Return the weather of the day and the licences, as they were told."""
    outdoor = "" if day.outdoor_c is None else f"{shown_value(day.outdoor_c, 'degC', units):.0f}"
    degrees = "°F" if units == "us" else "°C"
    return {
        "asked": day.asked, "season": day.season or "", "outdoor": outdoor, "degrees": degrees,
        "licences": sorted(day.licences),
    }  # fmt: skip


def _step(standing: Standing, step: Step) -> Data:
    state, units = standing.now.of(step.id), standing.steps.units
    by_id = {other.id: other for other in standing.steps.steps}
    must = step.expected
    return {
        "id": step.id,
        "kind": step.kind,
        "phase": _(PHASE_TITLES[step.phase]),
        "title": step.title,
        "where": step.where,
        "why": step.why,
        "lines": list(step.lines),
        "caution": step.caution,
        "otherwise": step.otherwise,
        "source": step.source,
        "who": "" if step.may_do else step.who,
        "may_skip": step.may_skip,
        "must": must.words(units) if must is not None else "",
        "unit": unit_words(step, units),
        "if_low": must.if_low if must is not None else "",
        "if_high": must.if_high if must is not None else "",
        "status": state.status,
        "sign": STATUS_SIGNS[state.status],
        "status_words": _(STATUS_WORDS[state.status]),
        "state_why": state.why,
        "value": value_words(step, state.value, units),
        "can_lock": step.live and bool(back_to_dead(standing.steps, standing.now)),
        "waits": [by_id[name].title for name in _in_order(standing, state.waits_for)[:3]],
    }


def _in_order(standing: Standing, names: Iterable[str]) -> list[str]:
    wanted = set(names)
    return [step.id for step in standing.steps.steps if step.id in wanted]


# The checks.


def check_data(standing: Standing, report: Report) -> Data:
    """Return the sheet of checks with what was read, judged against every wrong landing."""
    sheet = standing.mine.sheet
    verdicts = {item.id: found for found in report.readings if (item := _item_of(sheet, found)) is not None}
    several = len(sheet.left.controls) > 1
    groups = []
    for group, title in GROUP_WORDS.items():
        items = [item for item in sheet.items if item.group == group]
        if items:
            lines = [_line(item, verdicts.get(item.id), several=several) for item in items]
            note = _(GROUP_NOTES[group]) if GROUP_NOTES[group] else ""
            groups.append({"title": _(title), "caution": _(GROUP_CAUTIONS[group]), "note": note, "lines": lines})
    return {
        "mark": sheet.mark,
        "groups": groups,
        "count": len(sheet.items),
        "passed": sum(found.judged.mark == "pass" for found in verdicts.values()),
        "stop": report.stop,
        "told": report.plan.told,
        "excluded": report.excluded,
        "failing": [_verdict(found) for found in report.readings if found.judged.mark == "fail"],
        "possible": _slips(report.possible if report.readings else ()),
        "untold": _slips(sheet.checks.untold),
        "taken_before": taken_before(standing.mine),
    }


def _slips(outcomes: Sequence[Any]) -> Data:
    lines = []
    for found in outcomes[:MOST_SHOWN]:
        worst = f"{found.worst.text} ({found.worst.call})" if found.worst else ""
        lines.append({"words": found.slip.words, "worst": worst})
    return {"lines": lines, "more": max(0, len(outcomes) - MOST_SHOWN)}


def _item_of(sheet: Sheet, found: ReadingVerdict) -> Item | None:
    taken = found.taken
    live = taken.unit == "V"
    kind: Literal["live", "dead", "dead, clipped"] = "live" if live else "dead, clipped" if taken.clip else "dead"
    state = taken.state if live else None
    return sheet.item_of(Check(kind, taken.between, 0.0, 0.0, taken.unit, "", taken.clip, state=state))


def _line(item: Item, found: ReadingVerdict | None, *, several: bool) -> Data:
    return {
        "id": item.id,
        "ends": ends_words(item.check, several=several),
        "site": item.check.site,
        "must": must_words(item.check),
        "unit": item.check.unit,
        "verdict": None if found is None else _verdict(found),
    }


def _verdict(found: ReadingVerdict) -> Data:
    return {
        "written": found.taken.written,
        "mark": found.judged.mark,
        "look": MARK_LOOKS[found.judged.mark],
        "words": _(MARK_WORDS[found.judged.mark]),
        "why": found.judged.why,
        "explained": [item.words for item in found.explained_by],
    }


__all__ = ["check_data", "day_data", "fault_data", "plan_data", "table_data", "verdict_line", "work_data"]
