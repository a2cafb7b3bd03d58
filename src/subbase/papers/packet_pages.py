"""The pages of a packet that say what is planned: cover, landings, proof, readings, ways looked at, photos, sources."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from subbase.papers import blocks, proof_tables, route_tables, source_tables, tables
from subbase.papers.blocks import Block
from subbase.papers.figures import share
from subbase.papers.job_record import JobRecord, Photo
from subbase.papers.labels import labels_of
from subbase.papers.landing_code import landing_code, read_landing_code
from subbase.plan import ControlPlan, Plan
from subbase.words import _


def cover_blocks(plan: Plan, date: datetime.date) -> Iterator[Block]:
    """Yield the verdict, the landing table as a code, what to do, and what to take care of."""
    assert plan.proof is not None
    margin = _("Every call was solved on the circuit and holds; the nearest limit is {margin} away.").format(
        margin=share(plan.proof.margin)
    )
    if len(plan.controls) == 1:
        line, words = plan.controls[0].chosen.title, []
    else:
        line = _("Every new control can be wired and fed")
        words = [
            _("{control}: {title}.").format(control=item.control, title=item.chosen.title) for item in plan.controls
        ]
    yield blocks.verdict("planned", line, [*words, margin, *_losses(plan)])
    yield from _code(plan, date)
    for item in plan.controls:
        yield blocks.subheading(_("What to do for {control}").format(control=item.control), 2)
        yield blocks.bullets(tables.steps(item), numbered=True)
        yield blocks.facts(_facts(item))
        if item.chosen.reasons:
            yield blocks.bullets(item.chosen.reasons)
    yield blocks.subheading(_("Cautions"), 2)
    yield blocks.bullets(
        (_("{caution} [{source}]").format(caution=item.text, source=item.source) for item in plan.cautions), small=True
    )
    yield blocks.contents()


def _losses(plan: Plan) -> Iterator[str]:
    lost = [
        _("{control} gives up: {calls}.").format(control=item.control, calls=tables.calls_words(item.chosen.lost))
        for item in plan.controls
        if item.chosen.lost
    ]
    yield from lost or [_("Nothing that works today is given up.")]


def _facts(item: ControlPlan) -> list[tuple[str, str]]:
    route = item.chosen
    kept = tables.calls_words(call for call in item.wanted if call not in route.lost)
    parts = ", ".join(f"{p.count} × {p.what}" if p.count > 1 else p.what for p in route.parts)
    return [
        (_("Keeps"), kept or _("nothing")),
        (_("Gives up"), tables.calls_words(route.lost) or _("nothing")),
        (_("Parts"), parts or _("none beside the new control")),
        (_("Time"), _("about {minutes} minutes (judgement)").format(minutes=route.minutes)),
    ]


def _code(plan: Plan, date: datetime.date) -> Iterator[Block]:
    texts = landing_code(plan, date=date)
    if not texts:
        return
    held = read_landing_code(texts)
    words = _("Where every conductor lands, as text in a code: any phone shows it, without a signal.")
    if len(texts) > 1:
        words += " " + _("It takes {count} codes; scan each.").format(count=len(texts))
    if held.left_out:
        words += " " + _("No room for: {cables}. They stand on the page of the wiring as left.").format(
            cables=", ".join(held.left_out)
        )
    alt = _("Code that holds the landing table as text: {count} conductors and {jumpers} jumpers.").format(
        count=len(held.wires), jumpers=len(held.jumpers)
    )
    yield blocks.codes(texts, words, alt)


def landing_blocks(plan: Plan) -> Iterator[Block]:
    """Yield where each conductor goes, jumpers, and how each control is set for its wiring."""
    yield blocks.heading(_("Landings"))
    for item in plan.controls:
        yield from blocks.table(tables.landing_table(plan, item), look="marked")
    jumpers = tables.jumper_table(plan)
    if jumpers.rows:
        yield from blocks.table(jumpers, look="led")


def proof_blocks(plan: Plan) -> Iterator[Block]:
    """Yield the proof: each call, each load at its worst, each supply."""
    assert plan.proof is not None
    yield blocks.heading(_("Proof"))
    yield from blocks.table(proof_tables.proof_table(plan.proof))
    yield from blocks.table(proof_tables.load_table(plan.proof))
    yield from blocks.table(proof_tables.supply_table(plan.proof))


def reading_blocks(plan: Plan) -> Iterator[Block]:
    """Yield what the meter must read."""
    yield blocks.heading(_("What the meter must read"))
    yield blocks.text(
        _(
            "Volts AC, leads on the two terminals, the call made at the control. Upper figure: at nominal line voltage. "
            "Lower figures: accept anything between them. Another reading means that something is not as drawn: stop and look."
        ),
        sticky=True,
    )
    for found in proof_tables.reading_tables(plan.readings):
        yield from blocks.table(found, look="readings")


def route_blocks(plan: Plan) -> Iterator[Block]:
    """Yield every way looked at, control by control."""
    yield blocks.heading(_("Every way looked at"))
    several = len(plan.controls) > 1
    for item in plan.controls:
        if several:
            yield blocks.subheading(item.control)
        yield from blocks.table(
            route_tables.route_table(item.routes, item.chosen), look="led", titled=4 if several else 3
        )
        refused = route_tables.refusal_table(item.routes)
        if refused.rows:
            yield from blocks.table(refused, titled=4 if several else 3)


def photo_blocks(record: JobRecord | None) -> Iterator[Block]:
    """Yield the photos of the job, or lines to say where they are kept."""
    yield blocks.heading(_("Photos"))
    if record is None or not record.photos:
        yield blocks.text(
            _("No photo is kept with the job. Photograph both ends as found and as left; say where they are:")
        )
        yield blocks.fields((_("As found, at the wall"), _("As found, at the equipment"), _("As left, at both ends")))
        return
    yield blocks.photos((photo, _photo_words(photo)) for photo in record.photos)


def _photo_words(photo: Photo) -> str:
    by = ", ".join(part for part in (photo.who, photo.when) if part)
    return "\n".join(part for part in (photo.caption, ", ".join(photo.shows), by) if part)


def open_blocks(plan: Plan, record: JobRecord | None) -> Iterator[Block]:
    """Yield what is not settled, what was taken on trust, what was agreed, and who was there."""
    yield blocks.heading(_("Open points"))
    if record and record.open_points:
        yield blocks.bullets(record.open_points)
    elif record:
        yield blocks.text(_("Nothing is open: every step is met and the wiring is proved by readings."))
    if plan.trusted:
        yield blocks.subheading(_("Taken on trust: look for yourself"))
        yield blocks.bullets(plan.trusted)
    if plan.indifferent:
        yield blocks.subheading(_("Not known, and it does not matter"))
        yield blocks.bullets(plan.indifferent)
    if record and record.notes:
        yield blocks.subheading(_("Notes"))
        yield blocks.bullets(record.notes)
    if record and record.people:
        yield blocks.subheading(_("Who was there"))
        yield blocks.bullets(record.people)
    if record is None:
        yield blocks.fields((_("Left open"), _("Agreed with the owner"), _("Done by"), _("Date")))


def label_blocks(plan: Plan) -> Iterator[Block]:
    """Yield labels to cut out."""
    yield blocks.heading(_("Labels"))
    yield blocks.text(
        _("Cut along the dashes, fold at the dots around the conductor, close with clear tape. One for each end."),
        sticky=True,
    )
    yield blocks.labels(labels_of(plan))


def source_blocks(plan: Plan) -> Iterator[Block]:
    """Yield parts, tools, and where every number comes from."""
    yield blocks.heading(_("Parts, tools, rules and sources"))
    yield from blocks.table(route_tables.parts_table(plan))
    yield blocks.subheading(_("Tools"))
    yield blocks.text("; ".join(_(tool) for tool in route_tables.TOOLS) + ".")
    yield from blocks.table(source_tables.source_table(plan))
    yield from blocks.table(source_tables.rules_table())
