"""Logs stay short, and nothing that anyone still needs is forgotten."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import pytest
from deltalake import DeltaTable

from schemas.tables.readings import READINGS
from tests.warehouse.housekeeping.stores import append, publish_later, reading, rows_of
from warehouse.inbox import Ledger
from warehouse.services.checking import check_store
from warehouse.services.housekeeping import compact, vacuum
from warehouse.store import Store, create_store, open_store
from warehouse.store.delta import DeltaLog
from warehouse.store.history import checkpoints, log_files, read_history, version_of
from warehouse.store.snapshot import publish
from warehouse.store.tidying import tidy_logs

_COMMITS = 65


@pytest.fixture(autouse=True)
def _frequent_checkpoints(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("warehouse.store.delta._CHECKPOINT_EVERY", "20")


def _days(count: float) -> dt.datetime:
    return dt.datetime.now(dt.UTC) + dt.timedelta(days=count)


def _store(home: Path, published_after: int) -> Store:
    """Commits of a row each, compacted half-way; one state published on the way."""
    store = create_store(home, {"compact_files": 2})
    Ledger.open(store.inbox).close()
    for number in range(_COMMITS):
        append(store, [reading(number)], number)
        if number == 30:
            list(compact(store))
        if number == published_after:
            publish(store, _days(0))
    return store


def _first(store: Store) -> int:
    return version_of(log_files(store.table(READINGS).root)[0])


def test_entries_go_when_old_and_a_checkpoint_stands_for_them(tmp_path: Path) -> None:
    store = _store(tmp_path / "home", published_after=_COMMITS - 1)
    log, before = store.table(READINGS), rows_of(store)
    assert tidy_logs(store, _days(1.9)) == []
    gone = tidy_logs(store, _days(2.1))
    assert _first(store) == 59
    assert len(gone) == 59 + 2
    assert [version_of(path) for path in checkpoints(log.root)] == [59]
    assert rows_of(store) == before
    assert rows_of(open_store(store.home)) == before
    assert DeltaTable(log.root).version() == log.version()
    append(store, [reading(900)], 900)
    append(store, [reading(901)], 900)  # the same commit again
    assert sum(rows_of(open_store(store.home)).values()) == _COMMITS + 1
    assert check_store(store).faults == []


def test_a_version_that_a_published_state_names_stays_readable(tmp_path: Path) -> None:
    store = _store(tmp_path / "home", published_after=45)
    tidy_logs(store, _days(300))
    assert _first(store) == 39
    assert sum(rows_of(store, version=47).values()) == 46


def test_replaced_files_are_remembered_until_they_are_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = _store(tmp_path / "home", published_after=_COMMITS - 1)
    publish_later(store, monkeypatch, _days(0.1))
    log, before = store.table(READINGS), rows_of(store)
    replaced = {f.path for f in vacuum(store, really=False, now=_days(15)).files}
    assert len(replaced) == 31
    tidy_logs(store, _days(2.1))
    removed = read_history(log.root).removed
    assert {log.root / name for name in removed} == replaced
    assert {removal.version for removal in removed.values()} == {None}
    assert vacuum(store, really=False, now=_days(13.9)).files == []
    assert {f.path for f in vacuum(store, really=True, now=_days(15.1)).files} == replaced
    assert rows_of(open_store(store.home)) == before


def test_an_entry_whose_removals_no_checkpoint_remembers_stays(tmp_path: Path) -> None:
    store = _store(tmp_path / "home", published_after=_COMMITS - 1)
    log = store.table(READINGS)
    table = DeltaTable(log.root)
    table.alter.set_table_properties(
        {"delta.deletedFileRetentionDuration": "interval 0 days"}, raise_if_not_exists=False
    )
    DeltaTable(log.root).create_checkpoint()
    for path in checkpoints(log.root)[:-1]:
        path.unlink()
    assert tidy_logs(store, _days(2.1)) == []
    assert len(vacuum(store, really=False, now=_days(15)).files) == 31


def test_a_process_that_slept_meanwhile_goes_on(tmp_path: Path) -> None:
    store = create_store(tmp_path / "home")
    append(store, [reading(0)], 0)
    asleep = DeltaLog(store.table(READINGS).root, READINGS)
    assert len(asleep.files()) == 1
    for number in range(1, 50):
        append(store, [reading(number)], number)
    publish(store, _days(0))
    tidy_logs(store, _days(3))
    assert _first(store) == 39
    assert len(asleep.files()) == 50


def test_one_stopped_half_way_is_taken_up_again(tmp_path: Path) -> None:
    store = _store(tmp_path / "home", published_after=_COMMITS - 1)
    log, before = store.table(READINGS), rows_of(store)
    for path in log_files(log.root)[:25]:
        path.unlink()
    assert rows_of(open_store(store.home)) == before
    tidy_logs(store, _days(2.1))
    assert _first(store) == 59
    assert rows_of(open_store(store.home)) == before


def test_vacuum_tidies_every_table(tmp_path: Path) -> None:
    store = _store(tmp_path / "home", published_after=_COMMITS - 1)
    old = _days(-3).timestamp()
    for path in store.tables.rglob("*.json"):
        os.utime(path, (old, old))
    assert vacuum(store, really=False).log_entries == 0
    assert vacuum(store, really=True).log_entries >= 59
    assert check_store(store).faults == []
