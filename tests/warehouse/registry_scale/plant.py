"""A small invented plant in real stores: one logger, one machine, readings at known times."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from schemas.identity import CURRENT_READINGS
from schemas.tables.readings import READINGS, SUPERSEDED
from tests.benchmarks.logger_file import LoggerFile, make_logger_file
from warehouse.inbox import Ledger
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store, open_store
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace

HEADER = "device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning"
OPEN = "2000-01-01T00:00:00Z"


def store_with_readings(home: Path, readings: int = 400) -> tuple[Store, LoggerFile]:
    """A store holding `readings` values of 20 channels, one line a minute from 2016-01-01."""
    store = create_store(home / "store")
    case = make_logger_file(home / "case", readings)
    import_registry(store, case.registry)
    with Ledger.open(store.inbox) as ledger:
        receive(store, ledger, [Arrival(case.csv, case.mapping)])
        commit_all(store, ledger)
    return store, case


def mounting(
    channel: str,
    position: str,
    start: str = OPEN,
    end: str = "",
    axis: str = "horizontal",
    commissioning: str = "passed",
) -> str:
    """A line of mountings.csv for the one logger."""
    return f"logger-1,{channel},bench,M-1,{position},{axis},{start},{end},{commissioning}"


def mountings_folder(folder: Path, *lines: str, header: str = HEADER) -> Path:
    """A folder with nothing but a mountings.csv."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "mountings.csv").write_text("\n".join((header, *lines)) + "\n", encoding="utf-8")
    return folder


def copy_store(store: Store, home: Path) -> Store:
    """A copy of a store that others have filled."""
    shutil.copytree(store.home, home)
    return open_store(home)


@contextmanager
def _asked(store: Store) -> Iterator[Any]:
    with workspace(store.inbox, store.settings) as session:
        for table in (READINGS, SUPERSEDED):
            create_scan(session, table.name, table, store.table(table).files())
        yield session


def current(store: Store) -> list[tuple[Any, ...]]:
    """Current readings: identity, place, value, doubt."""
    with _asked(store) as session:
        return list(
            session.execute(
                "SELECT channel, ts, position, axis, value, quality, reason "
                f"FROM ({CURRENT_READINGS}) ORDER BY ALL"
            ).fetchall()
        )


def rows_twice(store: Store) -> int:
    """Rows of `readings` whose (package, row) stands more than once."""
    with _asked(store) as session:
        ((number,),) = session.execute(
            "SELECT count(*) FROM (SELECT 1 FROM readings GROUP BY package, row "
            "HAVING count(*) > 1)"
        ).fetchall()
    return int(number)


def open_not_mounted(store: Store) -> int:
    """Refused items that no reading has come of, as the ledger counts them."""
    with Ledger.open(store.inbox) as ledger:
        return sum(
            int(row["items"]) for row in ledger.reject_counts() if row["reason"] == "not-mounted"
        )
