"""Exact bounds of counts against published figures and an independent program.

Oracle: scipy. Worked example: 8,760 h required, 60 h down, 4 failures; MTBF 2,175 h, MTTR 15 h
(computed from the definitions, of confidence C; terms of EN 13306, V1), its two-sided 90 % bounds
for a time-terminated test 950.45 h and 6,367.48 h.
"""

from __future__ import annotations

import math

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from warehouse.trends import create_bounds
from warehouse.trends.bounds import chi_square_quantile, share_at_most


@pytest.mark.parametrize(
    ("p", "freedom", "printed"),
    [
        (0.95, 1, 3.841), (0.95, 2, 5.991), (0.95, 10, 18.307), (0.05, 8, 2.733),
        (0.99, 30, 50.892), (0.025, 100, 74.222), (0.90, 5, 9.236),
    ],
)  # fmt: skip
def test_chi_square_as_tables_print_it(p: float, freedom: float, printed: float) -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4."""
    assert chi_square_quantile(p, freedom) == pytest.approx(printed, abs=5.1e-4)


@given(p=st.floats(0.001, 0.999), freedom=st.integers(1, 4000))
@settings(max_examples=100, deadline=None)
def test_chi_square_against_scipy(p: float, freedom: int) -> None:
    assert chi_square_quantile(p, freedom) == pytest.approx(stats.chi2.ppf(p, freedom), rel=1e-9)


@given(data=st.data(), of=st.integers(1, 400), p=st.floats(0.5, 0.999))
@settings(max_examples=60, deadline=None)
def test_shares_against_scipy(data: st.DataObject, of: int, p: float) -> None:
    hits = data.draw(st.integers(0, of))
    expected = 1.0 if hits == of else stats.beta.ppf(p, hits + 1, of - hits)
    assert share_at_most(hits, of, p) == pytest.approx(expected, rel=1e-8)


def test_no_miss_in_59_faults_proves_95_percent_and_no_more() -> None:
    """The sample size for no failure at 95/95, ln 0.05 / ln 0.95 = 58.4 (Wilks 1941: 59)."""
    assert share_at_most(0, 59, 0.95) < 0.05 < share_at_most(0, 58, 0.95)


def test_the_worked_example_in_sql() -> None:
    connection = duckdb.connect()
    create_bounds(connection)
    low, high = connection.sql(
        "SELECT 2 * 8700 / chi_square_quantile(0.95, 2 * 4 + 2),"
        " 2 * 8700 / chi_square_quantile(0.05, 2 * 4)"
    ).fetchall()[0]
    assert (low, high) == (pytest.approx(950.45, abs=5e-3), pytest.approx(6367.48, abs=5e-3))


def test_what_is_not_defined_is_null() -> None:
    connection = duckdb.connect()
    create_bounds(connection)
    rows = connection.sql(
        "SELECT chi_square_quantile(p, f), share_at_most(h, n, p) FROM (VALUES"
        " (0.5, 0, 0, 0), (0.95, NULL, 1, NULL), (NULL, 2, 2, 1), (1.0, 2, 3, 2)) AS t(p, f, h, n)"
    ).fetchall()
    assert rows == [(None, None)] * 4
    assert math.isnan(chi_square_quantile(0.5, -1))
