"""Routes: how well they are walked, the sheet of a walk, the mapping of filled sheets (rule W4)."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

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
    title = f"Route {route}, {stops[0]['site']}" + (f", {day.isoformat()}" if day else "")
    content = workbook(sheet_rows(stops, day), title)
    with plain_refusals(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return len(stops)


def mapping_text(store: Store, route: str) -> str:
    """TOML of the mapping that reads the filled sheet of a route. Raises NotFoundError."""
    return sheet_mapping(_stops(store, route)[0]["time_zone"])


def _sound(stops: list[Row]) -> list[Row]:
    if faults := faults_of(stops):
        raise RouteError(faults)
    return stops


def _stops(store: Store, route: str) -> list[Row]:
    rows = _asked(store, "stops", {"route": route})
    if not rows:
        raise NotFoundError("route", route)
    return rows


def _asked(store: Store, name: str, parameters: Row) -> list[Row]:
    with open_published(store, published(store)) as session:
        return answers(session, _SQL[name], parameters, seconds=600)
