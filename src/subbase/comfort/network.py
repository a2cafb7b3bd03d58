"""A building as a thermal network, and the few modes of it that the air feels.

Every layer is cut into slices; each slice is a node with heat capacity, joined to its neighbours. Rooms are one air node
and one radiant node (a star): each inner surface gives heat to the air by convection and to the star by radiation.
Nodes without capacity are eliminated exactly. What is left is symmetric,

    C dT/dt = -G T + B u + e_air q,

so its modes are real. ``plant_of`` keeps a few: it projects on the directions in which the air temperature answers at
chosen time scales (a rational Krylov space), which keeps every steady-state gain exactly and stays passive. Grimme,
Krylov Projection Methods for Model Reduction, thesis, University of Illinois (1997) [from memory].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from subbase.comfort.building import (
    INSIDE_FILM_W_M2K,
    OUTSIDE_FILM_W_M2K,
    Building,
    Face,
    Layer,
    Opaque,
    Window,
)
from subbase.comfort.sun_on_windows import DRIVES
from subbase.comfort.weather import STEFAN_BOLTZMANN, Floats, standard_pressure_pa

AIR_HEAT_J_KGK = 1006.0
DRY_AIR_GAS_J_KGK = 287.05
INSIDE_EMISSIVITY = 0.9
OUTSIDE_EMISSIVITY = 0.9
GLASS_EMISSIVITY = 0.84
SLICE_S = 900.0
"""A slice is about as thick as heat goes in this time."""
TIME_SCALES_S = (math.inf, 60 * 3600.0, 6 * 3600.0, 3600.0, 420.0)
"""Where the reduced model answers exactly, and so how many modes it has."""

# Inside convection [W/(m² K)]: Walton's correlations for still rooms (TARP manual 1983, as the EnergyPlus engineering
# reference gives them [from memory]), at the temperature difference usual for each [judgement]: 1 K at walls and ceiling,
# 8 K at glass (U of 2.8 at 20 K). A floor is warmed by the sun that falls on it, so its difference follows from the glass over it.
_UPRIGHT, _RISING, _STABLE = 1.31, 9.482 / 6.283, 1.81 / 2.382
_CONVECTION = {"wall": _UPRIGHT, "window": _UPRIGHT * 8.0 ** (1 / 3), "ceiling": 0.5 * (_RISING + _STABLE)}
_SUN_ON_GLASS_W_M2 = 250.0
"""Sun on upright glass while it shines, mean over facings and seasons [judgement]."""
_FLOOR_GIVES_W_M2K = 8.0
_SHELTERED_W_M2K = 1.5
"""Outside convection under a floor that no wind reaches [judgement]."""
_ROUGHNESS = 1.67
"""How much more wind carries off rough walls and roofs than glass: ASHRAE's surface roughness, as DOE-2 uses it [from memory]."""
SUBURB_WIND = 0.45
"""Wind at a wall two metres up among houses, of that at the weather station: power law, exponents 0.14 and 0.22, layers
270 and 370 m (ASHRAE Fundamentals, chapter on airflow around buildings [from memory])."""
OPEN_WIND = 0.75
"""The same on open flat land."""


def outside_convection_w_m2k(wind_m_s: float, *, rough: bool) -> float:
    """Return outside convection at a wind by the wall [W/(m² K)].

    Yazdanian and Klems, ASHRAE Transactions 100(1) (1994): (0.84 ΔT^(1/3))² + (a V^b)² under a root, mean of windward
    (3.26, 0.89) and leeward (3.55, 0.617), at ΔT 5 K [from memory].
    """
    still = 0.84 * 5.0 ** (1 / 3)
    glass = 0.5 * (math.hypot(still, 3.26 * wind_m_s**0.89) + math.hypot(still, 3.55 * wind_m_s**0.617))
    return still + _ROUGHNESS * (glass - still) if rough else glass


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """A thermal network with capacity at every node; the first node is the air."""

    capacity_j_k: Floats
    """(n,)"""
    conductance_w_k: Floats
    """(n, n) symmetric, positive definite: flow out of node i per kelvin of node j."""
    drive_to_node: Floats
    """(n, 14) W into a node per unit of each drive."""
    heat_to_node: Floats
    """(n,) share of the equipment's heat that goes into each node; the air takes all of forced air."""


@dataclass(frozen=True, slots=True, eq=False)
class Plant:
    """What the loop runs: dz_i/dt = -decay_i z_i + drive_i·u + heat_i q; air = Σ air_i z_i."""

    decay_per_s: Floats
    """(k,) all > 0."""
    air_of_mode: Floats
    """(k,) K of air per unit of mode."""
    heat_to_mode: Floats
    """(k,) per J of equipment heat."""
    drive_to_mode: Floats
    """(k, 14) per unit of drive and second."""

    @property
    def loss_w_k(self) -> float:
        """Steady heat per kelvin of air temperature [W/K]: the house's UA as the equipment sees it."""
        return float(1.0 / (self.air_of_mode * self.heat_to_mode / self.decay_per_s).sum())

    @property
    def time_constant_s(self) -> float:
        """The slowest time constant [s]."""
        return float(1.0 / self.decay_per_s.min())

    def steady_air_k(self) -> Floats:
        """Return the steady air temperature per unit of each drive, (14,)."""
        return np.asarray((self.air_of_mode / self.decay_per_s) @ self.drive_to_mode)


def plant_of(building: Building, wind_m_s: float = 1.8, *, time_scales_s: tuple[float, ...] = TIME_SCALES_S) -> Plant:
    """Return the reduced model of a building; ``wind_m_s`` is the year's mean by the walls."""
    return reduced(network_of(building, wind_m_s), time_scales_s)


def reduced(network: Network, time_scales_s: tuple[float, ...] = TIME_SCALES_S) -> Plant:
    """Return the modes that the air feels at the given time scales; all modes if there are no more than that."""
    root = np.sqrt(network.capacity_j_k)
    system = network.conductance_w_k / np.outer(root, root)
    air = np.zeros(len(root))
    air[0] = 1.0 / root[0]
    if len(root) > len(time_scales_s):
        shifts = [0.0 if math.isinf(scale) else 1.0 / scale for scale in time_scales_s]
        columns = [np.linalg.solve(system + shift * np.eye(len(root)), air) for shift in shifts]
        basis, _ = np.linalg.qr(np.stack([column / np.linalg.norm(column) for column in columns], axis=1))
    else:
        basis = np.eye(len(root))
    decay, vectors = np.linalg.eigh(basis.T @ system @ basis)
    modes = basis @ vectors
    return Plant(
        decay_per_s=decay,
        air_of_mode=np.ascontiguousarray(air @ modes),
        heat_to_mode=np.ascontiguousarray((network.heat_to_node / root) @ modes),
        drive_to_mode=np.ascontiguousarray(modes.T @ (network.drive_to_node / root[:, None])),
    )


def network_of(building: Building, wind_m_s: float = 1.8) -> Network:
    """Return the network of a building's layers, glass and air."""
    build = _Builder(building, wind_m_s)
    for opaque in building.opaques:
        build.add_opaque(opaque)
    for window in building.windows:
        build.add_window(window)
    build.add_gains()
    return build.finish()


def air_density_kg_m3(elevation_m: float, air_c: float = 20.0) -> float:
    """Return the density of dry air at a height above the sea."""
    return standard_pressure_pa(elevation_m) / (DRY_AIR_GAS_J_KGK * (air_c + 273.15))


class _Builder:
    """Collects nodes and links; node 0 is the air, node 1 the radiant star."""

    def __init__(self, building: Building, wind_m_s: float) -> None:
        self.building = building
        self.rough, self.smooth = (outside_convection_w_m2k(wind_m_s, rough=rough) for rough in (True, False))
        density = air_density_kg_m3(building.elevation_m)
        air_j_k = density * AIR_HEAT_J_KGK * building.volume_m3
        self.capacity: list[float] = [air_j_k * building.air_capacity_factor, 0.0]
        self.links: list[tuple[int, int, float]] = []
        self.drives: list[tuple[int, str, float]] = []
        self.to_drive: list[tuple[int, str, float]] = []
        self.surfaces: list[tuple[int, float, float]] = []
        """(node, area, absorptance) of inner surfaces that sun may fall on."""
        self.floors: list[int] = []
        self.glass: list[tuple[int, Window]] = []
        # Air comes in with the density of outdoors.
        cold_j_k = air_density_kg_m3(building.elevation_m, 10.0) * AIR_HEAT_J_KGK * building.volume_m3
        self.outdoors(0, cold_j_k * building.air_changes_per_h / 3600.0)

    def node(self, capacity_j_k: float = 0.0) -> int:
        """Add a node."""
        self.capacity.append(capacity_j_k)
        return len(self.capacity) - 1

    def link(self, one: int, other: int, conductance_w_k: float) -> None:
        """Join two nodes."""
        self.links.append((one, other, conductance_w_k))

    def outdoors(self, node: int, conductance_w_k: float, drive: str = "outdoor_c") -> None:
        """Join a node to a temperature that is given."""
        self.to_drive.append((node, drive, conductance_w_k))

    def heat(self, node: int, drive: str, factor: float) -> None:
        """Let a drive put heat into a node."""
        self.drives.append((node, drive, factor))

    def add_opaque(self, opaque: Opaque) -> None:
        """Add an element's slices from inside to outside."""
        kind = "floor" if opaque.is_floor else "ceiling" if opaque.face is Face.SKY else "wall"
        inner = self.inner_surface(opaque.area_m2, kind, INSIDE_EMISSIVITY)
        if opaque.is_floor:
            self.floors.append(len(self.surfaces))
        self.surfaces.append((inner, opaque.area_m2, opaque.solar_absorptance))
        layers = opaque.layers[::-1]
        if opaque.face is Face.INSIDE:
            # Both sides are alike, so the middle is a mirror: half of each layer, no flow past it.
            layers = tuple(
                Layer(layer.thickness_m / 2, layer.conductivity_w_mk, layer.density_kg_m3, layer.heat_j_kgk)
                for layer in layers
            )
        end, resistance = self.add_slices(inner, opaque.area_m2, layers)
        if opaque.face is Face.INSIDE:
            return
        outer = self.node()
        self.link(end, outer, opaque.area_m2 / max(resistance, 1e-6))
        self.add_outside(outer, opaque)

    def add_slices(self, start: int, area_m2: float, layers: tuple[Layer, ...]) -> tuple[int, float]:
        """Add the slices of layers; return the last node and the resistance from it to the far face [m² K/W]."""
        last, resistance = start, 0.0
        for layer in layers:
            capacity = layer.capacity_j_m2k
            if capacity <= 0.0:
                resistance += layer.resistance_m2k_w
                continue
            depth_m = math.sqrt(2.0 * SLICE_S * layer.conductivity_w_mk / (layer.density_kg_m3 * layer.heat_j_kgk))
            count = min(max(math.ceil(layer.thickness_m / depth_m), 1), 8)
            half = layer.resistance_m2k_w / (2 * count)
            for _ in range(count):
                node = self.node(area_m2 * capacity / count)
                self.link(last, node, area_m2 / (resistance + half))
                last, resistance = node, half
        return last, resistance

    def inner_surface(self, area_m2: float, kind: str, emissivity: float) -> int:
        """Add an inner surface, joined to air and star."""
        surface = self.node()
        radiation = 4.0 * STEFAN_BOLTZMANN * 293.15**3 * emissivity
        self.link(surface, 0, area_m2 * (self.floor_convection_w_m2k() if kind == "floor" else _CONVECTION[kind]))
        self.link(surface, 1, area_m2 * radiation)
        return surface

    def floor_convection_w_m2k(self) -> float:
        """Return convection at the floor: rising air at the difference that the sun makes, or still air where there is none."""
        glass_m2 = sum(window.area_m2 * window.shgc * window.screen for window in self.building.windows)
        floors = [opaque for opaque in self.building.opaques if opaque.is_floor]
        sun_w = _SUN_ON_GLASS_W_M2 * glass_m2 * (floors[0].solar_absorptance if floors else 0.0)
        over_k = sun_w / (_FLOOR_GIVES_W_M2K * sum(floor.area_m2 for floor in floors)) if floors else 0.0
        return max(_RISING * math.cbrt(over_k), _STABLE)

    def add_outside(self, outer: int, opaque: Opaque) -> None:
        """Join an outer surface to air, sky and sun."""
        area_m2 = opaque.area_m2
        if opaque.face is Face.GROUND:
            self.outdoors(outer, area_m2 * 1e3, "ground_c")
            return
        radiation = 4.0 * STEFAN_BOLTZMANN * 283.15**3 * OUTSIDE_EMISSIVITY
        self.outdoors(outer, area_m2 * ((_SHELTERED_W_M2K if opaque.face is Face.OPEN else self.rough) + radiation))
        if opaque.face is Face.OPEN:
            return
        sky = "sky_level_w_m2" if opaque.face is Face.SKY else "sky_upright_w_m2"
        self.heat(outer, sky, area_m2 * OUTSIDE_EMISSIVITY)
        self.heat(outer, f"sun_{opaque.face}_w_m2", area_m2 * opaque.solar_absorptance)

    def add_window(self, window: Window) -> None:
        """Add glass: a resistance between two films."""
        inner, outer = self.inner_surface(window.area_m2, "window", GLASS_EMISSIVITY), self.node()
        glass = 1.0 / window.u_w_m2k - 1.0 / INSIDE_FILM_W_M2K - 1.0 / OUTSIDE_FILM_W_M2K
        self.link(inner, outer, window.area_m2 / max(glass, 1e-3))
        radiation = 4.0 * STEFAN_BOLTZMANN * 283.15**3 * GLASS_EMISSIVITY
        self.outdoors(outer, window.area_m2 * (self.smooth + radiation))
        sky = "sky_level_w_m2" if window.face is Face.SKY else "sky_upright_w_m2"
        self.heat(outer, sky, window.area_m2 * GLASS_EMISSIVITY)
        self.glass.append((inner, window))

    def add_gains(self) -> None:
        """Spread people's and the sun's heat."""
        building = self.building
        self.heat(0, "internal", building.internal_gain_w * (1.0 - building.internal_radiant_share))
        self.heat(1, "internal", building.internal_gain_w * building.internal_radiant_share)
        shares = self.sun_shares()
        for inner, window in self.glass:
            gain_m2 = window.area_m2 * window.shgc * window.screen
            drive = f"glass_{window.face}_w_m2"
            self.heat(inner, drive, gain_m2 * window.inward_share)
            for (surface, _, _), share in zip(self.surfaces, shares, strict=True):
                self.heat(surface, drive, gain_m2 * (1.0 - window.inward_share) * share)

    def sun_shares(self) -> list[float]:
        """Return which part of the transmitted sun each inner surface takes.

        Beam falls on the floor; what it throws back is spread evenly by area and absorptance, glass letting out again
        what reaches it (ASHRAE Standard 140, informative annex on interior solar distribution, in its idea).
        """
        glass_m2 = sum(window.area_m2 for _, window in self.glass)
        # Of diffuse light from inside clear double glass lets about 0.6 out and throws some back.
        weights = [area * absorptance for _, area, absorptance in self.surfaces]
        total = sum(weights) + 0.65 * glass_m2
        floor_m2 = sum(self.surfaces[k][1] for k in self.floors)
        shares = []
        first = sum(self.surfaces[k][1] * self.surfaces[k][2] for k in self.floors) / floor_m2 if floor_m2 else 0.0
        for k, (_, area, absorptance) in enumerate(self.surfaces):
            direct = area * absorptance / floor_m2 if k in self.floors else 0.0
            shares.append(direct + (1.0 - first) * weights[k] / total)
        return shares

    def finish(self) -> Network:
        """Put all into matrices and eliminate nodes without capacity."""
        n = len(self.capacity)
        conductance, drive = np.zeros((n, n)), np.zeros((n, len(DRIVES)))
        for one, other, value in self.links:
            conductance[[one, other], [one, other]] += value
            conductance[one, other] -= value
            conductance[other, one] -= value
        for node, name, value in self.to_drive:
            conductance[node, node] += value
            drive[node, DRIVES.index(name)] += value
        for node, name, value in self.drives:
            drive[node, DRIVES.index(name)] += value
        capacity = np.array(self.capacity)
        kept, gone = np.flatnonzero(capacity > 0.0), np.flatnonzero(capacity <= 0.0)
        through = conductance[np.ix_(kept, gone)] @ np.linalg.inv(conductance[np.ix_(gone, gone)])
        heat = np.zeros(len(kept))
        heat[0] = 1.0
        return Network(
            capacity_j_k=capacity[kept],
            conductance_w_k=conductance[np.ix_(kept, kept)] - through @ conductance[np.ix_(gone, kept)],
            drive_to_node=drive[kept] - through @ drive[gone],
            heat_to_node=heat,
        )


__all__ = [
    "OPEN_WIND",
    "SUBURB_WIND",
    "Network",
    "Plant",
    "air_density_kg_m3",
    "network_of",
    "plant_of",
    "reduced",
]
