"""The cautions of a job: what can hurt, where the local code or a licensed person decides, each with its source."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.catalog import Catalog
from subbase.plan.result import Caution
from subbase.survey import Survey, Unknown
from subbase.words import _, mark

PRACTICE = mark("common practice, no source")
LEAD_PAINT_YEAR = 1978
_ALWAYS = (
    Caution(
        mark(
            "Work dead: lock the supply out at its disconnect or breaker and tag it; the equipment's door switch alone is not a lock."
        ),
        mark("OSHA 29 CFR 1910.333(b) and 1910.147, from memory; local rules decide"),
    ),
    Caution(
        mark(
            "Prove the meter on a known live source, test every pair of terminals and each to ground, then prove the meter again."
        ),
        mark("NFPA 70E 120.5(7) (2018, 2021), 120.6(7) (2024)"),
    ),
    Caution(
        mark("Line voltage stands behind the equipment's panel. Keep the 24 V conductors apart from power conductors."),
        mark("NFPA 70 section 725.136"),
    ),
    Caution(mark("Local code and the licence rules of the place decide where they differ from this sheet."), PRACTICE),
)
_MERCURY = Caution(
    mark(
        "The old control holds a mercury bulb: keep it whole and upright, and hand it in as universal waste; never in the bin."
    ),
    "40 CFR 273.4 and 273.9",
)
_PAINT = Caution(
    mark(
        "Built before 1978: paint may hold lead. Drilling and cutting follow the lead-safe rules; up to 6 square feet a room is exempt as minor work."
    ),
    "40 CFR 745.83",
)
_PAINT_UNKNOWN = Caution(
    mark("The year of building is not in the survey: before 1978 paint may hold lead; find out before you drill."),
    "40 CFR 745.83",
)


def cautions_of(found: Survey, catalog: Catalog, left: Survey | None) -> tuple[Caution, ...]:
    """Return the cautions of a house, general ones first, each once."""
    every = dict.fromkeys((*_ALWAYS, *_of_house(found), *_of_equipment(left or found, catalog)))
    return tuple(Caution(_(caution.text), _(caution.source)) for caution in every)


def _of_house(survey: Survey) -> Iterator[Caution]:
    year = survey.place.year_built
    if year is None:
        yield _PAINT_UNKNOWN
    elif year < LEAD_PAINT_YEAR:
        yield _PAINT
    if any(control.old.mercury for control in survey.controls.values()):
        yield _MERCURY


def _of_equipment(survey: Survey, catalog: Catalog) -> Iterator[Caution]:
    for item in survey.equipment.values():
        kinds = item.kind.either if isinstance(item.kind, Unknown) else (item.kind,)
        for kind in kinds:
            yield from (Caution(text, PRACTICE) for text in catalog[str(kind)].cautions)
