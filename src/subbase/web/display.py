"""What a meter's or thermometer's display shows, as people type it."""

from __future__ import annotations

import math

from subbase.errors import Fault, InputError
from subbase.words import _

OPEN_WORDS = ("ol", "0l", "o.l", "o.l.")


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
