"""Exact bounds of counts: quantiles of chi-square, and how large a share may be.

For rates from few events the normal approximation is no use. Both bounds are inverted from
their distribution by bisection: slow for one, but each pair of numbers is worked out once.

References
----------
NIST Digital Library of Mathematical Functions, 8.7.1 and 8.9.2 (series and continued fraction of
the incomplete gamma function); Clopper and Pearson (1934), Biometrika 26, 404-413 (a share).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import duckdb
import numpy as np
import pyarrow as pa
from duckdb.func import FunctionNullHandling, PythonUDFType
from duckdb.sqltypes import DOUBLE

_TERMS = 10_000
_SMALL = 1e-16
_TINY = 1e-300


def create_bounds(connection: duckdb.DuckDBPyConnection) -> None:
    """Give `connection` the functions `chi_square_quantile` and `share_at_most`.

    `chi_square_quantile(p, freedom)` is the value that chi-square stays below with
    probability p; `share_at_most(hits, of, p)` the largest share that so few hits do not
    rule out, one-sided. Both are null where they are not defined.
    """
    for name, function, count in (
        ("chi_square_quantile", _chi_squares, 2),
        ("share_at_most", _shares, 3),
    ):
        connection.create_function(
            name,
            function,
            [DOUBLE] * count,
            DOUBLE,
            type=PythonUDFType.ARROW,
            null_handling=FunctionNullHandling.SPECIAL,
        )


@cache
def chi_square_quantile(p: float, freedom: float) -> float:
    """The value a chi-square of that many degrees of freedom stays below with probability `p`.

    NaN unless 0 < p < 1 and freedom > 0.
    """
    if not (0 < p < 1 and freedom > 0):
        return math.nan
    half, high = freedom / 2, freedom
    while _gamma_share(half, high / 2) < p:
        high *= 2
    return _risen(lambda x: _gamma_share(half, x / 2), p, high)


@cache
def share_at_most(hits: float, of: float, p: float) -> float:
    """The share of which `hits` in `of` or fewer are as unlikely as 1 - p (Clopper and Pearson).

    NaN unless 0 <= hits <= of, of > 0 and 0 < p < 1; 1 where all are hits.
    """
    if not (0 <= hits <= of and of > 0 and 0 < p < 1):
        return math.nan
    if hits == of:
        return 1.0
    return _risen(lambda share: 1 - _at_most(int(hits), int(of), share), p, 1.0)


def _risen(function: Callable[[float], float], wanted: float, high: float) -> float:
    """Where a rising function of 0 to `high` reaches `wanted`."""
    low = 0.0
    while high - low > 1e-13 * high:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if function(middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _gamma_share(a: float, x: float) -> float:
    """The regularised lower incomplete gamma function P(a, x)."""
    if x <= 0:
        return 0.0
    weight = math.exp(a * math.log(x) - x - math.lgamma(a))
    return weight * _series(a, x) if x < a + 1 else 1 - weight * _fraction(a, x)


def _series(a: float, x: float) -> float:
    """DLMF 8.7.1, which converges at once below its maximum."""
    term = total = 1 / a
    for n in range(1, _TERMS):
        term *= x / (a + n)
        total += term
        if term < _SMALL * total:
            break
    return total


def _fraction(a: float, x: float) -> float:
    """DLMF 8.9.2 by the modified method of Lentz."""
    b = x + 1 - a
    c, d = 1 / _TINY, 1 / b
    total = d
    for n in range(1, _TERMS):
        step = -n * (n - a)
        b += 2
        d = 1 / (step * d + b or _TINY)
        c = step / c + b or _TINY
        total *= c * d
        if abs(c * d - 1) < _SMALL * 10:
            break
    return total


def _at_most(hits: int, of: int, share: float) -> float:
    """How likely at most so many hits are."""
    if share <= 0:
        return 1.0
    odds, rest = math.log(share), math.log1p(-share) if share < 1 else -math.inf
    terms = (
        math.lgamma(of + 1) - math.lgamma(n + 1) - math.lgamma(of - n + 1)
        + n * odds + (of - n) * rest
        for n in range(hits + 1)
    )  # fmt: skip
    return math.fsum(math.exp(term) for term in terms)


def _chi_squares(p: pa.ChunkedArray, freedom: pa.ChunkedArray) -> pa.Array:
    return _each(chi_square_quantile, p, freedom)


def _shares(hits: pa.ChunkedArray, of: pa.ChunkedArray, p: pa.ChunkedArray) -> pa.Array:
    return _each(share_at_most, hits, of, p)


def _each(function: Callable[..., float], *columns: pa.ChunkedArray) -> pa.Array:
    """The function of every row; rows that ask the same are worked out once."""
    numbers = [np.asarray(one.cast(pa.float64()).fill_null(np.nan)) for one in columns]
    different, place = np.unique(np.stack(numbers, axis=1), axis=0, return_inverse=True)
    found = np.array([function(*map(float, row)) for row in different], np.float64)
    return pa.array(found[place.reshape(-1)], from_pandas=True)
