"""What a control's outputs do in each call, and how a control must be set for the equipment it serves.

The letters are common trade practice (the marking table of NEMA DC 3 was not seen); what a control really does is
checked at the meter. A letter that is not known here is an output that no call ever energises.
"""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from subbase.catalog import Call, Catalog, Kind
from subbase.survey import Profile, Survey

SUPPLIES = ("R", "Rh", "Rc")
NOT_OUTPUTS = (*SUPPLIES, "C", "L", "S1", "S2")


ALIVE_SHARE = 0.5
"""Of the least supply volts of a control: below it, it shows nothing and its outputs stay open. A maker's least is a promise;
what it really takes lies between this and all of it (judgement)."""


@dataclass(frozen=True, slots=True)
class Settings:
    """How a control is set for its equipment."""

    compressor_heats: bool = False
    """Whether a heating call runs the compressor (a heat pump)."""
    changeover: Literal["cooling", "heating"] | None = None
    """When the changeover valve is energised; None without one."""
    fan_with_heat: bool = False
    """Whether the control, not the equipment, runs the fan in heating."""


def outputs_of(profile: Profile) -> tuple[str, ...]:
    """Return the terminals of a control that it switches."""
    return tuple(terminal for terminal in profile.terminals if terminal not in NOT_OUTPUTS)


def outputs_on(profile: Profile, settings: Settings, calls: Set[Call]) -> frozenset[str]:
    """Return the output terminals that a control makes during ``calls``."""
    return _made(outputs_of(profile), settings, frozenset(calls))


@lru_cache(maxsize=4096)
def _made(outputs: tuple[str, ...], settings: Settings, calls: frozenset[Call]) -> frozenset[str]:
    # A heat pump's control without W1 begins its backup at W2 (common practice, no source).
    backup_at_w2 = settings.compressor_heats and not {"W", "W1", "AUX"} & set(outputs)
    return frozenset(terminal for terminal in outputs if _makes(terminal, settings, calls, backup_at_w2=backup_at_w2))


def stage(calls: Iterable[str], name: str) -> int:
    """Return the highest stage asked for under a name such as ``heat``; 0 when none."""
    stages = (call.rpartition(" ") for call in calls)
    return max((int(number) for word, _, number in stages if word == name), default=0)


def _makes(terminal: str, settings: Settings, calls: Set[Call], *, backup_at_w2: bool) -> bool:
    heat, cool = stage(calls, "heat"), stage(calls, "cool")
    backup = max(stage(calls, "auxiliary heat"), stage(calls, "emergency heat"), stage(calls, "second fuel heat"))
    by_compressor = settings.compressor_heats and (heat > 0 or stage(calls, "auxiliary heat") > 0)
    compressor_stage = max(cool, heat, 2 if stage(calls, "auxiliary heat") else 0) if by_compressor else cool
    heater_stage = backup if settings.compressor_heats else max(heat, backup)
    match terminal:
        case "W" | "W1" | "AUX":
            return heater_stage >= 1
        case "W2" | "W3":
            return heater_stage >= int(terminal[1]) - backup_at_w2
        case "Y" | "Y1":
            return compressor_stage >= 1
        case "Y2":
            return compressor_stage >= 2
        case "G":
            strips = stage(calls, "auxiliary heat") or stage(calls, "emergency heat")
            return "fan" in calls or cool > 0 or by_compressor or (settings.fan_with_heat and (heat > 0 or strips > 0))
        case "O" | "B" | "O/B":
            energised_in = {"O": "cooling", "B": "heating"}.get(terminal, settings.changeover)
            return cool > 0 if energised_in == "cooling" else by_compressor and energised_in == "heating"
        case "E":
            return stage(calls, "emergency heat") > 0
        case "HUM":
            return "humidify" in calls
        case "DEHUM":
            return "dehumidify" in calls
        case "VENT":
            return "ventilate" in calls
    return False


def settings_for(survey: Survey, catalog: Catalog, control: str) -> Settings:
    """Return how a control must be set for the equipment it serves (all kinds known)."""
    served = [
        (item.role, catalog[str(item.kind)])
        for item in survey.equipment.values()
        if control in (item.serves or survey.controls) or control in item.zones.values()
    ]
    compressor_heats = any(kind.group == "heat pump" and role == "main" for role, kind in served)
    changeover: Literal["cooling", "heating"] | None = None
    for _, kind in served:
        changeover = _changeover(kind) or changeover
    fan_with_heat = any(
        "G" in need.energise
        for _, kind in served
        for call, need in kind.calls.items()
        if "heat" in call and kind.group != "heat pump"
    )
    return Settings(compressor_heats, changeover, fan_with_heat)


def _changeover(kind: Kind) -> Literal["cooling", "heating"] | None:
    if any("O" in need.energise for call, need in kind.calls.items() if call.startswith("cool")):
        return "cooling"
    if any("B" in need.energise for call, need in kind.calls.items() if call.startswith("heat")):
        return "heating"
    return None
