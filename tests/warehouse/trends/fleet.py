"""A whole fleet of daily values put before the trend views, without readings behind them."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa

from tests.warehouse.trends.series import Floats
from tests.warehouse.views.plant import AS_OF, Plant, keep_as_tables
from warehouse.views import shared_views

B_C = 4.5
_STAND_INS = ("daily_statistics", "series", "severity_zones", "readings_steady")
TODAY = AS_OF.date()


def fleet(daily: Floats, b_c: float | None = B_C) -> duckdb.DuckDBPyConnection:
    """A session whose trend views see these values: a row a series, the last day today.

    Every series is velocity online in zone B; NaN is a day without a value.
    """
    connection = Plant().connect(AS_OF, "trends")
    for name, rows in (
        ("daily_statistics", _daily(daily)),
        ("series", _series(len(daily))),
        ("severity_zones", _zones(len(daily), b_c)),
    ):
        connection.register(f"{name}_rows", rows)
        _stand_in(connection, name)
    connection.register("readings_steady_rows", pa.table({"series_id": pa.array([], pa.int32())}))
    _stand_in(connection, "readings_steady")
    return connection


def _stand_in(connection: duckdb.DuckDBPyConnection, name: str) -> None:
    """Hide a view behind rows of its own columns; those not given are null."""
    given = connection.table(f"{name}_rows").columns
    columns = ", ".join(
        one if one in given else f"NULL::{kind} AS {one}" for one, kind in _columns()[name].items()
    )
    connection.execute(f"CREATE TEMP TABLE {name} AS SELECT {columns} FROM {name}_rows")


@cache
def _columns() -> dict[str, dict[str, str]]:
    """Columns and types of the views that are stood in for."""
    connection = Plant().connect(AS_OF, *_STAND_INS)
    keep_as_tables(connection, *_STAND_INS)
    found = {name: connection.table(name) for name in _STAND_INS}
    return {
        name: dict(zip(rows.columns, map(str, rows.types), strict=True))
        for name, rows in found.items()
    }


def work_out(connection: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """The rows of `trends`, in order of the series; what it stands on is left as tables."""
    for file in shared_views({"trends"}, frozenset(_STAND_INS)):
        connection.execute(file.as_temporary_table)
    rows: list[dict[str, Any]] = (
        connection.table("trends").order("series_id").to_arrow_table().to_pylist()
    )
    return rows


_COUNTS = ("judged", "in_bin", "speedless")


def _daily(daily: Floats) -> pa.Table:
    series, days = np.nonzero(~np.isnan(daily))
    first = (TODAY - date(1970, 1, 1)).days - daily.shape[1] + 1
    return pa.table(
        {
            "series_id": pa.array(series + 1, pa.int32()),
            "day": pa.array(days + first, pa.int32()).cast(pa.date32()),
            "median": daily[series, days],
            **{n: pa.array(np.ones(len(series)), pa.int64()) for n in _COUNTS},
        }
    )


def _series(number: int) -> pa.Table:
    every = {
        "site": "s1",
        "asset": "P-101",
        "time_zone": "UTC",
        "method_group": "online",
        "unit": "mm/s",
        "to_rms": 1.0,
    }
    columns = {name: [value] * number for name, value in every.items()}
    return pa.table({"series_id": pa.array(range(1, number + 1), pa.int32()), **columns})


def _zones(number: int, b_c: float | None) -> pa.Table:
    known = {"zone": "B", "a_b": 2.3, "b_c": b_c, "c_d": 7.1, "value": 2.5}
    known |= {"lower_name": "A/B", "middle_name": "B/C", "upper_name": "C/D"}
    columns = {name: [value if b_c else None] * number for name, value in known.items()}
    return pa.table({"series_id": pa.array(range(1, number + 1), pa.int32()), **columns})


def day(back: int) -> date:
    """The day so many days before today."""
    return TODAY - timedelta(days=back)
