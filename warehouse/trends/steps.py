"""The latest step of each series: a level that changed from one day to the next, and stayed.

A step and a slope both make the second half of a window higher than the first,
and every test of two halves (Pettitt's among them) finds either. What parts
them is suddenness. Of each day it is asked:

- the jump: the median of a week of daily values before against a week after;
- what the neighbours say: the jumps a week earlier and a week later. On a slope
  they are the same, at a step they are nothing. Their mean is taken off;
- suddenness: three days before against three days after must show most of the
  jump already (on a slope they show three sevenths), and the days after must
  have settled;
- noise: the jump must stand out of what the scatter from day to day, with its
  autocorrelation, gives between two weeks. Scatter and autocorrelation come from the
  differences between values one and two days apart, which a slope does not
  touch and a step touches once.

No published test does all of this; the figures were set on simulated series
(`tests/warehouse/trends/test_steps.py`, `docs/trends.md`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from warehouse.trends.samples import Bools, Floats, Ints, Samples

_NEAR = 3
"""Daily values that show suddenness."""
_MAD = 1.4826
_STRONGEST = 0.9
_SETTLED = 0.35
"""Share of the jump by which the days after it may still move."""


@dataclass(frozen=True, slots=True)
class StepRule:
    """What counts as a step: see `trend_step_*` in the judging defaults."""

    week: int
    least_after: int
    scatter: float
    share: float
    at_once: float

    @property
    def fewest(self) -> int:
        """Values without which no step can be seen."""
        return self.week + self.least_after


@dataclass(frozen=True, slots=True)
class Steps:
    """The latest step a row: place of its first value, size; `found` is false where none is."""

    found: Bools
    place: Ints
    size: Floats


def latest_steps(samples: Samples, rule: StepRule) -> Steps:
    """The latest step of each row. Rows need `rule.fewest` values or more."""
    after = _medians(samples, rule.week, rule.least_after)
    before = _later(after, rule.week)
    jump = after - before
    beyond = jump - _neighbours(jump, rule.week)
    near = _medians(samples, _NEAR, _NEAR)
    sudden = near - _later(near, _NEAR)
    still = _end_of_week(near, samples.counts, rule.week) - near
    smaller = np.where(np.abs(beyond) < np.abs(jump), beyond, jump)
    with np.errstate(invalid="ignore"):
        is_step = (
            (np.abs(smaller) > rule.scatter * _scatter_of_jumps(samples, rule.week)[:, None])
            & (np.abs(smaller) > samples.tie)
            & (smaller * jump > 0)
            & (np.abs(jump) >= rule.share * np.abs(before))
            & (sudden * np.sign(jump) >= rule.at_once * np.abs(jump))
            & (np.abs(still) <= _SETTLED * np.abs(jump))
        )
    place = _sharpest(samples, is_step, rule.week)
    found = np.asarray(is_step.any(axis=1))
    return Steps(found, place, np.where(found, _size(samples, place, rule.week), 0))


def _medians(samples: Samples, length: int, least: int) -> Floats:
    """Median of each value and those behind it, `length` in all; NaN below `least`."""
    rows, width = samples.values.shape
    padded = np.concatenate([samples.values, np.full((rows, length - 1), np.nan)], axis=1)
    ordered = np.sort(sliding_window_view(padded, length, axis=1), axis=2)
    count = np.clip(samples.counts[:, None] - np.arange(width), 0, length)
    lower = np.take_along_axis(ordered, np.maximum(count - 1, 0)[..., None] // 2, axis=2)
    upper = np.take_along_axis(ordered, np.minimum(count // 2, length - 1)[..., None], axis=2)
    middle = (lower[..., 0] + upper[..., 0]) / 2
    medians: Floats = np.where(count >= least, middle, np.nan)
    return medians


def _later(values: Floats, places: int) -> Floats:
    """Each value that many places later; NaN where none has arrived."""
    moved = np.full_like(values, np.nan)
    moved[:, places:] = values[:, :-places]
    return moved


def _earlier(values: Floats, places: int) -> Floats:
    moved = np.full_like(values, np.nan)
    moved[:, :-places] = values[:, places:]
    return moved


def _neighbours(jump: Floats, week: int) -> Floats:
    """Mean of the jumps a week before and a week after, of those there are.

    NaN without either: then a step cannot be told from a slope.
    """
    both = np.stack([_later(jump, week), _earlier(jump, week)])
    known = (~np.isnan(both)).sum(axis=0)
    mean: Floats = np.where(known > 0, np.nansum(both, axis=0) / np.maximum(known, 1), np.nan)
    return mean


def _end_of_week(near: Floats, counts: Ints, week: int) -> Floats:
    """Of each day, the median of the last three values of the week that begins with it."""
    start = np.arange(near.shape[1])[None, :]
    last = np.minimum(start + week, counts[:, None]) - _NEAR
    values: Floats = np.take_along_axis(near, np.maximum(last, 0), axis=1)
    return values


def _scatter_of_jumps(samples: Samples, week: int) -> Floats:
    """Standard deviation of the jump, neighbours taken off, where there is only scatter."""
    one, two = (_square_of_differences(samples, lag) for lag in (1, 2))
    some = np.where(one > 0, one, 1)
    # differences of neighbours have the variance 2 s^2 (1 - r), one day further 2 s^2 (1 - r^2)
    related = np.clip(np.where(one > 0, two / some, 1) - 1, 0, _STRONGEST)
    scatter = np.sqrt(one / (2 * (1 - related)))
    lags = np.arange(1, week)
    widened = 1 + 2 * ((1 - lags / week) * related[:, None] ** lags).sum(axis=1)
    # four medians of a week with the weights 1.5, 1.5, 0.5, 0.5; a median scatters by pi/2 more
    weights = 2 * 1.5**2 + 2 * 0.5**2
    deviation: Floats = scatter * np.sqrt(weights * math.pi / 2 / week * widened)
    return deviation


def _square_of_differences(samples: Samples, lag: int) -> Floats:
    """Mean square of the differences `lag` values apart about their median, outliers drawn in."""
    differences = samples.values[:, lag:] - samples.values[:, :-lag]
    about = differences - np.nanmedian(differences, axis=1, keepdims=True)
    usual = _MAD * np.nanmedian(np.abs(about), axis=1, keepdims=True)
    squares: Floats = np.nanmean(np.clip(about, -3 * usual, 3 * usual) ** 2, axis=1)
    return squares


def _sharpest(samples: Samples, is_step: Bools, week: int) -> Ints:
    """Where the means of a week before and after part most, within the latest run of steps."""
    width = is_step.shape[1]
    places = np.arange(width)
    last = np.where(is_step, places, -1).max(axis=1)
    within = is_step & (places > (last - week)[:, None])
    sums = np.nancumsum(np.pad(samples.values, ((0, 0), (1, 0))), axis=1)
    ends = np.minimum(places + week, samples.counts[:, None])
    starts = np.maximum(places - week, 0)
    after = np.take_along_axis(sums, ends, axis=1) - sums[:, :-1]
    before = sums[:, :-1] - sums[:, starts]
    contrast = after / np.maximum(ends - places, 1) - before / np.maximum(places - starts, 1)
    place: Ints = np.where(within, np.abs(contrast), -1).argmax(axis=1)
    return place


def _size(samples: Samples, place: Ints, week: int) -> Floats:
    """Median of the week from the step on less that of the week before."""
    rows = np.arange(len(place))
    after = _medians(samples, week, 1)
    return np.asarray(after[rows, place] - after[rows, np.maximum(place - week, 0)])
