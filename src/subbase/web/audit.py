"""The record of who saw and did what: lines that are only ever added to."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from functools import partial

from fastapi import Request

from subbase.journal import accounts as who
from subbase.journal.store import Journal
from subbase.web.callers import Caller, shortened
from subbase.words import _, mark

AGAIN_S = 900.0
"""The same person at the same page of the same job is written down once in this time."""
MOST_REMEMBERED = 5_000
DONE_WORDS = {
    "signed in": mark("signed in"),
    "signed out": mark("signed out"),
    "signed out everywhere": mark("signed out everywhere"),
    "sign-in refused": mark("wrong name or password"),
    "code refused": mark("wrong code at sign-in"),
    "turned codes on": mark("turned the code at sign-in on"),
    "turned codes off": mark("turned the code at sign-in off"),
    "opened a link": mark("opened an owner's link"),
    "changed password": mark("changed the password"),
    "made account": mark("made an account"),
    "made first password": mark("made a first password"),
    "closed account": mark("closed an account"),
    "opened account": mark("opened an account again"),
    "made token": mark("made a token"),
    "ended token": mark("took a token back"),
    "made link": mark("made an owner's link"),
    "ended link": mark("took an owner's link back"),
    "gave job": mark("gave the job to somebody"),
    "took job": mark("took the job from somebody"),
    "began job": mark("began the job"),
    "erased job": mark("erased the job"),
}


PAGE_WORDS = {
    "job": mark("the job"),
    "survey": mark("Survey"),
    "survey/text": mark("the survey's text"),
    "survey/survey.yaml": mark("the survey as a file"),
    "plan": mark("Plan"),
    "work": mark("Work"),
    "work/steps": mark("all work steps"),
    "work/result": mark("what came of a work step"),
    "check": mark("Check"),
    "check/readings": mark("readings"),
    "check/fault": mark("finding the fault"),
    "tune": mark("Tune"),
    "hand-over": mark("Hand over"),
    "history": mark("the history"),
    "photos": mark("photos"),
    "field-file": mark("the field file"),
    "job-file": mark("the whole job as one file"),
    "kept.json": mark("pages to be kept on the phone"),
    "look": mark("what the owner sees"),
    "who": mark("who sees the job"),
    "erase": mark("the page that erases the job"),
}


class Audit:
    """The record, as pages write it. Secrets never come near it: only names, kinds of pages, and shortened addresses."""

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self._told: OrderedDict[tuple[str, str, str], float] = OrderedDict()
        self._guard = threading.Lock()

    def did(self, caller: Caller, what: str, *, job: str = "", name: str = "") -> None:
        """Write down what somebody did; ``name`` when nobody is signed in yet.

        Raises
        ------
        JournalTrouble
        """
        who.record(self._journal, name or caller.name, what, job=job, address=shortened(caller.address))

    def page(self, request: Request, caller: Caller, job: str) -> None:
        """Write down that somebody saw, or sent, one page of a job; once in a quarter of an hour."""
        if caller.kind in ("local", "nobody"):
            return
        what = _what(request)
        if what.startswith("sent who"):
            return  # Said in words of its own.
        key, now = (caller.name, job, what), time.monotonic()
        with self._guard:
            last = self._told.pop(key, None)
            self._told[key] = now if last is None or now - last > AGAIN_S else last
            while len(self._told) > MOST_REMEMBERED:
                self._told.popitem(last=False)
        if last is not None and now - last <= AGAIN_S:
            return
        # Somebody in a basement must see the job even when the office's disk is full, or slow.
        self._journal.database.aside.write(partial(self.did, caller, what, job=job), f"{what} of job {job}")


def _what(request: Request) -> str:
    path = str(getattr(request.scope.get("route"), "path", "")).partition("{job}")[2].strip("/")
    path = path.replace("{name}", str(request.path_params.get("name", ""))[:60]).replace("/{photo}.jpg", "")
    return f"{'saw' if request.method in ('GET', 'HEAD') else 'sent'} {path or 'job'}"


def what_words(what: str) -> str:
    """Return one line's deed in the reader's language."""
    verb, _space, page = what.partition(" ")
    if verb == "saw":
        return _("saw: {page}").format(page=_(PAGE_WORDS.get(page, page)))
    if verb == "sent":
        return _("sent: {page}").format(page=_(PAGE_WORDS.get(page, page)))
    deed, _colon, more = what.partition(": ")
    known = DONE_WORDS.get(deed)
    said = _(known) if known else deed
    return f"{said}: {more}" if more else said


__all__ = ["Audit", "what_words"]
