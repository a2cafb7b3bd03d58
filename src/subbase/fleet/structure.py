"""What the planner reads of a survey, and nothing else, as a key: two homes with the same key have the same plan.

Names of jobs, notes, addresses, colours and rooms are left out, since the planner does not read them. The year of building,
mercury in the old control and how facts are known bring cautions and remarks of their own, whatever the wiring: they are
left out too, and put beside each home (``beside``). All else stands as it is given, numbers to their last digit: nothing
is rounded, so nothing can be mistaken for something else.
"""

from __future__ import annotations

import hashlib
import json
from functools import cache
from typing import Any

from subbase.plan.cautions import LEAD_PAINT_YEAR, cautions_of
from subbase.survey import Control, How, Profile, Survey
from subbase.survey.model import Place
from subbase.words import _, current_language

CHOOSING_DROPS = ("readings", "signs", "units")
"""What ``plan.choose`` does not read, though ``make_plan`` does."""


NEUTRAL = Place(year_built=LEAD_PAINT_YEAR)
"""A house that brings no caution by its age."""


def beside(survey: Survey) -> str:
    """Return, as JSON, the cautions and remarks that a home bears beside those of its structure."""
    mercury = any(control.old.mercury for control in survey.controls.values())
    hazards = house_hazards(survey.place.year_built, mercury=mercury)
    trusted = [
        _("{field} was {how}, not seen.").format(field=name, how=how.value)
        for name, how in survey.known.items()
        if how in (How.TOLD, How.ASSUMED)
    ]
    return text_of({"hazards": list(hazards), "trusted": trusted})


def house_hazards(year: int | None, *, mercury: bool) -> tuple[str, ...]:
    """Return the cautions that a house brings by its age and by mercury in its old control."""
    return _house_hazards(year, mercury, current_language())


@cache
def _house_hazards(year: int | None, mercury: bool, _language: str) -> tuple[str, ...]:
    old = Profile(terminals=("R",), mercury=mercury)
    house = Survey(survey=1, name="a home", place=Place(year_built=year), controls={"control": Control(old=old)})
    every = {
        caution.text for caution in cautions_of(house.model_copy(update={"place": NEUTRAL, "controls": {}}), {}, None)
    }
    return tuple(caution.text for caution in cautions_of(house, {}, None) if caution.text not in every)


def bare(survey: Survey) -> Survey:
    """Return the survey with all taken out that no plan depends on."""
    return survey.model_copy(
        update={
            "name": "a home",
            "notes": "",
            "site": None,
            "place": NEUTRAL,
            "known": {},
            "controls": {
                name: item.model_copy(update={"at": "", "old": item.old.model_copy(update={"mercury": False})})
                for name, item in survey.controls.items()
            },
            "equipment": {
                n: item.model_copy(update={"at": _spot(survey, item.at)}) for n, item in survey.equipment.items()
            },
            "transformers": {
                name: item.model_copy(update={"at": _spot(survey, item.at), "feeds": ""})
                for name, item in survey.transformers.items()
            },
            "cables": {
                name: cable.model_copy(
                    update={
                        "conductors": {
                            n: conductor.model_copy(update={"colours": ("", "")})
                            for n, conductor in cable.conductors.items()
                        }
                    }
                )
                for name, cable in survey.cables.items()
            },
        }
    )


def _spot(survey: Survey, at: str) -> str:
    """Return where something hangs as the planner sees it: in the cabinet of another place, or nowhere in particular."""
    return at if at in survey.places() else ""


def plain(survey: Survey) -> dict[str, Any]:
    """Return a bare survey as plain data, as short as it can be."""
    return survey.model_dump(mode="json", by_alias=True, exclude_defaults=True)


def text_of(data: Any) -> str:
    """Return plain data as the one text that stands for it; the order of names is kept, since the planner may see it."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def structure_text(survey: Survey) -> str:
    """Return the text of a survey's structure; it can be read back as a survey (``Survey.model_validate_json``)."""
    return text_of(plain(bare(survey)))


def key_of(text: str) -> str:
    """Return the short name of a structure text, 128 bits of it."""
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def choice_text(survey: Survey) -> str:
    """Return what ``plan.choose`` reads of a bare survey without unknowns."""
    data = plain(survey)
    return text_of({name: value for name, value in data.items() if name not in CHOOSING_DROPS})


def wiring_text(survey: Survey) -> str:
    """Return ``choice_text`` without lengths and gauges: houses that are the same in it may be chosen for together."""
    data = plain(survey)
    cables = {name: {**cable, "length_m": 0, "gauge": 0} for name, cable in data.get("cables", {}).items()}
    return text_of({name: value for name, value in {**data, "cables": cables}.items() if name not in CHOOSING_DROPS})
