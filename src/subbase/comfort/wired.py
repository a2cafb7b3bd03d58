"""From the settings of a control to what it drives in the loop."""

from __future__ import annotations

import math

from subbase.comfort.served import AUXILIARY_WAIT_S, Wired
from subbase.comfort.setting_records import Tuning


def wired_of(tuning: Tuning) -> Wired:
    """Return what a control serves, its lockouts as they are set."""

    def count(key: str) -> int:
        setting = tuning.of(key)
        return int(setting.number) if setting is not None and setting.number is not None else 0

    def celsius(key: str, otherwise: float) -> float:
        setting = tuning.of(key)
        if setting is None:
            return otherwise
        if setting.number is None:
            return setting.always if setting.always is not None else otherwise
        return (setting.number - 32.0) / 1.8 if setting.unit == "°F" else setting.number

    wait = tuning.of("auxiliary_wait")
    wait_min = wait.number if wait is not None and wait.number is not None else None
    return Wired(
        heat=tuning.heat,
        heat_stages=max(count("heat_stages"), 1),
        cool_stages=count("cool_stages"),
        strip_stages=count("auxiliary_stages"),
        second_fuel=count("second_fuel_stages") > 0,
        auxiliary_below_c=celsius("auxiliary_lockout", math.inf),
        compressor_above_c=celsius("second_fuel_changeover", -math.inf),
        auxiliary_wait_s=AUXILIARY_WAIT_S if wait_min is None else 60.0 * wait_min,
    )
