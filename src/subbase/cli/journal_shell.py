"""The journal opened for one command: what is wrong with it ends the command in one sentence."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from subbase.cli.shell import BAD_INPUT, print_fault, refuse, say
from subbase.words import _

if TYPE_CHECKING:
    from subbase.journal.store import Journal


@contextmanager
def opened_journal(place: str | None, *, as_json: bool, create: bool = False) -> Iterator[Journal]:
    """Open the journal, made when it is not there and ``create`` says so."""
    from subbase.errors import InputError
    from subbase.journal.place import default_place, make_folder
    from subbase.journal.store import open_journal
    from subbase.journal.trouble import JournalTrouble

    where = place or default_place()
    try:
        if create:
            make_folder(where)
        with open_journal(where, create=create) as journal:
            yield journal
    except InputError as error:
        refuse(error, as_json=as_json)
    except (JournalTrouble, OSError) as error:
        message = (
            str(error)
            if isinstance(error, JournalTrouble)
            else _("The journal cannot be opened: {strerror}.").format(strerror=error.strerror)
        )
        if as_json:
            print_fault(message)
        else:
            say(message, err=True)
        sys.exit(BAD_INPUT)


__all__ = ["opened_journal"]
