"""The meeting sheet and the outage list (rule W6): what people talk about, and what goes in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from warehouse.errors import NotFoundError
from warehouse.judging.advice import CAUTION
from warehouse.query import answers, open_relations, run, work_out
from warehouse.services.cases import NEVER
from warehouse.services.judging import published
from warehouse.sql import load_statements
from warehouse.store import Store

Row = dict[str, Any]
_SQL = load_statements("warehouse.services", "meetings")
VIEWS = ("cases", "case_outages", "limit_changes", "setting")
"""Views that a session for these lists needs."""
_SECONDS = 600.0
SHEET_HEADINGS = ("new", "worse", "cleared", "overdue", "deferral expired", "silent")
OUTAGE_HEADINGS = ("must go in", "to verify first", "no estimate", "can wait")
UNSEEN = "What no sensor and no route sees is not on it."


@dataclass(frozen=True, slots=True)
class MeetingSheet:
    """What changed since a day, by heading, and how much is open at all.

    A day begins at midnight of each site. A case stands under every heading that fits it.
    """

    as_of: dt.datetime
    since: dt.date
    rows: list[Row]
    open_cases: int
    silent_machines: int
    machines: int
    cautions: tuple[str, ...] = (NEVER, CAUTION, UNSEEN)


@dataclass(frozen=True, slots=True)
class Windows:
    """An outage and the next one, each from the beginning of its first day to the end of its last.

    Raises ValueError where a window ends before it begins, or the next does not follow.
    """

    first: dt.date
    last: dt.date
    next_first: dt.date
    next_last: dt.date

    def __post_init__(self) -> None:
        for first, last in ((self.first, self.last), (self.next_first, self.next_last)):
            if last < first:
                raise ValueError(f"a window from {first} ends before it begins: {last}")
        if self.next_first <= self.last:
            raise ValueError(f"the next window, {self.next_first}, begins before {self.last} ends")


@dataclass(frozen=True, slots=True)
class OutageList:
    """Open cases that need an outage, or may, by heading; how many others are open."""

    as_of: dt.datetime
    windows: Windows
    rows: list[Row]
    without_outage: int
    cautions: tuple[str, ...] = (NEVER, CAUTION, UNSEEN)


def meeting_sheet(
    store: Store, since: dt.date | None = None, site: str | None = None
) -> MeetingSheet:
    """What is new, worse, cleared, overdue, no longer put off, and silent since a day.

    Without a day, since a week ago. Raises NotFoundError for a site that is not registered.
    """
    with _asking(store, site) as (session, as_of):
        day, rows = sheet_in(session, since, site)
        (standing,) = _rows(session, "standing", {"site": site})
    return MeetingSheet(as_of, day, rows.to_pylist(), **standing)


def sheet_in(
    session: duckdb.DuckDBPyConnection,
    since: dt.date | None,
    site: str | None = None,
    seconds: float = _SECONDS,
) -> tuple[dt.date, pa.Table]:
    """The day, and the rows of the sheet, in a session that is open."""
    day = since or _rows(session, "since", {})[0]["since"]
    return day, _table(session, "sheet", {"since": day.isoformat(), "site": site}, seconds)


def outage_list(
    store: Store,
    first: dt.date,
    last: dt.date,
    following: tuple[dt.date, dt.date] | None = None,
    site: str | None = None,
) -> OutageList:
    """What must go in to the outage from `first` to `last`, what can wait for the following one.

    Raises ValueError for windows that do not fit, NotFoundError for an unknown site.
    """
    with _asking(store, site) as (session, as_of):
        windows, rows = outage_in(session, first, last, following, site)
        (rest,) = _rows(session, "without_outage", {"site": site})
    return OutageList(as_of, windows, rows.to_pylist(), rest["cases"])


def outage_in(
    session: duckdb.DuckDBPyConnection,
    first: dt.date,
    last: dt.date,
    following: tuple[dt.date, dt.date] | None = None,
    site: str | None = None,
    seconds: float = _SECONDS,
) -> tuple[Windows, pa.Table]:
    """The windows, and the rows of the list, in a session that is open. Raises ValueError."""
    if following is None:
        Windows(first, last, *(last + dt.timedelta(days=1),) * 2)
        window = {"first": first.isoformat(), "last": last.isoformat()}
        (found,) = _rows(session, "next", window)
        following = (found["next_first"], found["next_last"])
    windows = Windows(first, last, *following)
    asked = {"first": first.isoformat(), "next_first": windows.next_first.isoformat()}
    return windows, _table(session, "outage", asked | {"site": site}, seconds)


def machines_in(session: duckdb.DuckDBPyConnection, seconds: float = _SECONDS) -> pa.Table:
    """What is open and silent by machine, in a session that is open."""
    return _table(session, "machines", {}, seconds)


@contextmanager
def _asking(
    store: Store, site: str | None
) -> Iterator[tuple[duckdb.DuckDBPyConnection, dt.datetime]]:
    snapshot = published(store)
    with open_relations(store, snapshot, VIEWS) as session:
        if site is not None and site not in {row["site"] for row in _rows(session, "sites", {})}:
            raise NotFoundError("site", site)
        yield session, snapshot.as_of


def _rows(session: duckdb.DuckDBPyConnection, name: str, parameters: Row) -> list[Row]:
    return answers(session, _SQL[name], parameters, _SECONDS)


def _table(
    session: duckdb.DuckDBPyConnection, name: str, parameters: Row, seconds: float
) -> pa.Table:
    work_out(session, _SQL[name])
    return run(session, _SQL[name], parameters, seconds)
