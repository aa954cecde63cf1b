"""Which machines fail, of what and when; drawn by the seed, spread over kinds and methods."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import cycle

import numpy as np

from ingest_examples.generator.clock import DAY, Period
from ingest_examples.generator.model import Asset
from ingest_examples.generator.schedule import State, state
from ingest_examples.large.growth import Growing, Kind, Law, begin_time, failure_time
from ingest_examples.large.roster import SITE
from ingest_examples.large.scene import Scene

_SOUND_DAYS = 60
"""No damage begins before a machine was watched so long: there is a sound past."""
_LAST_DAYS = 2


@dataclass(frozen=True, slots=True)
class Recipe:
    """A kind of failure, its laws, and ranges: life [d], what it does at failure."""

    kind: Kind
    laws: tuple[Law, ...]
    velocity: tuple[float, float]
    high_frequency: tuple[float, float] = (1.0, 1.0)
    kurtosis: tuple[float, float] = (0.0, 0.0)
    warmth: tuple[float, float] = (0.0, 0.0)


_BEARING = Recipe(
    "bearing-wear", ("exponential", "crack"), (3.0, 9.0), (5.0, 14.0), (3.0, 9.0), (4.0, 18.0)
)
_UNBALANCE = Recipe("unbalance", ("linear", "exponential"), (6.0, 14.0))
_MISALIGNMENT = Recipe("misalignment", ("step",), (5.0, 10.0), warmth=(2.0, 7.0))
_LOOSENESS = Recipe("looseness", ("linear", "exponential"), (5.0, 12.0), (1.2, 2.0), (0.3, 1.5))
_GEAR = Recipe(
    "gear-wear", ("exponential", "crack"), (1.5, 5.0), (4.0, 9.0), (0.5, 2.5), (3.0, 9.0)
)
_SUDDEN = Recipe("sudden-failure", ("none",), (0.0, 0.0))

RECIPES = (
    _BEARING, _UNBALANCE, _GEAR, _BEARING, _MISALIGNMENT, _BEARING, _LOOSENESS, _BEARING,
    _UNBALANCE, _SUDDEN, _BEARING,
)  # fmt: skip
"""In this order, again and again: bearings fail most often (common practice, no source)."""

LIVES = {"online": (25.0, 60.0, 120.0, 200.0), "route": (45.0, 120.0, 220.0, 330.0)}
"""Middle lives in turn, quick to slow [d]; a route's sheets see quick ones late or never."""


def _members(asset: Asset, kind: Kind) -> list[str]:
    """Members that can fail of this."""
    if kind == "gear-wear":
        return [m.member for m in asset.members if m.role == "gear"]
    if kind == "unbalance":
        return [m.member for m in asset.members if m.role == "driven"]
    return [m.member for m in asset.members if any(p.member == m.member for p in asset.points)]


def _positions(asset: Asset, kind: Kind, member: str, chance: np.random.Generator) -> list[str]:
    """Where it sits: a bearing, a member, or both sides of a coupling."""
    own = [p.position for p in asset.points if p.member == member]
    if kind == "bearing-wear":
        return [str(chance.choice(own))]
    if kind == "misalignment":
        couplings = ("-de", "motor-lower", "pump-upper", "gear-in")
        return [p.position for p in asset.points if p.position.endswith(couplings)]
    return own


def _life(
    period: Period,
    running: State,
    kind: Kind,
    watched: int,
    wish: float,
    chance: np.random.Generator,
) -> tuple[float, int, int]:
    """A life that fits into the watched time: its days, its beginning and its end [s]."""
    first, last = watched + _SOUND_DAYS * DAY, period.end - _LAST_DAYS * DAY
    life = wish
    while True:
        latest = begin_time(period, running, kind, last, life)
        if latest > first:
            break
        life *= 0.7
    begins = int(chance.integers(first, latest))
    return life, begins, failure_time(period, running, kind, begins, life)


def _growing(
    scene: Scene, asset: Asset, recipe: Recipe, wish: float, chance: np.random.Generator
) -> Growing:
    def within(bounds: tuple[float, float]) -> float:
        return round(float(chance.uniform(*bounds)), 2)

    watched = scene.size.watched_from(scene.period, scene.methods[asset.asset])
    running = state(scene.period, SITE, asset)
    member = str(chance.choice(_members(asset, recipe.kind)))
    days = wish * float(chance.uniform(0.8, 1.25))
    life, begins, fails = _life(scene.period, running, recipe.kind, watched, days, chance)
    return Growing(
        recipe.kind, asset.asset, member,
        tuple(_positions(asset, recipe.kind, member, chance)),
        recipe.laws[int(chance.integers(len(recipe.laws)))], round(life, 3), begins, fails,
        within(recipe.velocity), within(recipe.high_frequency), within(recipe.kurtosis),
        within(recipe.warmth),
    )  # fmt: skip


def _order(scene: Scene) -> list[Asset]:
    """All machines in a drawn order, three online to two of the routes while there are both."""
    chance = scene.period.random("failing")
    drawn = list(scene.plant.assets)
    chance.shuffle(drawn)
    lines = {
        method: [a for a in drawn if scene.methods[a.asset] == method]
        for method in ("online", "route")
    }
    order: list[Asset] = []
    for method in cycle(("online", "route", "online", "route", "online")):
        if not any(lines.values()):
            return order
        if lines[method]:
            order.append(lines[method].pop(0))
    return order


def plant_failures(scene: Scene) -> tuple[Growing, ...]:
    """The site's failures: one a machine, never both of a pair."""
    planted: list[Growing] = []
    waiting = _order(scene)
    recipes = cycle(RECIPES)
    while len(planted) < scene.size.failures and waiting:
        recipe = next(recipes)
        asset = next((a for a in waiting if _members(a, recipe.kind)), None)
        if asset is None:
            continue
        waiting = [a for a in waiting if a.asset not in (asset.asset, asset.twin)]
        lives = LIVES[scene.methods[asset.asset]]
        chance = scene.period.random("failure", asset.asset)
        planted.append(_growing(scene, asset, recipe, lives[len(planted) % len(lives)], chance))
    return tuple(planted)
