"""What a device would read at a point, in canonical units (rules F2, S1, S2, J13)."""

from __future__ import annotations

import numpy as np

from ingest_examples.generator.clock import Floats, Ints, Period, correlated
from ingest_examples.generator.faults import Effect, effect_at
from ingest_examples.generator.model import Asset, Plant, Point
from ingest_examples.generator.schedule import State, ambient, state

_AXIS_SHARE = {
    "axial": 0.5, "horizontal": 1.0, "vertical": 0.75,
    "radial-in-line": 1.0, "radial-cross": 0.8, "radial": 1.0,
}  # fmt: skip
"""Velocity by direction over that of the strongest (common practice, no source)."""
_AMPERE_PER_KW = 1.8
"""Rated current of a 400 V three-phase motor (common practice, no source)."""


class World:
    """The simulated plant; `read` gives values at any times of the period."""

    def __init__(self, plant: Plant, period: Period) -> None:
        """States and effects are simulated when first asked for, and kept."""
        self.plant = plant
        self.period = period
        self._states: dict[str, State] = {}
        self._effects: dict[tuple[str, str, str], Effect] = {}
        self._levels: dict[tuple[str, str, str], Floats] = {}

    def state(self, tag: str) -> State:
        """The running, speed, load, air and warmth of an asset on the grid."""
        if tag not in self._states:
            asset = self.plant.asset(tag)
            self._states[tag] = state(self.period, self.plant.site(asset.site), asset)
        return self._states[tag]

    def read(self, tag: str, position: str, axis: str, quantity: str, times: Ints) -> Floats:
        """Readings in canonical units: mm/s, m/s2, Cel, /min, A, or 1 (kurtosis, status)."""
        asset = self.plant.asset(tag)
        point = next(p for p in asset.points if p.position == position)
        at = self.period.index(times)
        random = self.period.random("read", tag, position, axis, quantity)
        match quantity:
            case "velocity":
                return self._velocity(asset, point, axis, at, random)
            case "acceleration":
                return self._acceleration(asset, point, axis, at, random)
            case "kurtosis":
                return self._kurtosis(asset, point, axis, at, random)
            case "temperature":
                return self._temperature(asset, point, at, random)
            case "speed":
                ratio = next((s.ratio for s in asset.shafts if s.shaft == point.shaft), 1.0)
                return np.asarray(self.state(tag).speed[at] * ratio, np.float64)
            case "current":
                return self._current(asset, at, random)
            case "running-status":
                return self.state(tag).running[at].astype(np.float64)
            case _:
                raise ValueError(f"no physics for quantity {quantity!r}")

    def bag(self, quantity: str, times: Ints, device: str, site: str) -> Floats:
        """What a sensor reads in the technician's bag: nearly nothing, air temperature."""
        random = self.period.random("bag", device, quantity)
        if quantity == "temperature":
            air = ambient(self.period, self.plant.site(site))
            return np.asarray(air[self.period.index(times)] + 2, np.float64)
        low, high = {"velocity": (0.02, 0.3), "kurtosis": (3.0, 9.0)}.get(quantity, (0.01, 0.15))
        return random.uniform(low, high, times.size)

    def _speed_share(self, asset: Asset) -> Floats:
        """Speed over rated speed [1]."""
        return np.asarray(self.state(asset.asset).speed / (asset.members[0].rated_speed or 1.0))

    def _effect(self, asset: Asset, position: str, axis: str) -> Effect:
        key = (asset.asset, position, axis)
        if key not in self._effects:
            faults = [f for f in self.plant.faults if f.asset == asset.asset]
            self._effects[key] = effect_at(
                self.period, faults, position, axis, self._speed_share(asset)
            )
        return self._effects[key]

    def _level(self, asset: Asset, point: Point, axis: str) -> Floats:
        """True running velocity on the grid [mm/s rms]: speed, load, faults, slow drift (F2).

        Speed to the 1.7 and the share of load are common practice, no source.
        """
        key = (asset.asset, point.position, axis)
        if key not in self._levels:
            now, effect = self.state(asset.asset), self._effect(asset, point.position, axis)
            drift = correlated(self.period.random("drift", *key), now.load.size, 24)
            base = point.velocity * _AXIS_SHARE.get(axis, 1.0) * np.exp(0.07 * drift)
            base = base * self._speed_share(asset) ** 1.7 * (0.85 + 0.2 * now.load)
            total = np.hypot(base, effect.velocity_add * now.running)
            self._levels[key] = total * effect.velocity_factor
        return self._levels[key]

    def _background(self, asset: Asset, point: Point, axis: str, at: Ints) -> Floats:
        """What a running twin sends through the floor [mm/s rms] (rule S2); 12 % is our choice."""
        if not asset.twin:
            return np.zeros(at.size)
        twin = self.plant.asset(asset.twin)
        same = next((p for p in twin.points if p.position == point.position), twin.points[0])
        return 0.12 * self._level(twin, same, axis)[at]

    def _velocity(
        self, asset: Asset, point: Point, axis: str, at: Ints, random: np.random.Generator
    ) -> Floats:
        """Velocity [mm/s rms, 10-1000 Hz]; a stopped machine reads 0.05-0.15 (F2)."""
        on = self.state(asset.asset).running[at]
        white = np.exp(0.035 * random.standard_normal(at.size))
        floor = np.minimum(random.uniform(0.05, 0.13, at.size), 0.13 * (0.2 + point.velocity))
        still = np.hypot(floor, self._background(asset, point, axis, at))
        return np.where(on, self._level(asset, point, axis)[at] * white, still)

    def _acceleration(
        self, asset: Asset, point: Point, axis: str, at: Ints, random: np.random.Generator
    ) -> Floats:
        """High-frequency acceleration [m/s2 rms]; about as speed to the 1.5 (common practice)."""
        on = self.state(asset.asset).running[at]
        drift = correlated(self.period.random("hf", asset.asset, point.position, axis), on.size, 4)
        share = 0.7 + 0.3 * _AXIS_SHARE.get(axis, 1.0)
        factor = self._effect(asset, point.position, axis).acceleration_factor[at]
        level = point.acceleration * share * self._speed_share(asset)[at] ** 1.5 * factor
        smooth = min(1.0, 0.25 + point.velocity)
        floor = random.uniform(0.03, 0.09, at.size)
        noise = np.exp(0.06 * drift + 0.06 * random.standard_normal(at.size))
        return np.where(on, level * smooth * noise, floor)

    def _kurtosis(
        self, asset: Asset, point: Point, axis: str, at: Ints, random: np.random.Generator
    ) -> Floats:
        """Kurtosis of acceleration [1], 3 for a normal signal; stopped: noise only (J3)."""
        on = self.state(asset.asset).running[at]
        add = self._effect(asset, point.position, axis).kurtosis_add[at]
        spread = 0.12 + 0.25 * add / 3
        running = point.kurtosis + add + spread * random.standard_normal(at.size)
        still = 3.0 + 0.1 * random.standard_normal(at.size)
        return np.maximum(np.where(on, running, still), 1.8)

    def _temperature(
        self, asset: Asset, point: Point, at: Ints, random: np.random.Generator
    ) -> Floats:
        """Housing skin [Cel]: air plus a lagged, load-dependent rise plus faults (J13)."""
        now = self.state(asset.asset)
        extra = self._effect(asset, point.position, "").temperature_add[at] * now.running[at]
        noise = 0.3 * random.standard_normal(at.size)
        if point.position == "intake":
            return 0.75 * now.ambient[at] + 2 + noise / 3
        return now.ambient[at] + point.rise * now.warmth[at] + extra + noise

    def _current(self, asset: Asset, at: Ints, random: np.random.Generator) -> Floats:
        """Supply current of the driver [A]: a magnetising part and one that follows load.

        Shares of 35 and 65 % are common practice, no source.
        """
        now = self.state(asset.asset)
        rated = (asset.members[0].power_kw or 0.0) * _AMPERE_PER_KW
        noise = 1 + 0.01 * random.standard_normal(at.size)
        return np.where(now.running[at], rated * (0.35 + 0.65 * now.load[at]) * noise, 0.0)
