"""Series nobody here made, taken in by a mapping file alone, against pandas' own figures.

Sources, as their PyPI packages carry them:
- `bokeh_sampledata`, sea_surface_temperature.csv.gz: half-hourly sea surface temperature of
  NERACOOS buoy B01, Western Maine Shelf, Celsius, UTC.
- `vega_datasets`, seattle-temps.csv: hourly air temperature of 2010 at Seattle, Fahrenheit,
  local time (NOAA).
"""

from __future__ import annotations

import gzip
from importlib.resources import files
from pathlib import Path

import pandas as pd
import pytest

from tests.outside.plain_store import active_files, ingest, station_store
from warehouse.inbox import Counts

BUOY = """format_version = 1
name = "buoy"
[source]
id = "buoy"
adapter = "delimited"
method = "wired"
[time]
from = "time (UTC)"
[[measure]]
from = "temperature (celsius)"
device = "station"
channel = "water"
quantity = "temperature"
detector = "value"
unit = "Cel"
"""

AIR = """format_version = 1
name = "air"
[source]
id = "air"
adapter = "delimited"
method = "wired"
[time]
from = "date"
format = "%Y/%m/%d %H:%M"
zone = "America/Los_Angeles"
precision = "hour"
ambiguous = "{ambiguous}"
[[measure]]
from = "temp"
device = "station"
channel = "air"
quantity = "temperature"
detector = "value"
unit = "[degF]"
"""


def _take_in(
    folder: Path, series: bytes, mapping: str, channel: str
) -> tuple[Counts, pd.DataFrame]:
    """Counts, and the stored readings as pandas reads them from the data files."""
    (folder / "series.csv").write_bytes(series)
    (folder / "mapping.toml").write_text(mapping, encoding="utf-8")
    store = station_store(folder, (channel,))
    (counts,) = ingest(store, (folder / "series.csv", folder / "mapping.toml"))
    parts = [pd.read_parquet(path) for path in active_files(store.tables / "readings")]
    return counts, pd.concat(parts).sort_values("ts", ignore_index=True)


@pytest.fixture(scope="module")
def buoy(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, Counts, pd.DataFrame]:
    packed = files("bokeh_sampledata") / "_data" / "sea_surface_temperature.csv.gz"
    series = gzip.decompress(packed.read_bytes())
    return series, *_take_in(tmp_path_factory.mktemp("buoy"), series, BUOY, "water")


def _source_of_buoy(folder: Path, series: bytes) -> pd.DataFrame:
    (folder / "own.csv").write_bytes(series)
    return pd.read_csv(folder / "own.csv", names=["ts", "value"], header=0, parse_dates=["ts"])


def test_buoy_counts(tmp_path: Path, buoy: tuple[bytes, Counts, pd.DataFrame]) -> None:
    """The series holds one time twice: a duplicate where the value is the same, else revised."""
    series, counts, stored = buoy
    source = _source_of_buoy(tmp_path, series)
    assert counts.items == len(source) == 19_226
    again = int(source.duplicated(["ts", "value"]).sum())
    revised = int(source.duplicated("ts").sum()) - again
    assert (counts.duplicate, counts.revised) == (again, revised)
    assert (counts.rejected, counts.blank) == (0, 0)
    assert len(stored) == counts.accepted + counts.revised


def test_buoy_values_are_the_series(
    tmp_path: Path, buoy: tuple[bytes, Counts, pd.DataFrame]
) -> None:
    series, _, stored = buoy
    source = _source_of_buoy(tmp_path, series).drop_duplicates(["ts", "value"])
    source = source.sort_values("ts", ignore_index=True)
    assert stored["ts"].dt.tz_convert("UTC").tolist() == source["ts"].tolist()
    assert stored["value"].tolist() == source["value"].tolist()


def test_buoy_daily_means_and_extremes(
    tmp_path: Path, buoy: tuple[bytes, Counts, pd.DataFrame]
) -> None:
    series, _, stored = buoy
    source = _source_of_buoy(tmp_path, series).drop_duplicates(["ts", "value"])
    ours = stored.set_index("ts")["value"].resample("D").agg(["mean", "min", "max", "count"])
    theirs = source.set_index("ts")["value"].resample("D").agg(["mean", "min", "max", "count"])
    assert len(ours) == len(theirs) == 402
    assert (ours["count"].to_numpy() == theirs["count"].to_numpy()).all()
    for column in ("mean", "min", "max"):
        assert ours[column].to_numpy() == pytest.approx(theirs[column].to_numpy(), abs=1e-12)


def _seattle() -> bytes:
    return (files("vega_datasets") / "_data" / "seattle-temps.csv").read_bytes()


def _source_of_seattle(folder: Path) -> pd.DataFrame:
    """The series with pandas' own reading of its local times.

    02:00 of 14 March is there although Seattle's clocks jumped over it (and 03:00 is not): it is
    no time, so pandas gives NaT. 01:00 of 7 November stands once, but was twice: its NaT too.
    """
    (folder / "own.csv").write_bytes(_seattle())
    frame = pd.read_csv(folder / "own.csv")
    local = pd.to_datetime(frame["date"], format="%Y/%m/%d %H:%M")
    frame["ts"] = local.dt.tz_localize(
        "America/Los_Angeles", nonexistent="NaT", ambiguous="NaT"
    ).dt.tz_convert("UTC")
    frame["value"] = (frame["temp"] - 32) / 1.8
    return frame


def test_seattle_refuses_the_hour_that_was_not_and_the_one_that_was_twice(tmp_path: Path) -> None:
    counts, stored = _take_in(tmp_path, _seattle(), AIR.format(ambiguous="refuse"), "air")
    source = _source_of_seattle(tmp_path)
    assert counts.items == len(source) == 8_759
    assert counts.rejected_by_reason == {"missing-hour": 1, "ambiguous-hour": 1}
    assert counts.rejected == int(source["ts"].isna().sum()) == 2
    assert (counts.duplicate, counts.revised) == (0, 0)
    kept = source.dropna(subset="ts").sort_values("ts", ignore_index=True)
    assert stored["ts"].dt.tz_convert("UTC").tolist() == kept["ts"].tolist()
    assert stored["value"].to_numpy() == pytest.approx(kept["value"].to_numpy(), abs=1e-12)
    assert set(stored["unit"]) == {"Cel"}


def test_seattle_daily_means_and_extremes_of_local_days(tmp_path: Path) -> None:
    """With `ambiguous = "earlier"`, the once-printed 01:00 of 7 November is summer time."""
    counts, stored = _take_in(tmp_path, _seattle(), AIR.format(ambiguous="earlier"), "air")
    assert counts.rejected_by_reason == {"missing-hour": 1}
    source = _source_of_seattle(tmp_path)
    days = source["date"].str.slice(0, 10).where(source["date"] != "2010/03/14 02:00")
    theirs = source["value"].groupby(days).agg(["mean", "min", "max", "count"])
    local = stored["ts"].dt.tz_convert("America/Los_Angeles").dt.strftime("%Y/%m/%d")
    ours = stored["value"].groupby(local).agg(["mean", "min", "max", "count"])
    assert ours.index.tolist() == theirs.index.tolist()
    assert len(ours) == 365
    assert ours["count"].tolist() == theirs["count"].tolist()
    for column in ("mean", "min", "max"):
        assert ours[column].to_numpy() == pytest.approx(theirs[column].to_numpy(), abs=1e-9)
    assert stored["value"].max() == pytest.approx((source["temp"].max() - 32) / 1.8)
