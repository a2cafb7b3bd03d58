"""The journal: a job is an append-only series of events, and its present state is a fold over them.

bodies, events, merge, fold
    what may happen in a job, and the state that follows from it; they need only pydantic and the survey, so that a
    browser's Python can run them
store, job_rows, database
    where events are kept: one SQLite file, or PostgreSQL by a connection URL (``open_journal``)
photos, bundle, check, accounts
    pictures made harmless, a whole job as one file, is everything still there, and who may do what
aside
    what reading leaves behind, written without keeping the reader waiting
"""

from subbase.journal.events import Entry, Event, Kept, Refused, new_key, read_entries, read_entry
from subbase.journal.fold import JobState, fold

__all__ = ["Entry", "Event", "JobState", "Kept", "Refused", "fold", "new_key", "read_entries", "read_entry"]
