"""What can be wrong with a journal: one class for each thing a person would do differently about it."""

from __future__ import annotations

from subbase.errors import SubbaseError
from subbase.words import _


class JournalTrouble(SubbaseError):
    """Root: ``sentence`` says what is wrong, what is kept, and what puts it right."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


class JournalFull(JournalTrouble):
    """The disk is full."""


class JournalReadOnly(JournalTrouble):
    """The file or its disk cannot be written."""


class JournalDamaged(JournalTrouble):
    """The file is no journal, or parts of it cannot be read."""


class JournalBusy(JournalTrouble):
    """Somebody else has been writing for too long."""


class JournalUnreachable(JournalTrouble):
    """The file cannot be opened, or the server does not answer."""


class JournalTooNew(JournalTrouble):
    """A later version of this program has written here."""


class NoSuchJob(JournalTrouble):
    """There is no job of this id."""

    def __init__(self, job: str) -> None:
        super().__init__(_("There is no job {job!r} in this journal.").format(job=job))
        self.job = job

    def __reduce__(self) -> tuple[type[NoSuchJob], tuple[str]]:
        return type(self), (self.job,)


class JobExists(JournalTrouble):
    """A job of this id is already there and is not the same."""
