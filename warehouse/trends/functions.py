"""The trend statistics as functions of SQL: lists of days and values in, one struct out.

DuckDB hands over some two thousand series at a time; they are worked on in
blocks so that the pairs of one block stay within a few megabytes.
"""

from __future__ import annotations

from dataclasses import fields
from itertools import pairwise

import duckdb
import numpy as np
import pyarrow as pa
from duckdb.func import FunctionNullHandling, PythonUDFType
from duckdb.sqltypes import DOUBLE, INTEGER

from warehouse.trends.fits import Fit, fit
from warehouse.trends.samples import Bools, Floats, Ints, Samples
from warehouse.trends.steps import StepRule, latest_steps

_BLOCK = 128
"""Series at a time: 128 of 90 days have half a million pairs."""

FIT_FIELDS = tuple(field.name for field in fields(Fit))


def create_functions(connection: duckdb.DuckDBPyConnection) -> None:
    """Give `connection` the functions `trend_fit` and `latest_step`.

    `trend_fit(days, values, end, factor, bound)` is a struct of `FIT_FIELDS`:
    the values in rising order of their days (numbers), read at the day `end`, `factor`
    what dependence does to the variance (null = read it from the values), `bound` the
    normal deviate of the interval; null where fewer than two values are.
    `latest_step(days, values, week, least_after, scatter, share, at_once)` is a
    struct of the first day after the latest step and its size, null without one.
    """
    days, values = duckdb.list_type(INTEGER), duckdb.list_type(DOUBLE)
    connection.create_function(
        "trend_fit",
        _trend_fit,
        [days, values, INTEGER, DOUBLE, DOUBLE],
        duckdb.struct_type(dict.fromkeys(FIT_FIELDS, DOUBLE)),
        type=PythonUDFType.ARROW,
        null_handling=FunctionNullHandling.SPECIAL,
    )
    connection.create_function(
        "latest_step",
        _latest_step,
        [days, values, *[DOUBLE] * 5],
        duckdb.struct_type({"day": INTEGER, "size": DOUBLE}),
        type=PythonUDFType.ARROW,
        null_handling=FunctionNullHandling.SPECIAL,
    )


def _trend_fit(
    days: pa.ChunkedArray,
    values: pa.ChunkedArray,
    ends: pa.ChunkedArray,
    factors: pa.ChunkedArray,
    bounds: pa.ChunkedArray,
) -> pa.Array:
    samples = _samples(days, values)
    end, factor = _numbers(ends), _numbers(factors)
    bound = float(_numbers(bounds)[0]) if len(bounds) else 0.0
    columns = {name: np.full(len(samples.counts), np.nan) for name in FIT_FIELDS}
    for rows, block in _blocks(samples, least=2):
        found = fit(block, end[rows], factor[rows], bound)
        for name, column in columns.items():
            column[rows] = getattr(found, name)
    return _structs(
        {name: _nullable(column) for name, column in columns.items()}, samples.counts < 2
    )


def _latest_step(
    days: pa.ChunkedArray,
    values: pa.ChunkedArray,
    week: pa.ChunkedArray,
    least_after: pa.ChunkedArray,
    scatter: pa.ChunkedArray,
    share: pa.ChunkedArray,
    at_once: pa.ChunkedArray,
) -> pa.Array:
    samples = _samples(days, values)
    day = np.zeros(len(samples.counts), np.int32)
    size, found = np.zeros(len(day)), np.zeros(len(day), np.bool_)
    if len(day):
        step_rule = _rule(week, least_after, scatter, share, at_once)
        for rows, block in _blocks(samples, step_rule.fewest):
            steps = latest_steps(block, step_rule)
            found[rows], size[rows] = steps.found, steps.size
            day[rows] = block.days[np.arange(len(rows)), steps.place]
    return _structs({"day": pa.array(day), "size": pa.array(size)}, ~found)


def _rule(*columns: pa.ChunkedArray) -> StepRule:
    week, least_after, scatter, share, at_once = (float(_numbers(one)[0]) for one in columns)
    return StepRule(int(week), int(least_after), scatter, share, at_once)


def _samples(days: pa.ChunkedArray, values: pa.ChunkedArray) -> Samples:
    lists = days.combine_chunks()
    counts = lists.value_lengths().fill_null(0).to_numpy(zero_copy_only=False).astype(np.int64)
    return Samples.of(
        _numbers(lists.flatten()), _numbers(values.combine_chunks().flatten()), counts
    )


def _numbers(column: pa.Array | pa.ChunkedArray) -> Floats:
    numbers: Floats = np.asarray(column.cast(pa.float64()).fill_null(np.nan))
    return numbers


def _blocks(samples: Samples, least: int) -> list[tuple[Ints, Samples]]:
    """Rows of at least that length, the shortest first, in blocks of one length.

    A longer row beside it would change the order in which a row is summed, and so its last digit:
    what is said of a series must not depend on which others are looked at.
    """
    order = np.argsort(samples.counts, kind="stable")
    order = order[samples.counts[order] >= least]
    ordered = Samples(samples.days[order], samples.values[order], samples.counts[order])
    longer = np.flatnonzero(np.diff(ordered.counts)) + 1
    borders = [0, *longer.tolist(), len(order)]
    return [
        (order[start : min(start + _BLOCK, stop)], ordered.part(start, min(start + _BLOCK, stop)))
        for begin, stop in pairwise(borders)
        for start in range(begin, stop, _BLOCK)
    ]


def _nullable(column: Floats) -> pa.Array:
    return pa.array(column, from_pandas=True)


def _structs(columns: dict[str, pa.Array], missing: Bools) -> pa.Array:
    return pa.StructArray.from_arrays(list(columns.values()), list(columns), mask=pa.array(missing))
