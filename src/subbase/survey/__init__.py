"""What was found at one address: equipment, cables, conductors, landings, jumpers, readings, and what is not known.

``load_survey`` reads a file and gives every fault at once; ``Survey`` is frozen and in SI units.
"""

from subbase.survey.model import (
    CUT_SHORT,
    LOOSE,
    NOWHERE,
    Cable,
    Conductor,
    ConductorEnd,
    Control,
    Equipment,
    How,
    Jumper,
    Profile,
    Reading,
    Survey,
    Transformer,
    Unknown,
    is_inner_point,
    split_terminal,
    with_equipment,
    with_landing,
)
from subbase.survey.read import load_survey, read_survey

__all__ = [
    "CUT_SHORT",
    "LOOSE",
    "NOWHERE",
    "Cable",
    "Conductor",
    "ConductorEnd",
    "Control",
    "Equipment",
    "How",
    "Jumper",
    "Profile",
    "Reading",
    "Survey",
    "Transformer",
    "Unknown",
    "is_inner_point",
    "load_survey",
    "read_survey",
    "split_terminal",
    "with_equipment",
    "with_landing",
]
