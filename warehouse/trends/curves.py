"""What is left of a series when a smooth course is taken off: its scatter.

A growth in per cent, or one that sets in late, bends away from a straight line.
The bow it leaves resembles its neighbours from day to day; read as dependence
of days it makes the strongest growth the surest to be taken for noise. So the
course may bend (a polynomial of third order) or set in at a day (a line with one
kink, where it fits best).
"""

from __future__ import annotations

import numpy as np

from warehouse.trends.samples import Floats, Samples

_ORDER = 3
_KINKS = 28
_EDGE = 3
"""Values before the first and behind the last kink that is tried."""


def without_polynomial(samples: Samples) -> Floats:
    """The values less a polynomial of third order; NaN behind the last."""
    present = samples.present
    powers = np.polynomial.legendre.legvander(_places(samples), _ORDER) * present[:, :, None]
    values = np.where(present, samples.values, 0)
    across = powers.transpose(0, 2, 1)
    products, sums = across @ powers, across @ values[:, :, None]
    weights = np.linalg.pinv(products, hermitian=True) @ sums
    left: Floats = np.where(present, values - (powers @ weights)[:, :, 0], np.nan)
    return left


def without_kinked_line(samples: Samples) -> Floats:
    """The values less the line with one kink that leaves least; NaN behind the last."""
    present, place = samples.present, _places(samples)
    even = np.where(present, 1 / np.sqrt(np.maximum(samples.counts, 1))[:, None], 0)
    rising = _less(np.where(present, place, 0)[:, None, :], even)[:, 0]
    rising /= np.maximum(np.sqrt((rising**2).sum(axis=1, keepdims=True)), 1e-12)
    values = _less(np.where(present, samples.values, 0)[:, None, :], even, rising)[:, 0]
    kinks = _kinks(samples, place)
    bent = np.where(present[:, None, :], np.maximum(place[:, None, :] - kinks[:, :, None], 0), 0)
    bent = _less(bent, even, rising)
    size = np.sqrt((bent**2).sum(axis=2))
    share = np.where(size > 1e-9, (bent @ values[:, :, None])[:, :, 0] / np.maximum(size, 1e-9), 0)
    rows, best = np.arange(len(share)), np.abs(share).argmax(axis=1)
    scale = (share / np.maximum(size, 1e-9))[rows, best]
    left: Floats = np.where(present, values - scale[:, None] * bent[rows, best], np.nan)
    return left


def _places(samples: Samples) -> Floats:
    """Days from -1 to 1 in each row; 0 behind the last."""
    first, last = samples.days[:, :1], np.nanmax(samples.days, axis=1, keepdims=True)
    places = 2 * (samples.days - first) / np.maximum(last - first, 1) - 1
    within: Floats = np.where(samples.present, places, 0)
    return within


def _kinks(samples: Samples, place: Floats) -> Floats:
    """Places of kinks, as far from one another, in each row."""
    rows = np.arange(len(place))
    edge = np.minimum(_EDGE, samples.counts - 1)
    first, last = place[rows, edge], place[rows, samples.counts - 1 - edge]
    kinks: Floats = np.linspace(first, last, _KINKS, axis=1)
    return kinks


def _less(curves: Floats, *directions: Floats) -> Floats:
    """Curves (rows x many x days) without their parts along directions (rows x days) of size 1."""
    for direction in directions:
        curves = curves - (curves @ direction[:, :, None]) * direction[:, None, :]
    return curves
