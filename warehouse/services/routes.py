"""Routes: how well they are walked, the sheet of a walk, the mapping of filled sheets (rule W4)."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from warehouse.errors import NotFoundError, RouteError
from warehouse.query import answers, open_published
from warehouse.refusals import plain_refusals
from warehouse.services.judging import published
from warehouse.sql import load_statements
from warehouse.store import Store
from warehouse.work.route_sheet import faults_of, sheet_mapping, sheet_rows, workbook

_SQL = load_statements("warehouse.services", "routes")
Row = dict[str, Any]


def list_routes(store: Store, site: str | None = None) -> list[Row]:
    """Every route as `route_compliance` has it; with `site` only those of it."""
    return _asked(store, "list", {"site": site})


def walks(store: Store, route: str) -> list[Row]:
    """Walks of a route, the newest first. Raises NotFoundError for an unknown route."""
    _stops(store, route)
    return _asked(store, "walks", {"route": route})


def sheet(store: Store, route: str, day: date | None = None) -> list[Row]:
    """Rows of the sheet of a route by column, values in the unit of the meter.

    Raises NotFoundError for an unknown route, RouteError where stops do not say what is read.
    """
    return sheet_rows(_sound(_stops(store, route)), day)


def write_sheet(store: Store, route: str, target: Path, day: date | None = None) -> int:
    """Write the sheet of a route as XLSX; how many stops. Errors as `sheet`."""
    stops = _sound(_stops(store, route))
    content = workbook(sheet_rows(stops, day), _title(route, stops, day))
    with plain_refusals(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return len(stops)


def mapping_text(store: Store, route: str) -> str:
    """TOML of the mapping that reads the filled sheet of a route. Raises NotFoundError."""
    return sheet_mapping(_stops(store, route)[0]["time_zone"])


def asked_of(session: duckdb.DuckDBPyConnection, name: str, parameters: Row) -> list[Row]:
    """Rows of a statement about routes, in a session that is open."""
    return answers(session, _SQL[name], parameters, seconds=600)


def sheet_of(
    session: duckdb.DuckDBPyConnection, route: str, day: date | None = None
) -> tuple[list[Row], bytes]:
    """Rows of the sheet of a route and the workbook, in a session that is open. As `sheet`."""
    stops = _sound(stops_of(session, route))
    rows = sheet_rows(stops, day)
    return rows, workbook(rows, _title(route, stops, day))


def stops_of(session: duckdb.DuckDBPyConnection, route: str) -> list[Row]:
    """Stops of a route in the order of the walk, in a session that is open.

    Raises NotFoundError for an unknown route.
    """
    rows = asked_of(session, "stops", {"route": route})
    if not rows:
        raise NotFoundError("route", route)
    return rows


def _title(route: str, stops: list[Row], day: date | None) -> str:
    return f"Route {route}, {stops[0]['site']}" + (f", {day.isoformat()}" if day else "")


def _sound(stops: list[Row]) -> list[Row]:
    if faults := faults_of(stops):
        raise RouteError(faults)
    return stops


def _stops(store: Store, route: str) -> list[Row]:
    with open_published(store, published(store), asks=[_SQL["stops"]]) as session:
        return stops_of(session, route)


def _asked(store: Store, name: str, parameters: Row) -> list[Row]:
    with open_published(store, published(store), asks=[_SQL[name]]) as session:
        return asked_of(session, name, parameters)
