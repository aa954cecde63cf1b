"""Routes for one caller, of a published state: what they are, walks, sheets out and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from warehouse.errors import NotFoundError
from warehouse.event_mapping import parse_any_mapping
from warehouse.inbox import Delivery
from warehouse.query.session import run, work_out
from warehouse.services.desk import Desk
from warehouse.services.receiving import Content
from warehouse.services.routes import sheet_of, stops_of
from warehouse.services.serving import State
from warehouse.sql import load_statements
from warehouse.work.route_sheet import sheet_mapping

_SQL = load_statements("warehouse.services", "routes")
Row = dict[str, Any]


def routes_table(desk: Desk, state: State, filters: Mapping[str, Sequence[str]]) -> pa.Table:
    """Routes and how well they were walked, by site and route."""
    chosen = _asked(desk, state, "list", {"site": None})
    for name, allowed in filters.items():
        chosen = chosen.filter(pc.is_in(chosen[name], pa.array(allowed, pa.string())))
    return chosen


def route_of(desk: Desk, state: State, route: str) -> tuple[Row, list[Row]]:
    """How well a route was walked, and its stops in order. Raises NotFoundError."""
    stops = stops_table(desk, state, route)
    rows = routes_table(desk, state, {}).to_pylist()
    return next(row for row in rows if row["route"] == route), stops.to_pylist()


def stops_table(desk: Desk, state: State, route: str) -> pa.Table:
    """Stops of a route in the order of the walk. Raises NotFoundError."""
    _check(desk, state, route)
    return _asked(desk, state, "stops", {"route": route})


def walks_table(desk: Desk, state: State, route: str) -> pa.Table:
    """Walks of a route, the newest first. Raises NotFoundError."""
    _check(desk, state, route)
    return _asked(desk, state, "walks", {"route": route})


def _check(desk: Desk, state: State, route: str) -> None:
    """Raises NotFoundError where there is no such route, or it is not the caller's business."""
    if route not in _asked(desk, state, "list", {"site": None})["route"].to_pylist():
        raise NotFoundError("route", route)


def _asked(desk: Desk, state: State, name: str, values: Row) -> pa.Table:
    """Rows of a statement, remembered for the next pages of the same state."""
    about = ("routes", state.snapshot.seq, desk.caller.sites, name, tuple(values.values()))

    def ask() -> pa.Table:
        with desk.session(state.snapshot, [_SQL[name]]) as session:
            work_out(session, _SQL[name])
            return run(session, _SQL[name], values, desk.places.store.settings.query_seconds)

    return desk.places.tables.get(about, ask)


def sheet_for(desk: Desk, state: State, route: str, day: date | None) -> tuple[list[Row], bytes]:
    """Rows of the sheet of a walk, and the workbook. Raises NotFoundError, RouteError."""
    _check(desk, state, route)
    with desk.session(state.snapshot, [_SQL["stops"]]) as session:
        return sheet_of(session, route, day)


def sheet_delivery(desk: Desk, state: State, route: str, file: str, content: Content) -> Delivery:
    """A filled sheet as a package. Raises NotFoundError for a route or source not the caller's."""
    _check(desk, state, route)
    with desk.session(state.snapshot, [_SQL["stops"]]) as session:
        text = sheet_mapping(stops_of(session, route)[0]["time_zone"], route)
    mapping = parse_any_mapping(text, "route sheet")
    desk.check_source(mapping.source.id)
    return Delivery(content.path or Path(file), mapping, text, content.head, file)
