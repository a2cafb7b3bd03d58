"""What equipment is: kinds as data files, each with its terminals, parts, calls, sequence and cautions.

Every value bears its source. Users add folders of their own kinds; a nameplate in the survey overrides any value.
"""

from subbase.catalog.load import Catalog, load_catalog, read_kind
from subbase.catalog.model import (
    CALLS,
    Call,
    Condition,
    ContactPart,
    FusePart,
    Kind,
    LinkPart,
    LoadPart,
    Part,
    Requirement,
    ResistorPart,
    SwitchPart,
    TransformerPart,
)

__all__ = [
    "CALLS",
    "Call",
    "Catalog",
    "Condition",
    "ContactPart",
    "FusePart",
    "Kind",
    "LinkPart",
    "LoadPart",
    "Part",
    "Requirement",
    "ResistorPart",
    "SwitchPart",
    "TransformerPart",
    "load_catalog",
    "read_kind",
]
