"""Growth to a threshold, and lines through a published series, beside least squares.

Sources:
 epa   US EPA QA/G-9S: the series; its tau = S over all pairs = 22/55
 own   computed with scipy and numpy from the formulas named at each figure; least squares is not
       what we use (Theil 1950, Sen 1968), so its figures are the frame ours must lie in
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from tests.outside.test_trend import EPA
from tests.warehouse.trends.series import fitted, samples
from warehouse.trends.fits import fit

Z90 = 1.6448536269514722
NOISY_DAYS = [0.0, 30, 60, 90, 120, 150]
NOISY = [2.00, 2.45, 2.80, 3.55, 4.00, 5.00]


def _crossing(days: list[float], values: list[float], threshold: float) -> float:
    """Day on which our log-linear line reaches the threshold."""
    found = fitted([[math.log(value) for value in values]], days, dependent=False)
    missing = math.log(threshold) - found.level[0]
    return float(days[-1] + missing / found.slope[0])


def test_line_through_the_epa_series() -> None:
    found = fitted([EPA], dependent=False)
    # own: 90 and 95 % bounds [0, 2]; intercept 8.0, the median of y - b x (scipy: `joint`), and
    # not 9.0, the median of y less b times the median of x (`separate`)
    assert found.level[0] - 11 * found.slope[0] == pytest.approx(8.0)
    narrow = fit(samples([EPA]), np.array([10.0]), np.array([1.0]), Z90)
    assert (narrow.low[0], narrow.high[0]) == (0.0, 2.0)
    separate = stats.theilslopes(EPA, np.arange(1, 12), method="separate")
    assert (separate.slope, separate.intercept) == pytest.approx((1.0, 9.0))


def test_tau_of_the_epa_series() -> None:
    found = fitted([EPA], dependent=False)
    assert found.s[0] / 55 == pytest.approx(0.4)  # epa: tau-a
    assert stats.kendalltau(range(11), EPA).statistic == pytest.approx(0.428174, abs=1e-6)
    one_sided = stats.norm.sf(found.z[0])
    assert one_sided == pytest.approx(0.045999, abs=1e-6)
    # own: without the correction for ties the variance would be 11 x 10 x 27 / 18 = 165
    assert found.variance[0] == pytest.approx(165 - (4 * 3 * 13 + 2 * 1 * 9) / 18)


def test_least_squares_through_the_epa_series_is_another_line_within_its_interval() -> None:
    oracle = stats.linregress(np.arange(1, 12), EPA)
    assert oracle.slope == pytest.approx(1.163636, abs=1e-6)
    assert oracle.intercept == pytest.approx(7.018182, abs=1e-6)
    assert oracle.stderr == pytest.approx(0.400826, abs=1e-6)
    half = stats.t.isf(0.025, 9) * oracle.stderr
    low, high = oracle.slope - half, oracle.slope + half
    assert (low, high) == pytest.approx((0.25691, 2.07037), abs=1e-5)
    assert low < fitted([EPA], dependent=False).slope[0] < high


@pytest.mark.parametrize(("threshold", "day"), [(4.5, 135.1550), (7.1, 211.1579)])
def test_exact_exponential_growth_reaches_the_threshold(threshold: float, day: float) -> None:
    # own: t = ln(L / 2) / 0.006 for y = 2 exp(0.006 t)
    days = [float(one) for one in range(0, 100, 7)]
    values = [2 * math.exp(0.006 * one) for one in days]
    assert _crossing(days, values, threshold) == pytest.approx(day, abs=1e-4)


def test_noisy_exponential_growth() -> None:
    oracle = stats.linregress(NOISY_DAYS, np.log(NOISY))
    assert oracle.slope == pytest.approx(0.005989906, abs=1e-9)
    assert math.exp(oracle.intercept) == pytest.approx(2.0090852, abs=1e-7)
    assert oracle.rvalue**2 == pytest.approx(0.994506, abs=1e-6)
    assert math.log(2) / oracle.slope == pytest.approx(115.719, abs=1e-3)
    half = stats.t.isf(0.025, 4) * oracle.stderr
    low, high = oracle.slope - half, oracle.slope + half
    assert (low, high) == pytest.approx((0.0053719, 0.0066079), abs=1e-7)
    ours = fitted([np.log(NOISY)], NOISY_DAYS, dependent=False)
    assert low < ours.slope[0] < high


def _fieller() -> tuple[float, float]:
    """Days between which the mean line of least squares may reach 7.1 (95 %, 4 degrees)."""
    x, y = np.array(NOISY_DAYS), np.log(NOISY)
    line = stats.linregress(x, y)
    freedom = len(x) - 2
    scatter = math.sqrt(((y - line.intercept - line.slope * x) ** 2).sum() / freedom)
    assert scatter == pytest.approx(0.0279359, abs=1e-7)
    spread = ((x - x.mean()) ** 2).sum()

    def outside(day: float) -> float:
        error = scatter * math.sqrt(1 / len(x) + (day - x.mean()) ** 2 / spread)
        gap = line.intercept + line.slope * day - math.log(7.1)
        return float(abs(gap) - stats.t.isf(0.025, freedom) * error)

    middle = (math.log(7.1) - line.intercept) / line.slope
    assert middle == pytest.approx(210.757, abs=1e-3)
    return (
        float(optimize.brentq(outside, 150, middle)),
        float(optimize.brentq(outside, middle, 400)),
    )


def test_our_crossing_lies_within_the_interval_of_least_squares() -> None:
    low, high = _fieller()
    assert (low, high) == pytest.approx((197.095, 227.341), abs=1e-3)
    ours = _crossing(NOISY_DAYS, NOISY, 7.1)
    assert low < ours < high
    assert 195.786 < ours < 225.729  # own: the same by the delta method, symmetric
