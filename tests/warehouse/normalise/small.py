"""A small invented plant and one file through the real code; the only setup these tests use.

`take` runs the pass of one file in a session, nothing stored; `SmallPlant` has a
store and takes files in by the services.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import duckdb
import pyarrow as pa

from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from warehouse.adapters import Decoding, adapter, decode
from warehouse.inbox import Counts, Ledger
from warehouse.mapping import parse_mapping
from warehouse.normalise import normalise, rejects
from warehouse.normalise.assemble import assemble
from warehouse.registry import current_entities, placements, read_folder, to_events
from warehouse.registry.entities import empty_entities
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.sql import load_sql
from warehouse.store import Store, create_store
from warehouse.store.scan import create_scan

Rows = list[dict[str, Any]]

REGISTRY = {
    "sites": "site,name,time_zone\nworks,Works,Europe/Vienna\n",
    "assets": "site,asset,name,service_state\nworks,M-1,Machine,in-service\n",
    "members": "site,asset,member,role,equipment_class\nworks,M-1,motor,driver,electric-motor\n",
    "points": "site,asset,position,member,bearing_housing,thrust_end\n"
    "works,M-1,motor-de,motor,true,false\nworks,M-1,motor-nde,motor,true,false\n",
    "devices": "device,kind,method\nD,wired logger,wired\nE,wired logger,wired\nM,meter,route\n",
    "mountings": "device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning\n"
    "D,1,works,M-1,motor-de,horizontal,2000-01-01T00:00:00Z,,passed\n"
    "D,2,works,M-1,motor-nde,vertical,2000-01-01T00:00:00Z,,provisional\n"
    "E,1,works,M-1,motor-de,axial,2020-01-01T00:00:00Z,2020-02-01T00:00:00Z,passed\n",
    "routes": "route,stop,walk_order,site,asset,position,axis,interval_days\n"
    "R1,1,1,works,M-1,motor-de,horizontal,28\nR1,2,2,works,M-1,motor-nde,,28\n",
}


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one file."""

    counts: Counts
    not_measured: int
    readings: Rows
    rejects: Rows
    superseded: Rows = field(default_factory=list)
    error: str | None = None

    @property
    def values(self) -> list[float | None]:
        """Values in the order of the file."""
        return [row["value"] for row in self.readings]


def mapping_text(
    *,
    adapter: str = "delimited",
    method: str = "wired",
    file: str = "",
    time: str = 'from = "t"\nzone = "UTC"',
    values: str = "",
    measures: str = '[[measure]]\nfrom = "v"\n',
    **attributes: str,
) -> str:
    """A mapping; attributes of `[record]` are velocities unless told, each TOML as it stands."""
    said = {
        "device": '"D"',
        "channel": '"1"',
        "quantity": '"velocity"',
        "detector": '"rms"',
        "unit": '"mm/s"',
        "band": '"10-1000Hz"',
    } | attributes
    record = "".join(f"{name} = {value}\n" for name, value in said.items() if value)
    return f"""format_version = 1
name = "invented"
[source]
id = "invented"
adapter = "{adapter}"
method = "{method}"
[file]
{file}
[time]
{time}
[values]
{values}
[record]
{record}
{measures}"""


TEMPERATURE = {"quantity": '"temperature"', "detector": '"value"', "unit": '"Cel"', "band": ""}


RECEIVED_AT = dt.datetime(2026, 1, 15, 12, 0, tzinfo=dt.UTC)
"""When `take` receives its file."""


def write_registry(folder: Path) -> None:
    """The small registry as CSV files."""
    folder.mkdir()
    for name, text in REGISTRY.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")


@cache
def small_placements() -> pa.Table:
    """Where the channels of the small registry belong."""
    with TemporaryDirectory() as folder:
        write_registry(Path(folder) / "registry")
        rows = read_folder(Path(folder) / "registry", empty_entities())
    return placements(current_entities(to_events(rows, 1, RECEIVED_AT)))


def take(payload: str | bytes, mapping: str, name: str = "file.csv") -> Taken:
    """One file through decoding and normalising; readings as they would be stored first."""
    loaded = parse_mapping(mapping, "mapping of the test")
    with TemporaryDirectory() as folder, duckdb.connect(config={"threads": 1}) as session:
        session.execute("SET TimeZone = 'UTC'")
        path = Path(folder) / name
        path.write_bytes(payload.encode() if isinstance(payload, str) else payload)
        decoding = Decoding(path, name, loaded, RECEIVED_AT, package=1)
        failed = decode(adapter(loaded.source.adapter), [decoding], session)
        if failed:
            raise failed[0]
        (found,) = normalise([decoding], small_placements(), session)
        refused = rejects(loaded, session).to_pylist()
        readings = _readings(session, decoding)
    counts = Counts(
        items=found.items,
        accepted=found.candidates,
        rejected=found.rejected,
        blank=found.blank,
        rejected_by_reason=found.rejected_by_reason,
    )
    return Taken(counts, found.not_measured, readings, refused)


def _readings(session: duckdb.DuckDBPyConnection, decoding: Decoding) -> Rows:
    package = "warehouse.normalise.sql"
    items = session.sql(
        load_sql(package, "stored_items", fates_join="", not_dropped=""),
        params={"first": dt.datetime(1900, 1, 1), "last": dt.datetime(2100, 1, 1)},
    ).to_arrow_table()
    streams = session.sql(load_sql(package, "streams")).to_arrow_table()
    rows = assemble(items, streams, [decoding]).to_pylist()
    return sorted(rows, key=lambda row: row["row"])


class SmallPlant:
    """A store with the small registry."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.store: Store = create_store(folder / "store", {"free_disk_mb": 0})
        write_registry(folder / "registry")
        import_registry(self.store, folder / "registry")

    def take(self, payload: str | bytes, mapping: str, name: str = "file.csv") -> Taken:
        """Receive one file, commit it, and read back what became of it."""
        file, mapping_file = self.folder / name, self.folder / "mapping.toml"
        file.write_bytes(payload.encode() if isinstance(payload, str) else payload)
        mapping_file.write_text(mapping, encoding="utf-8")
        with Ledger.open(self.store.inbox) as ledger:
            (receipt,) = receive(self.store, ledger, [Arrival(file, mapping_file)])
            commit_all(self.store, ledger)
            package = ledger.package(receipt.package)
        found = {}
        with duckdb.connect() as session:
            session.execute("SET TimeZone = 'UTC'")
            for table in (READINGS, REJECTS, SUPERSEDED):
                create_scan(session, table.name, table, self.store.table(table).files())
                rows = session.sql(
                    f"SELECT * FROM {table.name} WHERE package = ? ORDER BY row",
                    params=[package.number],
                )
                found[table.name] = rows.to_arrow_table().to_pylist()
        return Taken(
            package.counts,
            package.not_measured,
            found["readings"],
            found["rejects"],
            found["superseded"],
            package.error,
        )


@contextmanager
def small_plant() -> Iterator[SmallPlant]:
    """A plant in a folder of its own."""
    with TemporaryDirectory() as folder:
        yield SmallPlant(Path(folder))
