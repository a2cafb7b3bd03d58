"""Forms as they come in: fields by name, and a meter's display as a number."""

from __future__ import annotations

import math
import uuid
from typing import Annotated

from fastapi import Depends, Request

from subbase.errors import Fault, InputError
from subbase.words import _

MOST_FIELDS = 500
MOST_CHARACTERS = 2000
OPEN_WORDS = ("ol", "0l", "o.l", "o.l.")


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


def read_number(text: str, *, open_allowed: bool) -> float:
    """Return what a meter's display shows; infinite for OL.

    Raises
    ------
    InputError
        When it is no number.
    """
    said = text.strip().lower()
    if said in OPEN_WORDS:
        if open_allowed:
            return math.inf
        raise InputError((Fault(_("OL is a reading of ohms; here it says that the range is too small.")),))
    bare = (
        said.rstrip("°").removesuffix("ohms").removesuffix("ohm").removesuffix("Ω").removesuffix("v").removesuffix("a")
    )
    factor = 1000.0 if bare.endswith("k") else 1.0
    bare = bare.removesuffix("k").rstrip(" °fc").replace(",", ".")
    try:
        value = float(bare) * factor
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or abs(value) > 1e9:
        message = _("'{text}' is no reading; write it as the display shows it: 26.4").format(text=text.strip()[:20])
        raise InputError((Fault(message),))
    return value


__all__ = ["FormFields", "form_key", "read_number"]
