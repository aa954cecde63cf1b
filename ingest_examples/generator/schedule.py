"""When a machine runs, how fast, how hard, in what air (rules S1-S3, F2)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest_examples.generator.clock import (
    DAY,
    Bools,
    Floats,
    Period,
    correlated,
    lagged,
)
from ingest_examples.generator.model import Asset, Site

_THERMAL_MEMORY_STEPS = 4
"""Two hours: time constant of a bearing housing (common practice, no source)."""
_CHANGEOVER_DAYS = 7
_BATCH_MEMORY_STEPS = 16
"""Eight hours: batches of some hours to two days, two thirds of the time (common practice)."""


@dataclass(frozen=True, slots=True)
class State:
    """One asset on the grid: driver speed [/min], load [share], air [Cel], warmth [share]."""

    running: Bools
    speed: Floats
    load: Floats
    ambient: Floats
    warmth: Floats


def ambient(period: Period, site: Site) -> Floats:
    """Air temperature [Cel]: a season that falls, a day's swing, weather (F2; shape our own)."""
    grid = period.grid()
    season = np.clip(period.fraction(grid), 0, None) * period.days / site.season_days
    drop = site.season_drop_k * 0.5 * (1 - np.cos(np.pi * season))
    day = site.day_swing_k * np.sin(2 * np.pi * ((grid % DAY) / DAY - 0.375))
    weather = 1.2 * correlated(period.random("weather", site.site), grid.size, 60)
    return np.asarray(site.ambient_cel - drop + day + weather, np.float64)


def demand(period: Period, site: Site) -> Floats:
    """What the site asks of its machines, as a share around 1 (day, week, season; F2)."""
    grid = period.grid()
    hour = (grid % DAY) / 3600
    noise = 0.03 * correlated(period.random("demand", site.site), grid.size, 12)
    weekend = np.where((grid // DAY + 3) % 7 >= 5, -0.04, 0.0)
    if site.site == "board-mill":
        grade = period.random("grade").uniform(-0.08, 0.08, grid.size // 96 + 1)
        return np.asarray(1 + np.repeat(grade, 96)[: grid.size] + noise / 2, np.float64)
    if site.site == "district-cooling":
        season = -0.25 * np.clip(period.fraction(grid), 0, 4)
        return np.asarray(1.08 + season + 0.15 * np.sin(2 * np.pi * (hour - 9) / 24) + noise, float)
    peaks = 0.1 * np.cos(4 * np.pi * (hour - 6) / 24)
    return np.asarray(1 + peaks + weekend + noise, np.float64)


def _pattern(period: Period, asset: Asset) -> Bools:
    """Running or not by the asset's pattern, before outages."""
    grid = period.grid()
    turn = ((grid - period.start) // DAY // _CHANGEOVER_DAYS) % 2 == 0
    hour = (grid % DAY) / 3600
    chance = period.random("run", asset.asset).random(grid.size)
    match asset.duty.pattern:
        case "alternate-a":
            return np.asarray(turn, np.bool_)
        case "alternate-b":
            return np.asarray(~turn, np.bool_)
        case "daytime":
            return np.asarray((hour >= 4) & (hour < 21), np.bool_)
        case "cycling":
            return np.asarray(chance < 0.7, np.bool_)
        case "batch":
            swing = correlated(period.random("batch", asset.asset), grid.size, _BATCH_MEMORY_STEPS)
            return np.asarray(swing > -0.4, np.bool_)
        case "standby":
            return np.asarray(((grid - period.start) // DAY) % 10 == 6, np.bool_)
        case _:
            return np.ones(grid.size, np.bool_)


def running(period: Period, asset: Asset) -> Bools:
    """Running or not, with outages and a final stop."""
    grid = period.grid()
    on = _pattern(period, asset)
    for begin, hours in asset.duty.outages:
        first = period.at(begin)
        on &= ~((grid >= first) & (grid < first + hours * 3600))
    if asset.duty.stops_at is not None:
        on &= grid < period.at(asset.duty.stops_at)
    return on


def _speed(asset: Asset, on: Bools, load: Floats, noise: Floats) -> Floats:
    """Speed of the driver [/min]: slip with load on mains, demand on a converter (S3).

    A slip of 0.6 % at usual load is common practice, no source.
    """
    driver = asset.members[0]
    rated = driver.rated_speed or 0.0
    if asset.duty.pattern == "demand-speed" and driver.min_speed:
        share = np.clip((load - 0.45) / 0.5, 0, 1)
        speed = driver.min_speed + (rated - driver.min_speed) * share
    elif driver.min_speed:
        speed = rated * (0.93 + 0.04 * np.clip(load, 0, 1))
    else:
        speed = rated * (1.006 - 0.006 * load / 0.75)
    return np.where(on, speed + 0.4 * noise, 0.0)


def state(period: Period, site: Site, asset: Asset) -> State:
    """Simulate one asset on the grid. Warmth lags running and load (rule J13)."""
    on = running(period, asset)
    random = period.random("state", asset.asset)
    spread = 0.02 * correlated(random, on.size, 8)
    load = np.clip(asset.duty.load * demand(period, site) + spread, 0.1, 1.1)
    air = ambient(period, site)
    speed = _speed(asset, on, load, random.standard_normal(on.size))
    warmth = lagged(np.where(on, 0.35 + 0.65 * load, 0.0), _THERMAL_MEMORY_STEPS)
    return State(on, speed, load, air, warmth)
