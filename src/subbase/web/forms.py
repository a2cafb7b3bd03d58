"""Forms as they come in: fields by name, and the key that makes sending one twice harmless."""

from __future__ import annotations

import uuid
from typing import Annotated

from fastapi import Depends, Request

from subbase.errors import Fault, InputError
from subbase.words import _

MOST_FIELDS = 500
MOST_CHARACTERS = 2000


async def _fields(request: Request) -> dict[str, str]:
    form = await request.form(max_fields=MOST_FIELDS, max_files=0)
    return {name: value[:MOST_CHARACTERS] for name, value in form.items() if isinstance(value, str)}


FormFields = Annotated[dict[str, str], Depends(_fields)]


def form_key(fields: dict[str, str]) -> str:
    """Return the key that makes sending a form twice harmless.

    Raises
    ------
    InputError
        When the form bears none.
    """
    key = fields.get("key", "")
    try:
        return str(uuid.UUID(key))
    except ValueError:
        message = _("The form bears no key of its own; load the page again and send it from there.")
        raise InputError((Fault(message, where="key"),)) from None


__all__ = [
    "FormFields",
    "form_key",
]
