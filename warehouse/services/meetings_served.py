"""The meeting sheet and the outage list for one caller, of a published state, chosen by filters."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, TypeVar

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from schemas.tables.conditions import CONDITION_CURRENT
from warehouse.services.desk import Desk
from warehouse.services.displays_served import displays_at
from warehouse.services.exporting import described_by, plain_values
from warehouse.services.meeting_lists import outage_listing, sheet_listing
from warehouse.services.meetings import (
    VIEWS,
    MeetingSheet,
    OutageList,
    Windows,
    machines_in,
    outage_in,
    sheet_in,
)
from warehouse.services.serving import State
from warehouse.work.listing_book import listing_book

Row = dict[str, Any]
_Head = TypeVar("_Head", dt.date, Windows)
Filters = Mapping[str, Sequence[str]]
"""Allowed values of `site`, `area`, `class` and `criticality`."""


@dataclass(frozen=True, slots=True)
class Served:
    """A list: its rows, and what is told of the machines that were asked for, as plain values."""

    rows: pa.Table
    found: MeetingSheet | OutageList
    """The same, without the rows."""

    @property
    def about(self) -> Row:
        """What stands beside the rows."""
        told = asdict(self.found)
        windows = told.pop("windows", {})
        told = {**told, **windows}
        return plain_values({n: v for n, v in told.items() if n not in ("rows", "as_of")})


def sheet_of(desk: Desk, state: State, since: dt.date | None, filters: Filters) -> Served:
    """The meeting sheet of the caller's machines that pass the filters."""

    def ask(session: duckdb.DuckDBPyConnection, seconds: float) -> tuple[dt.date, pa.Table]:
        return sheet_in(session, since, seconds=seconds)

    day, rows, machines = _asked(desk, state, ("meeting sheet", since), ask)
    counts = _counted(_chosen(machines, filters))
    found = MeetingSheet(
        state.snapshot.as_of, day, [],
        counts["open_cases"], counts["silent_machines"], counts["machines"],
    )  # fmt: skip
    return Served(_chosen(rows, filters), found)


def outage_of(
    desk: Desk,
    state: State,
    window: tuple[dt.date, dt.date],
    following: tuple[dt.date, dt.date] | None,
    filters: Filters,
) -> Served:
    """The outage list of the caller's machines that pass the filters.

    Raises ValueError for windows that do not fit.
    """

    def ask(session: duckdb.DuckDBPyConnection, seconds: float) -> tuple[Windows, pa.Table]:
        return outage_in(session, *window, following, seconds=seconds)

    windows, rows, machines = _asked(desk, state, ("outage list", *window, following), ask)
    rest = _counted(_chosen(machines, filters))["without_outage"]
    return Served(_chosen(rows, filters), OutageList(state.snapshot.as_of, windows, [], rest))


def book_of(desk: Desk, state: State, served: Served) -> bytes:
    """A list as a workbook, values and times as each site reads them."""
    displays = displays_at(desk, state)
    found = replace(served.found, rows=served.rows.to_pylist())
    if isinstance(found, MeetingSheet):
        return listing_book(sheet_listing(found, displays))
    return listing_book(outage_listing(found, displays))


def _asked(
    desk: Desk,
    state: State,
    what: tuple[Any, ...],
    ask: Callable[[duckdb.DuckDBPyConnection, float], tuple[_Head, pa.Table]],
) -> tuple[_Head, pa.Table, pa.Table]:
    """Day or windows, rows, and machines, all of the caller's; remembered for the next pages."""
    seconds = desk.places.store.settings.query_seconds

    def made() -> tuple[_Head, pa.Table, pa.Table]:
        with desk.relations(state.snapshot, VIEWS) as session:
            head, rows = ask(session, seconds)
            return head, described_by(CONDITION_CURRENT, rows), machines_in(session, seconds)

    about = (state.snapshot.seq, desk.caller.sites, what)
    found: tuple[_Head, pa.Table, pa.Table] = desk.places.tables.get(about, made)
    return found


def _chosen(rows: pa.Table, filters: Filters) -> pa.Table:
    for name, allowed in filters.items():
        rows = rows.filter(pc.is_in(rows[name], pa.array(allowed, pa.string())))
    return rows


def _counted(machines: pa.Table) -> dict[str, int]:
    sums = {
        "open_cases": machines["open_cases"],
        "without_outage": machines["without_outage"],
        "silent_machines": machines["silent"],
        "machines": machines["judged"],
    }
    return {name: int(pc.sum(column).as_py() or 0) for name, column in sums.items()}
