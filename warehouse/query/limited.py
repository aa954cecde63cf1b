"""The one place that holds a caller to its sites where rows are read.

`readings` has a folder a site: the files of others are not even named. Every
other table is read whole and kept without the rows of others before the views
are made over it: by its column `site`, or by a statement of its own. For a table
with neither nothing is read at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from schemas.columns import Table
from schemas.tables.readings import READINGS
from warehouse.access import Caller
from warehouse.sql import load_statements
from warehouse.store.delta import DataFile
from warehouse.store.scan import create_scan

_SQL = load_statements("warehouse.query", "limited")


def create_limited(
    session: duckdb.DuckDBPyConnection,
    table: Table,
    files: Sequence[DataFile],
    caller: Caller,
) -> None:
    """Create relation `table.name` with what the caller may see of it."""
    if not caller.limited:
        create_scan(session, table.name, table, files)
    elif table is READINGS:
        create_scan(session, table.name, table, files_seen(files, caller))
    else:
        create_scan(session, f"every_{table.name}", table, files)
        values = {"sites": sorted(caller.sites or ()), "sources": sorted(caller.sources or ())}
        statement = _statement(table)
        needed = {name: values[name] for name in values if f"${name}" in statement}
        session.execute(statement, needed)
        session.execute(f"DROP VIEW every_{table.name}")


def _statement(table: Table) -> str:
    """What makes the caller's part of a table. Raises KeyError where nobody has thought of it."""
    if "site" in table.column_names:
        return _SQL["by_site"].replace("@{name}", table.name)
    return _SQL[table.name]


def files_seen(files: Sequence[DataFile], caller: Caller) -> list[DataFile]:
    """Files of `readings` that hold the caller's sites, and no others."""
    if caller.sites is None:
        return list(files)
    folders = {f"p_site={site}" for site in caller.sites}
    return [file for file in files if folders & set(file.path.parts[-3:])]


def entities_seen(entities: Mapping[str, pa.Table], caller: Caller) -> dict[str, pa.Table]:
    """Entities of the registry that stand on the caller's sites.

    Devices and units have no site of their own: those mounted or installed there.
    """
    if caller.sites is None:
        return dict(entities)
    sites = pa.array(sorted(caller.sites), pa.string())
    seen = {
        name: rows.filter(pc.is_in(rows["site"], sites))
        for name, rows in entities.items()
        if "site" in rows.column_names
    }
    for name, key, by in (("devices", "device", "mountings"), ("units", "serial", "installations")):
        there = seen[by][key].combine_chunks()
        rows = entities[name]
        seen[name] = rows.filter(pc.is_in(rows[key], there))
    return {name: seen.get(name, rows.slice(0, 0)) for name, rows in entities.items()}
