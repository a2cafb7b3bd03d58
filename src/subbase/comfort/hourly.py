"""The simple hourly method of ISO 13790:2008, annex C: five resistances, one capacity.

A published method that others can reproduce by hand; the loop uses the finer model of ``network``.
"""

from __future__ import annotations

from dataclasses import dataclass

AIR_TO_SURFACE_W_M2K = 3.45
"""h_is, clause 7.2.2.2."""
MASS_TO_SURFACE_W_M2K = 9.1
"""h_ms, clause 12.2.2."""
SURFACE_TO_FLOOR = 4.5
"""A_t / A_f, clause 7.2.2.2."""
PROBE_W_M2 = 10.0


@dataclass(frozen=True, slots=True)
class HourlyZone:
    """A zone of ISO 13790, in its own letters."""

    A_f: float
    """Floor area [m²]."""
    A_m: float
    """Effective mass area [m²]."""
    C_m: float
    """Heat capacity [J/K]."""
    H_op: float
    """Opaque transmission [W/K]."""
    H_w: float
    """Windows [W/K]."""
    H_ve: float
    """Outdoor air [W/K]."""
    heat_limit_w: float = 1e9
    cool_limit_w: float = 1e9


@dataclass(frozen=True, slots=True)
class HourlyResult:
    """One hour."""

    unrestricted_w: float
    """What would hold the setpoint; > 0 heats, < 0 cools."""
    given_w: float
    mass_c: float
    """At the hour's end."""
    surface_c: float
    air_c: float


@dataclass(frozen=True, slots=True)
class HourlyDrive:
    """What acts on the zone in one hour."""

    outdoor_c: float
    supply_c: float
    internal_w: float = 0.0
    sun_w: float = 0.0


def step(zone: HourlyZone, drive: HourlyDrive, mass_c: float, heat_c: float, cool_c: float) -> HourlyResult:
    """Return one hour from the mass temperature at its start, by clause C.4."""
    free = _temperatures(zone, drive, mass_c, 0.0)
    if heat_c <= free.air_c <= cool_c:
        return free
    set_c = heat_c if free.air_c < heat_c else cool_c
    probe_w = PROBE_W_M2 * zone.A_f
    probed = _temperatures(zone, drive, mass_c, probe_w)
    need_w = probe_w * (set_c - free.air_c) / (probed.air_c - free.air_c)
    given_w = min(max(need_w, -zone.cool_limit_w), zone.heat_limit_w)
    found = _temperatures(zone, drive, mass_c, given_w)
    return HourlyResult(need_w, given_w, found.mass_c, found.surface_c, found.air_c)


def _temperatures(zone: HourlyZone, drive: HourlyDrive, mass_c: float, given_w: float) -> HourlyResult:
    """Equations C.1 to C.11."""
    A_t = SURFACE_TO_FLOOR * zone.A_f
    H_ms = MASS_TO_SURFACE_W_M2K * zone.A_m
    H_em = 1.0 / (1.0 / zone.H_op - 1.0 / H_ms)
    H_is = AIR_TO_SURFACE_W_M2K * A_t
    H_1 = 1.0 / (1.0 / zone.H_ve + 1.0 / H_is)
    H_2 = H_1 + zone.H_w
    H_3 = 1.0 / (1.0 / H_2 + 1.0 / H_ms)
    half = 0.5 * drive.internal_w
    phi_ia = half
    phi_m = zone.A_m / A_t * (half + drive.sun_w)
    phi_st = (1.0 - zone.A_m / A_t - zone.H_w / (9.1 * A_t)) * (half + drive.sun_w)
    air_side = (phi_ia + given_w) / zone.H_ve + drive.supply_c
    phi_mtot = phi_m + H_em * drive.outdoor_c + H_3 * (phi_st + zone.H_w * drive.outdoor_c + H_1 * air_side) / H_2
    storage = zone.C_m / 3600.0
    end_c = (mass_c * (storage - 0.5 * (H_3 + H_em)) + phi_mtot) / (storage + 0.5 * (H_3 + H_em))
    mean_c = 0.5 * (mass_c + end_c)
    surface_c = (H_ms * mean_c + phi_st + zone.H_w * drive.outdoor_c + H_1 * air_side) / (H_ms + zone.H_w + H_1)
    air_c = (H_is * surface_c + zone.H_ve * drive.supply_c + phi_ia + given_w) / (H_is + zone.H_ve)
    return HourlyResult(0.0 if given_w == 0.0 else given_w, given_w, end_c, surface_c, air_c)
