"""Trend statistics against published worked values and independent programs.

Oracles: scipy, and pymannkendall (Hussain and Mahmud 2019, Journal of Open
Source Software 4(39), 1556).
"""

from __future__ import annotations

import numpy as np
import pymannkendall
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tests.warehouse.trends.series import Z95, fitted, noise
from warehouse.trends import dependence

EPA = [10.0, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]
"""US EPA QA/G-9S: S = 22, Var(S) = 155.33, Z = 1.685 (ties of 4 and 2)."""

VALUES = st.lists(
    st.integers(min_value=4, max_value=60).map(lambda tenth: tenth / 10), min_size=14, max_size=40
)


def test_published_example_of_the_us_epa() -> None:
    found = fitted([EPA], dependent=False)
    assert found.s[0] == 22
    assert found.variance[0] == pytest.approx(155.3333, abs=1e-4)
    assert found.z[0] == pytest.approx(1.684950, abs=1e-6)
    assert found.p[0] == found.p_independent[0] == pytest.approx(0.091998, abs=1e-6)
    assert (found.slope[0], found.low[0], found.high[0]) == (1.0, 0.0, 2.0)


def test_published_example_against_pymannkendall() -> None:
    found, oracle = fitted([EPA], dependent=False), pymannkendall.original_test(EPA)
    assert (found.s[0], found.variance[0]) == (oracle.s, pytest.approx(oracle.var_s))
    assert (found.z[0], found.p[0]) == (pytest.approx(oracle.z), pytest.approx(oracle.p))
    assert found.slope[0] == pytest.approx(oracle.slope)


def test_kendalltau_of_scipy_differs_for_one_reason_only() -> None:
    # kendalltau(method="asymptotic") has the same variance, ties included, but no correction for
    # continuity: its Z is S / sqrt(Var), not (S - 1) / sqrt(Var); and its tau is tau-b, which
    # leaves tied pairs out of the denominator.
    oracle = stats.kendalltau(range(len(EPA)), EPA, method="asymptotic")
    found = fitted([EPA], dependent=False)
    assert oracle.pvalue == pytest.approx(0.07753, abs=1e-5)
    assert oracle.pvalue == pytest.approx(2 * stats.norm.sf(found.s[0] / found.variance[0] ** 0.5))
    assert found.p[0] == pytest.approx(
        2 * stats.norm.sf((found.s[0] - 1) / found.variance[0] ** 0.5)
    )
    pairs = len(EPA) * (len(EPA) - 1) / 2
    assert oracle.statistic == pytest.approx(found.s[0] / (pairs * (pairs - 6 - 1)) ** 0.5)


def test_exact_line_is_recovered() -> None:
    # standard variance n (n - 1)(2 n + 5) / 18 = 125 for n = 10; S = 45; Z = 44 / sqrt(125)
    found = fitted([[2 + 0.5 * x for x in range(1, 11)]], dependent=False)
    assert (found.s[0], found.variance[0]) == (45, 125)
    assert found.z[0] == pytest.approx(3.93548, abs=1e-5)
    assert found.p[0] == pytest.approx(8.303e-5, rel=1e-3)
    assert (found.slope[0], found.low[0], found.high[0]) == pytest.approx((0.5, 0.5, 0.5))
    assert found.level[0] == pytest.approx(7.0)


def test_one_outlier_does_not_move_the_slope() -> None:
    values = [2 + 0.5 * x for x in range(1, 10)] + [100.0]
    assert fitted([values]).slope[0] == pytest.approx(0.5)
    assert stats.linregress(range(10), values).slope == pytest.approx(5.6, abs=0.1)


@settings(max_examples=60, deadline=None)
@given(VALUES)
def test_plain_test_and_slope_as_two_other_programs(values: list[float]) -> None:
    found = fitted([values], dependent=False)
    test = pymannkendall.original_test(values)
    line = stats.theilslopes(values, np.arange(len(values)), alpha=0.95)
    assert (found.s[0], found.variance[0]) == (test.s, pytest.approx(test.var_s))
    assert found.p[0] == pytest.approx(1 if test.s == 0 else test.p)
    assert found.slope[0] == pytest.approx(line.slope)
    for bound, oracle in (
        (found.low[0], line.low_slope),
        (found.high[0], line.high_slope),
    ):
        # where the rank lies outside the list scipy takes the last pair, we say there is no bound
        assert np.isnan(bound) or bound == pytest.approx(oracle)


@settings(max_examples=40, deadline=None)
@given(VALUES)
def test_interval_of_dependent_days_is_that_of_scipy_at_another_confidence(
    values: list[float],
) -> None:
    # scipy knows independent values only: sqrt(factor) times as many deviations give our bounds
    found = fitted([values])
    freedom = dependence.degrees(np.array([len(values)]), found.factor)
    width = dependence.student_of_normal(Z95, freedom)[0] * found.factor[0] ** 0.5
    # alpha may not round to 1, where the interval would be everything
    alpha = min(1 - 2 * stats.norm.sf(width), 1 - 1e-12)
    oracle = stats.theilslopes(values, np.arange(len(values)), alpha=alpha)
    for bound, other in (
        (found.low[0], oracle.low_slope),
        (found.high[0], oracle.high_slope),
    ):
        assert np.isnan(bound) or bound == pytest.approx(other)


@pytest.mark.parametrize("lags", [1, 3, 29])
@pytest.mark.parametrize("related", [0.0, 0.3, 0.6])
def test_variance_factor_is_that_of_yue_and_wang(lags: int, related: float) -> None:
    # pymannkendall's yue_wang_modification_test takes the sample autocorrelations of as many lags
    # as it is told; given these, our factor is the same
    for row in noise(5, 30, related, seed=lags):
        oracle = pymannkendall.yue_wang_modification_test(row, lag=lags)
        plain = pymannkendall.original_test(row)
        residuals = row - plain.slope * np.arange(1, 31)
        deviation = residuals - residuals.mean()
        sample = [
            (deviation[lag:] * deviation[:-lag]).sum() / (deviation**2).sum()
            for lag in range(1, lags + 1)
        ]
        factor = dependence.variance_factor(np.array([sample]), np.array([30]))[0]
        assert factor == pytest.approx(oracle.var_s / plain.var_s)


def test_first_autocorrelation_is_that_of_pymannkendall() -> None:
    for row in noise(5, 30, 0.5, seed=7):
        oracle = pymannkendall.yue_wang_modification_test(row, lag=1)
        ratio = oracle.var_s / pymannkendall.original_test(row).var_s
        slope = fitted([row]).slope[0]
        residuals = np.array([row - slope * np.arange(30)])
        first = dependence.autocorrelation(residuals, np.array([30]), np.zeros(1))[0]
        assert first == pytest.approx((ratio - 1) / (2 * (1 - 1 / 30)))


def test_all_sample_autocorrelations_together_correct_nothing() -> None:
    # why not pymannkendall's default of all n - 1 lags: rejections stay as if uncorrected
    rows = noise(400, 30, 0.6, seed=3)
    rejected = {
        name: np.mean([test(row).p < 0.05 for row in rows])
        for name, test in (
            ("plain", pymannkendall.original_test),
            ("all lags", pymannkendall.yue_wang_modification_test),
        )
    }
    ours = (fitted(rows).p < 0.05).mean()
    assert rejected["plain"] > 0.2
    assert rejected["all lags"] > 0.2
    assert ours < 0.09


def test_closed_form_of_a_lag_one_process() -> None:
    # Matalas and Langbein (1962), J. Geophys. Res. 67, 3441-3448, as quoted by Yue and Wang (2004)
    for n, r in ((30, 0.4), (90, 0.7)):
        closed = 1 + 2 * (r ** (n + 1) - n * r**2 + (n - 1) * r) / (n * (r - 1) ** 2)
        ours = dependence.variance_factor(
            dependence.lag_one_correlations(np.array([r]), n - 1), np.array([n])
        )
        assert ours[0] == pytest.approx(closed)


@pytest.mark.parametrize(("freedom", "within"), [(3, 0.30), (10, 0.03), (28, 0.005), (88, 0.001)])
@pytest.mark.parametrize("p", [0.2, 0.05, 0.01, 0.001])
def test_tail_of_student_is_that_of_scipy(freedom: int, within: float, p: float) -> None:
    t, degrees = stats.t.isf(p / 2, freedom), np.array([float(freedom)])
    ours = dependence.two_sided(dependence.normal_of_student(np.array([t]), degrees))
    assert ours[0] == pytest.approx(p, rel=within)
    back = dependence.student_of_normal(float(stats.norm.isf(ours[0] / 2)), degrees)
    assert back[0] == pytest.approx(t)
