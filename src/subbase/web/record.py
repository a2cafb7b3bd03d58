"""Which of the journal's events Work, Check and the search for a fault go by, and how what they write is marked.

A result belongs to the wiring that it was made for: once the survey changes the wiring, earlier results are shown as history
and count for nothing, for what was proved dead or read then says nothing of the wires now.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from subbase.errors import Fault, InputError
from subbase.journal import Event, JobState
from subbase.journal.bodies import ReadingTaken as ReadingEvent
from subbase.journal.bodies import StepDone, StepReopened, TestAnswered
from subbase.web.sheet import Sheet
from subbase.words import _

DIAGNOSIS = "diagnosis"
"""What a verdict is about that says that something was repaired."""
TOUCHING = ("move/", "look/landings")
"""Beginnings of the ids of steps after which, done again, landings may be others."""


@dataclass(frozen=True, slots=True)
class Mine:
    """Whether an event belongs to the wiring as it is planned now."""

    sheet: Sheet
    state: JobState

    def counts(self, body: StepDone | StepReopened | ReadingEvent | TestAnswered) -> bool:
        """Return whether it does; what bears no mark goes by the text of the survey."""
        if isinstance(body, StepReopened):
            return body.mark in ("", self.sheet.mark)
        return body.mark == self.sheet.mark if body.mark else body.survey == self.state.survey.sha256

    def events(self) -> Iterator[Event]:
        """Yield every event that was not taken back, in order."""
        yield from (line.event for line in self.state.history if not line.undone_by)

    @property
    def renewed(self) -> int:
        """Return the sequence of the last event after which wires may be otherwise: a repair, or landings to be read back anew.

        What was read before it is to be read again.
        """
        repairs = (
            e.sequence
            for e in self.events()
            if isinstance(e.body, TestAnswered) and repaired_in(e.body) and self.counts(e.body)
        )
        return max((self.begun, *repairs))

    @property
    def begun(self) -> int:
        """Return the sequence of the last event after which a search for a fault begins anew.

        A repair that left something wrong is none: the search goes on with what was read before it.
        """
        record = self.state.verdicts.get(DIAGNOSIS)
        repaired = record.event.sequence if record is not None and record.body.outcome == "good" else 0
        reopened = (
            e.sequence
            for e in self.events()
            if isinstance(e.body, StepReopened) and self.counts(e.body) and e.body.step.startswith(TOUCHING)
        )
        return max((repaired, *reopened))

    def is_seen_in(self, fields: Mapping[str, str]) -> bool:
        """Return whether a form was shown for this wiring; one that does not say is taken as if it was."""
        return fields.get("mark", self.sheet.mark) == self.sheet.mark

    def refuse_changed(self, fields: Mapping[str, str]) -> None:
        """Refuse a form that was shown for another wiring.

        Raises
        ------
        InputError
        """
        if not self.is_seen_in(fields):
            raise changed_meanwhile()

    def stamp(self) -> dict[str, str]:
        """Return what marks a new event as belonging to this wiring."""
        return {"survey": self.state.survey.sha256, "mark": self.sheet.mark}


def changed_meanwhile() -> InputError:
    """Return the refusal of a form that was shown for another wiring."""
    message = _("The wiring in the survey was changed since this page was shown. Look at it again before you go on.")
    return InputError((Fault(message),))


def repaired_in(body: Any) -> tuple[str, ...]:
    """Return the causes that an event says were put right, while something is still wrong; none of any other event."""
    told = body.entry.get("repaired") if isinstance(body, TestAnswered) else None
    return tuple(name for name in told if isinstance(name, str)) if isinstance(told, list) else ()


def further_key(key: str, name: str) -> str:
    """Return a key for one of several events of one form, the same when the form is sent again.

    Raises
    ------
    ValueError
        When the form's key is no UUID.
    """
    return str(uuid.uuid5(uuid.UUID(key), name))


__all__ = ["DIAGNOSIS", "Mine", "changed_meanwhile", "further_key", "repaired_in"]
