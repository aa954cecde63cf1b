"""A large site put together, and its world: machines, what grows in them, what disturbs them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ingest_examples.generator.clock import Floats, Period
from ingest_examples.generator.faults import Effect
from ingest_examples.generator.model import Asset, Plant
from ingest_examples.generator.physics import World
from ingest_examples.large.effects import grow, resonance, wander
from ingest_examples.large.growth import Growing, share_of_life
from ingest_examples.large.size import Size

COLD_RISE = 0.5
"""How much rougher, cold [share]: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Scene:
    """The site: `methods` says how each asset is measured, `natural` which are near resonance.

    `natural` holds natural frequencies over rated speed [1]; `rough_when_cold` trains that are
    rough after each start. The plant's own faults are the disturbances, `growing` the damage.
    """

    plant: Plant
    period: Period
    size: Size
    methods: dict[str, str]
    growing: tuple[Growing, ...] = ()
    natural: dict[str, float] = field(default_factory=dict)
    rough_when_cold: frozenset[str] = frozenset()

    def failing(self, tag: str) -> Growing | None:
        """What grows in an asset, if anything."""
        return next((g for g in self.growing if g.asset == tag), None)

    def undamaged(self) -> Scene:
        """The same site, run and stopped alike, with nothing growing in it."""
        return replace(self, growing=())

    def world(self) -> LargeWorld:
        """A fresh world; it keeps what it has simulated, so take one for a few machines only."""
        return LargeWorld(self)


class LargeWorld(World):
    """The physics of the demo, with damage that grows, resonance and slow wandering."""

    def __init__(self, scene: Scene) -> None:
        """As the demo's world, of a large site."""
        super().__init__(scene.plant, scene.period)
        self._scene = scene

    def velocity(self, asset: Asset, position: str, axis: str) -> Floats:
        """True velocity on the grid, before any sensor's noise [mm/s rms]."""
        point = next(p for p in asset.points if p.position == position)
        return self._level(asset, point, axis)

    def effect(self, asset: Asset, position: str, axis: str) -> Effect:
        """Disturbances, damage, resonance and wandering of a position and axis, on the grid."""
        return self._effect(asset, position, axis)

    def _effect(self, asset: Asset, position: str, axis: str) -> Effect:
        key = (asset.asset, position, axis)
        if key not in self._effects:
            effect = super()._effect(asset, position, axis)
            effect.velocity_factor *= np.exp(0.05 * wander(self.period, "velocity", *key))
            effect.acceleration_factor *= np.exp(0.12 * wander(self.period, "hf", *key))
            self._calibrate(effect, asset, position)
            self._run_cold(effect, asset)
            self._resonate(effect, asset, axis)
            self._grow(effect, asset, position, axis)
        return self._effects[key]

    def _calibrate(self, effect: Effect, asset: Asset, position: str) -> None:
        """Another sensor at the same place reads a little differently."""
        for swap in self.plant.faults:
            if swap.kind == "sensor-swap" and (swap.asset, swap.positions) == (
                asset.asset,
                (position,),
            ):
                factor = np.where(self.period.grid() >= self.period.at(swap.begin), swap.size, 1.0)
                effect.velocity_factor *= factor
                effect.acceleration_factor *= factor

    def _run_cold(self, effect: Effect, asset: Asset) -> None:
        """A train lined up for its running warmth runs rougher for two hours after a start."""
        if asset.asset in self._scene.rough_when_cold:
            now = self.state(asset.asset)
            cold = np.clip(1 - now.warmth / (0.35 + 0.65 * now.load), 0, 1)
            effect.velocity_factor *= 1 + COLD_RISE * cold

    def _resonate(self, effect: Effect, asset: Asset, axis: str) -> None:
        """A structure near its natural frequency, which wanders with the water level (F2)."""
        if asset.asset in self._scene.natural and axis == "radial-in-line":
            around = self._scene.natural[asset.asset]
            natural = around * np.exp(0.03 * wander(self.period, "natural", asset.asset))
            effect.velocity_factor *= resonance(self._speed_share(asset), natural)

    def _grow(self, effect: Effect, asset: Asset, position: str, axis: str) -> None:
        growing = self._scene.failing(asset.asset)
        if growing:
            life = share_of_life(self.period, self.state(growing.asset), growing)
            share = self._speed_share(asset)
            grow(effect, self.period, growing, (position, axis), life, share)
