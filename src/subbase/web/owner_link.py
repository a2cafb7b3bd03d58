"""Who else sees a job: the people it was given to, and links by which its owner may read it without an account."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Path, Request, Response

from subbase.journal import accounts as who
from subbase.journal.store import Journal
from subbase.papers.write import paper_makers
from subbase.web.asking import AuditHere, CallerHere, JobHere, OfficeHere, audit_of, go
from subbase.web.callers import LINK, caller_of, set_cookie
from subbase.web.jobs import JobView
from subbase.web.looks import page, secret_page
from subbase.web.people import AccountField
from subbase.web.stage_hand_over import PAPER_WORDS, today
from subbase.web.trouble import trouble
from subbase.words import _

router = APIRouter()
MOST_LINKS = 20
"""Of one job, those that have not ended."""
OWNER_PAPER = "owner.pdf"


@router.get("/look/{token}")
def follow(request: Request, office: OfficeHere, token: Annotated[str, Path(max_length=100)]) -> Response:
    """Open an owner's link: keep its token in a cookie, so that no further address bears it."""
    share = who.share_of(office.journal, token)
    if share is None:
        line = _("It has ended or was taken back. Ask whoever gave it to you for a new one.")
        answer = trouble(request, 404, _("This link is not good any more"), line)
    else:
        caller = caller_of(request)
        answer = go(f"/jobs/{share.job}/look")
        left = int((share.ends_at - datetime.now(UTC)).total_seconds())
        if caller.kind != "local":
            set_cookie(answer, LINK, token, secure=caller.secure, lasts_s=max(1, left))
            audit_of(request).did(caller, "opened a link", job=share.job, name=f"link {share.id[:8]}")
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    return answer


@router.get("/jobs/{job}/look")
def look(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the owner what was done and the papers of the job, to be read only."""
    made = office.plan(view)
    names = sorted(paper_makers(made, date=today()), key=lambda name: name != OWNER_PAPER) if made is not None else ()
    handed = view.state.handovers[-1] if view.state.handovers else None
    return page(
        request, "look.html", house=view.state.name, job_id=view.id, names=names, words=PAPER_WORDS, handed=handed,
        made=made,
    )  # fmt: skip


@router.get("/jobs/{job}/who")
def who_sees(request: Request, view: JobHere, office: OfficeHere, caller: CallerHere) -> Response:
    """Show who else sees this job."""
    _signed_in(caller.kind)
    return _who(request, view, office.journal)


@router.post("/jobs/{job}/who/give")
def give(view: JobHere, office: OfficeHere, caller: CallerHere, audit: AuditHere, account: AccountField) -> Response:
    """Give the job to somebody: an installer whose job it is may do so too."""
    _signed_in(caller.kind)
    found = next((item for item in who.accounts(office.journal) if item.id == account and item.active), None)
    if found is None:
        raise HTTPException(404)
    who.give_job(office.journal, view.id, found.id)
    audit.did(caller, f"gave job: {found.name}", job=view.id)
    return go(f"/jobs/{view.id}/who")


@router.post("/jobs/{job}/who/take")
def take(view: JobHere, office: OfficeHere, caller: CallerHere, audit: AuditHere, account: AccountField) -> Response:
    """Take the job from somebody; the office alone may."""
    if caller.person is None or caller.person.role != "office":
        raise HTTPException(404)
    who.take_job(office.journal, view.id, account)
    name = next((item.name for item in who.accounts(office.journal) if item.id == account), "?")
    audit.did(caller, f"took job: {name}", job=view.id)
    return go(f"/jobs/{view.id}/who")


@router.post("/jobs/{job}/who/links")
def make_link(
    request: Request, view: JobHere, office: OfficeHere, caller: CallerHere, audit: AuditHere,
    days: Annotated[int, Form(ge=1, le=366)] = 30,
) -> Response:  # fmt: skip
    """Make a link for the owner, which is shown this once."""
    _signed_in(caller.kind)
    now = datetime.now(UTC)
    if sum(share.ends_at > now for share in who.shares(office.journal, view.id)) >= MOST_LINKS:
        said = _("There are {count} links already; take one back first.").format(count=MOST_LINKS)
        return _who(request, view, office.journal, status=422, said=said)
    token = who.make_share(office.journal, view.id, caller.name, days=days)
    audit.did(caller, "made link", job=view.id)
    scheme = "https" if caller.secure else "http"
    return _who(request, view, office.journal, link=f"{scheme}://{request.headers.get('host', '')}/look/{token}")


@router.post("/jobs/{job}/who/links/end")
def end_link(
    view: JobHere, office: OfficeHere, caller: CallerHere, audit: AuditHere, link: Annotated[str, Form(max_length=40)]
) -> Response:
    """Take a link back."""
    _signed_in(caller.kind)
    who.end_share(office.journal, view.id, link)
    audit.did(caller, "ended link", job=view.id)
    return go(f"/jobs/{view.id}/who#links")


def _signed_in(kind: str) -> None:
    if kind not in ("session", "token"):
        raise HTTPException(404)


def _who(
    request: Request, view: JobView, journal: Journal, *, status: int = 200, said: str = "", link: str = ""
) -> Response:
    given = [item for item in who.who_sees(journal, view.id) if item.role != "office"]
    ids = {item.id for item in given}
    others = [item for item in who.accounts(journal) if item.active and item.role != "office" and item.id not in ids]
    return secret_page(
        request, "who.html", status=status, job=view, given=given, others=others, said=said, link=link,
        links=who.shares(journal, view.id), now=datetime.now(UTC), is_office=request.state.person.role == "office",
    )  # fmt: skip
