"""Another engine reads the dataset without our code and comes to the same totals.

The Delta log is read here, in the test, by the protocol's own words (add and remove actions);
the data files by Polars and by pandas with pyarrow. Which rows count is the one documented rule:
`readings` anti-joined with `superseded` on (package, row). Invented data.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
import polars as pl
import pytest

from tests.outside.plain_store import active_files, ingest, station_store
from warehouse.query import open_session
from warehouse.store import Store

MAPPING = """format_version = 1
name = "invented"
[source]
id = "invented"
adapter = "delimited"
method = "wired"
[time]
from = "t"
zone = "UTC"
[record]
device = "station"
detector = "value"
[[measure]]
from = "temp"
channel = "a"
quantity = "temperature"
unit = "[degF]"
[[measure]]
from = "press"
channel = "b"
quantity = "pressure"
unit = "bar"
"""


def _lines(month: int, shift: float) -> str:
    rows = [
        f"2025-{month:02d}-{day:02d}T{hour:02d}:00:00,{50 + day + shift:.1f},{1 + hour / 100:.2f}"
        for day in range(1, 29)
        for hour in range(24)
    ]
    return "t,temp,press\n" + "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    """Three months, the second sent again with other temperatures: its first ones are ended."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        made = station_store(folder, ("a", "b"))
        (folder / "mapping.toml").write_text(MAPPING, encoding="utf-8")
        arrivals = []
        for number, (month, shift) in enumerate([(3, 0), (4, 0), (5, 0), (4, 9)]):
            file = folder / f"{number}.csv"
            file.write_text(_lines(month, shift), encoding="utf-8")
            arrivals.append((file, folder / "mapping.toml"))
        first = ingest(made, *arrivals[:3])
        (again,) = ingest(made, arrivals[3])
        assert [counts.accepted for counts in first] == [2 * 28 * 24] * 3
        assert (again.revised, again.duplicate) == (28 * 24, 28 * 24)
        yield made


Totals = dict[str, tuple[int, float]]


def _ours(store: Store) -> Totals:
    with open_session(store, {}, dt.datetime(2026, 1, 1, tzinfo=dt.UTC)) as session:
        rows = session.sql(
            "SELECT quantity, count(*), sum(value) FROM readings_current GROUP BY quantity"
        ).fetchall()
    return {quantity: (count, total) for quantity, count, total in rows}


def _close(found: Totals, expected: Totals) -> None:
    assert found.keys() == expected.keys() == {"temperature", "pressure"}
    for quantity, (count, total) in expected.items():
        assert found[quantity][0] == count
        assert found[quantity][1] == pytest.approx(total, rel=1e-12)


def _expected() -> Totals:
    """Worked out from the invented lines by hand: the later April counts."""
    days = [day + shift for shift in (0, 9, 0) for day in range(1, 29)]
    temperature = sum((50 + day - 32) / 1.8 for day in days) * 24
    pressure = 3 * 28 * sum(100 * round(1 + hour / 100, 2) for hour in range(24))
    return {"temperature": (3 * 28 * 24, temperature), "pressure": (3 * 28 * 24, pressure)}


def test_polars_reads_the_same_totals(store: Store) -> None:
    readings = pl.scan_parquet(active_files(store.tables / "readings"), hive_partitioning=False)
    superseded = pl.scan_parquet(active_files(store.tables / "superseded"))
    current = readings.join(superseded, on=["package", "row"], how="anti")
    totals = current.group_by("quantity").agg(pl.len(), pl.col("value").sum()).collect()
    found = {quantity: (count, total) for quantity, count, total in totals.iter_rows()}
    _close(found, _expected())
    _close(_ours(store), found)


def test_pandas_reads_the_same_totals(store: Store) -> None:
    readings, superseded = (
        pd.concat([pd.read_parquet(path) for path in active_files(store.tables / name)])
        for name in ("readings", "superseded")
    )
    ended = pd.MultiIndex.from_frame(superseded[["package", "row"]])
    keys = pd.MultiIndex.from_frame(readings[["package", "row"]])
    current = readings[~keys.isin(ended)]
    groups = current.groupby("quantity", observed=True)["value"]
    found = {str(quantity): (len(values), float(values.sum())) for quantity, values in groups}
    _close(found, _expected())


def test_without_the_anti_join_totals_would_differ(store: Store) -> None:
    """The check above can fail: all rows together are more than the current ones."""
    every = pl.scan_parquet(active_files(store.tables / "readings"), hive_partitioning=False)
    assert every.select(pl.len()).collect().item() == 2 * 3 * 28 * 24 + 28 * 24


def test_partition_columns_stand_in_the_path_and_true_columns_in_the_file(store: Store) -> None:
    for path in active_files(store.tables / "readings"):
        assert path.parent.name.startswith("p_month=2025-")
        assert path.parent.parent.name == "p_site=coast"
        schema = pl.read_parquet_schema(path)
        assert "p_site" not in schema
        assert {"site", "ts", "value", "package", "row"} <= set(schema)
