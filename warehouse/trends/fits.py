"""Mann-Kendall and Theil-Sen on many series at once.

Mann (1945), Kendall (1975): S counts the pairs of days that rise less those
that fall; variance with the correction for ties, Z with the correction for
continuity, as in US EPA QA/G-9S. Theil (1950), Sen (1968): the median of the
slopes of all pairs, its interval by Sen's ranks from the same variance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from warehouse.trends import dependence
from warehouse.trends.samples import Bools, Floats, Ints, Samples


@dataclass(frozen=True, slots=True)
class Fit:
    """What each row says: the test, and the Theil-Sen line with its bounds.

    `s`, `variance`, `z`, `p_independent` are the plain test; `factor` is what dependence does to
    the variance, `p` the probability with it. `slope` is a
    day, `low` and `high` are its bounds (NaN where so few values have none), `level` is the value
    of the line at the end.
    """

    s: Floats
    variance: Floats
    z: Floats
    p_independent: Floats
    factor: Floats
    p: Floats
    slope: Floats
    low: Floats
    high: Floats
    level: Floats


def fit(samples: Samples, ends: Floats, factors: Floats, bound: float) -> Fit:
    """Test and line of each row.

    `ends` is the day the line is read at, `bound` is the normal deviate of the interval. `factors`
    says what dependence does to the variance: NaN = read it from the values, 1 = they are
    independent. Rows need two values or more.
    """
    days, rises = _pairs(samples)
    s = np.nansum(np.sign(rises), axis=1)
    variance = _variance(samples, np.asarray((rises == 0).any(axis=1)))
    slopes = np.divide(rises, days, out=rises)
    slopes.sort(axis=1)  # NaN, where a row has no pair, goes to the end
    count = samples.counts * (samples.counts - 1) // 2
    slope = _median(slopes, count)
    z = _deviate(s, variance)
    factor = np.where(np.isnan(factors), dependence.factor(samples), factors)
    freedom = dependence.degrees(samples.counts, factor)
    t = z / np.sqrt(factor)
    independent = factors == 1
    deviate = np.where(independent, t, dependence.normal_of_student(t, freedom))
    width = np.where(independent, bound, dependence.student_of_normal(bound, freedom))
    half = width * np.sqrt(variance * factor)
    below, above = np.round((count - half) / 2) - 1, np.round((count + half) / 2)
    return Fit(
        s=s,
        variance=variance,
        z=z,
        p_independent=dependence.two_sided(z),
        factor=factor,
        p=dependence.two_sided(deviate),
        slope=slope,
        low=np.where(below >= 0, _at(slopes, np.maximum(below, 0)), np.nan),
        high=np.where(above < count, _at(slopes, np.minimum(above, count - 1)), np.nan),
        level=_level(samples, slope, ends),
    )


def _pairs(samples: Samples) -> tuple[Floats, Floats]:
    """Days apart and rise of every pair of each row; NaN where a row has no such pair."""
    rows, width = samples.values.shape
    days, rises = (np.empty((rows, width * (width - 1) // 2)) for _ in range(2))
    start = 0
    for apart in range(1, width):
        stop = start + width - apart
        for table, source in ((days, samples.days), (rises, samples.values)):
            np.subtract(source[:, apart:], source[:, :-apart], out=table[:, start:stop])
        start = stop
    rises[np.abs(rises) <= samples.tie] = 0
    return days, rises


def _variance(samples: Samples, tied: Bools) -> Floats:
    """Variance of S; `tied` names the rows that have equal values."""
    n = samples.counts.astype(np.float64)
    variance: Floats = n * (n - 1) * (2 * n + 5) / 18
    values = samples.values[tied]
    apart = np.abs(values[:, :, None] - values[:, None, :])
    equal = (apart <= samples.tie[tied][:, :, None]).sum(axis=2)
    # Each of t equal values adds (t - 1) (2 t + 5): a group of them t (t - 1) (2 t + 5).
    ties = np.where(samples.present[tied], (equal - 1) * (2 * equal + 5), 0).sum(axis=1)
    variance[tied] -= ties / 18
    return variance


def _deviate(s: Floats, variance: Floats) -> Floats:
    spread = np.sqrt(np.where(variance > 0, variance, 1))
    z: Floats = np.where(variance > 0, (s - np.sign(s)) / spread, 0)
    return z


def _at(rows: Floats, place: Floats | Ints) -> Floats:
    found: Floats = np.take_along_axis(rows, place.astype(np.int64)[:, None], axis=1)[:, 0]
    return found


def _median(rows: Floats, count: Ints) -> Floats:
    """Median of the first `count` of each row, which are in order."""
    middle: Floats = (_at(rows, (count - 1) // 2) + _at(rows, count // 2)) / 2
    return middle


def _level(samples: Samples, slope: Floats, ends: Floats) -> Floats:
    since_first = samples.days - samples.days[:, :1]
    offsets = np.sort(samples.values - slope[:, None] * since_first, axis=1)
    level: Floats = _median(offsets, samples.counts) + slope * (ends - samples.days[:, 0])
    return level
