"""Lifting a store to the format version this program writes, one version after the other.

A step may be stopped anywhere and taken again: the ledger is lifted in one
transaction, columns that are there are not added again, and the store calls
itself lifted only when everything is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from schemas import FORMAT_VERSION
from schemas.columns import Table
from schemas.tables import TABLES
from warehouse.errors import StoreVersionError
from warehouse.inbox.migrating import lift_ledger
from warehouse.services.backup import back_up
from warehouse.services.housekeeping import only_housekeeper
from warehouse.services.ingest import only_committer
from warehouse.services.running import only_runner
from warehouse.store import Store, open_store
from warehouse.store.delta import DeltaLog
from warehouse.store.layout import format_version, state_format_version


@dataclass(frozen=True, slots=True)
class Step:
    """How a store of one format version becomes one of the next: what changes, in words."""

    version: int
    what: str


STEPS: Mapping[int, Step] = {
    2: Step(
        2,
        "rejects get the column `attempt`, conditions those of trends; the ledger logs what "
        "happens to each package, when each commit was made, and how each payload is kept",
    ),
    3: Step(
        3,
        "there are the tables `issued`, `maintenance_events`, `case_actions`, `case_events`, "
        "`stop_results` and `commissioning_steps`; "
        "conditions have the columns of what is held and of a baseline; the ledger stays as it was",
    ),
}
"""Steps by the format version they lead to."""


def plan_migration(
    home: Path, steps: Mapping[int, Step] = STEPS, wanted: int = FORMAT_VERSION
) -> list[Step]:
    """Steps that lift the store at `home` to the version this program writes, in order.

    Raises StoreVersionError for a newer store, or where a step is missing.
    """
    version = format_version(home)
    if version > wanted:
        raise StoreVersionError(
            home,
            f"its format version is {version}",
            f"a program that reads version {version} is needed; this one reads version {wanted}",
        )
    missing = [number for number in range(version + 1, wanted + 1) if number not in steps]
    if missing:
        raise StoreVersionError(
            home, f"its format version is {version}", f"no step leads to version {missing[0]}"
        )
    return [steps[number] for number in range(version + 1, wanted + 1)]


def migrate(home: Path, backup: Path | None) -> list[Step]:
    """Take those steps, after a backup where a folder for it is given; the steps taken.

    Raises StoreVersionError as `plan_migration` does, StoreError where a
    background process or other housekeeping is at work.
    """
    steps = plan_migration(home)
    store = open_store(home)
    if steps and backup is not None:
        back_up(store, backup)
    with only_runner(store, wait=False), only_committer(store), only_housekeeper(store):
        for step in steps:
            lift_ledger(store.inbox, step.version)
            for table in TABLES.values():
                _lift_table(store, table, step.version)
            state_format_version(home, step.version)
    return steps


def _lift_table(store: Store, table: Table, version: int) -> None:
    """Make a table that a version brought; add to one that was there the columns it brought."""
    place = store.tables / table.name
    if table.since == version:
        DeltaLog.create(place, table.as_of_version(version), store.settings.remember_days)
    elif table.since < version:
        DeltaLog(place, table.as_of_version(version)).add_columns()
