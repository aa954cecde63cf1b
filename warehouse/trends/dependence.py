"""Days that resemble their neighbours: what a series of them is worth, and how sure one may be.

- Variance of Mann-Kendall's S under dependence: Yue and Wang (2004), Water
  Resources Management 18, 201-218: times 1 + 2 sum (1 - k/n) r_k, k = 1 .. n-1,
  with r_k of the series without its Theil-Sen slope. All n-1 sample r_k sum up
  to about minus one half, whatever the series, so that using them corrects
  nothing; a few of them correct too little. We take r_k = r^k from the first
  one (their case of a lag-one process, after Matalas and Langbein 1962).
- The autocorrelation is that of what is left over of two curves, not of a straight
  line: a polynomial of third order, and a line with a kink; the smaller one counts
  (`warehouse/trends/curves.py` says why).
- On short series it comes out too low, by about (4 + 6 r)/n without a curve of four
  figures (Kendall 1954, Biometrika 41, 403, has (1 + 3 r)/n without the mean; one
  more of each a figure). We add that back; the kink is sought and counts as a fifth.
- Student's t with n/factor - 2 degrees in place of the normal: Santer and others
  (2000), J. Geophys. Res. 105, 7337-7356, for slopes of dependent series.

`docs/trends.md` says what this comes to on noise without a trend.
"""

from __future__ import annotations

import math

import numpy as np

from warehouse.trends.curves import without_kinked_line, without_polynomial
from warehouse.trends.samples import Floats, Ints, Samples

_STRONGEST = 0.95
"""Above it a series of three months is worth one or two values: no test is left."""
_SHORTEST = 10
"""Below it the curves leave nothing to read a dependence from: none is assumed."""
_SMALL = 0.02
"""What stays within so much of a series' whole movement cannot have made it, however dependent."""
_FEWEST_DEGREES = 2.0


def factor(samples: Samples) -> Floats:
    """By how much dependence widens the variance of S: one or more."""
    moved = np.nanmax(samples.values, axis=1) - np.nanmin(samples.values, axis=1)
    floor = np.hypot(_SMALL * moved, samples.tie[:, 0])
    left = ((without_polynomial(samples), 4), (without_kinked_line(samples), 5))
    least = np.minimum.reduce(
        [
            without_bias(autocorrelation(residuals, samples.counts, floor), samples.counts, figures)
            for residuals, figures in left
        ]
    )
    correlations = lag_one_correlations(least, samples.values.shape[1] - 1)
    return variance_factor(correlations, samples.counts)


def autocorrelation(residuals: Floats, counts: Ints, floor: Floats) -> Floats:
    """Autocorrelation of neighbours in each row, as if scatter of size `floor` were added."""
    deviation = residuals - np.nansum(residuals, axis=1, keepdims=True) / counts[:, None]
    square = np.nansum(deviation**2, axis=1) + counts * floor**2
    product = np.nansum(deviation[:, 1:] * deviation[:, :-1], axis=1)
    found: Floats = np.where(square > 0, product / np.where(square > 0, square, 1), 0)
    return found


def without_bias(first: Floats, counts: Ints, figures: int) -> Floats:
    """The autocorrelation with the bias of short residuals taken off: 0 or more.

    `figures` is how many the curve has that was taken off.
    """
    n = counts.astype(np.float64)
    usable = (n >= _SHORTEST) & (first != 0)
    mended = (n * first + figures) / np.where(usable, n - figures - 2, 1)
    within: Floats = np.where(usable, np.clip(mended, 0, _STRONGEST), 0)
    return within


def variance_factor(correlations: Floats, counts: Ints) -> Floats:
    """The sum of Yue and Wang: 1 + 2 sum (1 - k/n) r_k.

    `correlations` has r_1, r_2, ... in its columns; those at and beyond n do not count.
    """
    lags = np.arange(1, correlations.shape[1] + 1)
    weight = np.maximum(1 - lags / counts[:, None], 0)
    factor: Floats = 1 + 2 * (weight * correlations).sum(axis=1)
    return factor


def lag_one_correlations(first: Floats, lags: int) -> Floats:
    """r_1 .. r_lags of a process whose neighbours are related by `first`."""
    powers: Floats = first[:, None] ** np.arange(1, lags + 1)
    return powers


def degrees(counts: Ints, factor: Floats) -> Floats:
    """Degrees of freedom that so many dependent values leave."""
    left: Floats = np.maximum(counts / factor - 2, _FEWEST_DEGREES)
    return left


def normal_of_student(t: Floats, freedom: Floats) -> Floats:
    """The normal deviate with the same tail as Student's t (Wallace 1959).

    Within 3 % in the tail probability from 10 degrees on; at 3 up to 30 % too high, which is the
    cautious side. No more is claimed of a probability whose degrees are estimated.
    """
    squeezed = np.sqrt(freedom * np.log1p(t**2 / freedom))
    deviate: Floats = np.sign(t) * _wallace(freedom) * squeezed
    return deviate


def student_of_normal(z: float, freedom: Floats) -> Floats:
    """Student's t with the same tail as a positive normal deviate: the inverse of the above."""
    t: Floats = np.sqrt(freedom * np.expm1((z / _wallace(freedom)) ** 2 / freedom))
    return t


def _wallace(freedom: Floats) -> Floats:
    ratio: Floats = (8 * freedom + 1) / (8 * freedom + 3)
    return ratio


def two_sided(deviate: Floats) -> Floats:
    """Probability of a normal deviate at least so far from zero."""
    tail = np.frompyfunc(math.erfc, 1, 1)
    probability: Floats = np.asarray(tail(np.abs(deviate) / math.sqrt(2)), dtype=np.float64)
    return probability
