"""Vacuum removes what nobody needs, and nothing else."""

from __future__ import annotations

import datetime as dt
import os
import sqlite3
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest

from schemas.tables.readings import READINGS
from schemas.tables.registry import REGISTRY
from tests.warehouse.housekeeping.stores import Plant, append, publish_later, reading, rows_of
from warehouse.errors import SettingsError
from warehouse.inbox import Ledger
from warehouse.inbox.upkeep import Upkeep
from warehouse.services.housekeeping import Vacuumed, compact, vacuum
from warehouse.settings import load_settings
from warehouse.store import Store, create_store, open_store
from warehouse.store.delta import Commit
from warehouse.store.history import data_files
from warehouse.store.snapshot import newest, publish
from warehouse.store.vacuum import old_files

_FEW: dict[str, Any] = {"compact_files": 2}


def _days(count: float) -> dt.datetime:
    return dt.datetime.now(dt.UTC) + dt.timedelta(days=count)


def _compacted(home: Path, *, publish_after: bool) -> Store:
    """Five files, published, compacted; published again if asked."""
    store = create_store(home, _FEW)
    for number in range(5):
        append(store, [reading(number)], number)
    publish(store, _days(0))
    list(compact(store))
    if publish_after:
        publish(store, _days(0))
    return store


def _names(store: Store) -> set[str]:
    return set(data_files(store.table(READINGS).root))


def test_replaced_files_are_old_only_after_the_retention(tmp_path: Path) -> None:
    store = _compacted(tmp_path / "home", publish_after=True)
    assert old_files(store, _days(0)) == []
    assert old_files(store, _days(13.9)) == []
    found = old_files(store, _days(14.1))
    assert len(found) == 5
    assert {file.table for file in found} == {"readings"}


def test_the_newest_published_state_is_kept_however_old(tmp_path: Path) -> None:
    store = _compacted(tmp_path / "home", publish_after=False)
    state = newest(store)
    assert state
    before = rows_of(store)
    assert old_files(store, _days(400)) == []
    publish(store, _days(0))
    assert len(old_files(store, _days(400))) == 5
    assert rows_of(store, version=state.versions["readings"]) == before


def test_a_young_state_that_names_old_versions_keeps_their_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = _compacted(tmp_path / "home", publish_after=True)
    assert len(old_files(store, _days(15))) == 5
    log = store.table(READINGS)
    before_compaction = log.version() - 1
    with monkeypatch.context() as patch:
        patch.setattr(log, "version", lambda: before_compaction)
        publish_later(store, patch, _days(10))
    publish_later(store, monkeypatch, _days(11))
    assert old_files(store, _days(15)) == []
    assert len(old_files(store, _days(30))) == 5


def test_compacted_and_single_states_are_read_together(tmp_path: Path) -> None:
    store = _compacted(tmp_path / "home", publish_after=True)
    for _ in range(4):
        publish(store, _days(0))
    list(compact(store))
    publish(store, _days(0))
    Ledger.open(store.inbox).close()
    assert vacuum(store, really=True).files == []


def test_a_pinned_version_is_kept(tmp_path: Path) -> None:
    store = _compacted(tmp_path / "home", publish_after=True)
    version = store.table(READINGS).version()
    assert len(old_files(store, _days(15), {"readings": version})) == 5
    assert old_files(store, _days(15), {"readings": version - 1}) == []


def test_a_dry_run_removes_nothing_and_the_other_exactly_that(plant: Plant) -> None:
    store = plant.take_in(2).store
    list(compact(store))
    publish(store, _days(0))
    stray = store.table(READINGS).files()[0].path.parent / "part-being-written.parquet"
    stray.write_bytes(b"not committed yet")
    left = stray.with_name("part-left-behind.parquet")
    left.write_bytes(b"never committed")
    os.utime(stray, (_days(14).timestamp(),) * 2)
    before, rows = _names(store), rows_of(store)
    found = vacuum(store, really=False, now=_days(15))
    assert found.files
    assert _names(store) == before
    assert vacuum(store, really=True, now=_days(15)).files == found.files
    assert _names(store) == before - {
        f.path.relative_to(store.table(READINGS).root).as_posix() for f in found.files
    }
    assert stray.exists(), "a file the log does not know may be about to be committed"
    assert not left.exists(), "no commit takes as long as the retention"
    assert rows_of(open_store(store.home)) == rows
    assert vacuum(store, really=True, now=_days(15)).files == []


def test_the_registry_that_readings_are_placed_by_is_kept(plant: Plant) -> None:
    with sqlite3.connect(plant.store.inbox / "ledger.sqlite") as ledger:
        ledger.execute("DELETE FROM placed_by")
        ledger.execute("INSERT INTO placed_by (only, version) VALUES (1, 1)")
    ledger.close()
    with Upkeep.open(plant.store.inbox) as upkeep:
        assert upkeep.placed_by() == 1
    log = plant.store.table(REGISTRY)
    entries = log.entries()
    rows = pq.read_table(log.root / entries[0].name, partitioning=None)
    assert log.exchange(entries, [log.write(rows)], Commit("compact/registry", 0))
    publish(plant.store, _days(0))
    assert vacuum(plant.store, really=False, now=_days(15)).files == []
    with sqlite3.connect(plant.store.inbox / "ledger.sqlite") as ledger:
        ledger.execute("DELETE FROM placed_by")
    ledger.close()
    assert [f.table for f in vacuum(plant.store, really=False, now=_days(15)).files] == ["registry"]


def _payloads(found: Vacuumed) -> list[str]:
    return sorted(one.file for one in found.payloads)


def test_payloads_go_when_old_and_nothing_was_refused(plant: Plant) -> None:
    assert _payloads(vacuum(plant.store, really=True, now=_days(89))) == []
    with sqlite3.connect(plant.store.inbox / "ledger.sqlite") as ledger:
        ledger.execute("UPDATE packages SET state = 'committed-with-rejects' WHERE seq = 1")
    ledger.close()
    assert _payloads(vacuum(plant.store, really=False, now=_days(91))) == ["part01.csv"]
    assert _payloads(vacuum(plant.store, really=True, now=_days(91))) == ["part01.csv"]
    with sqlite3.connect(plant.store.inbox / "ledger.sqlite") as ledger:
        assert ledger.execute("SELECT seq FROM payloads").fetchall() == [(1,)]
    ledger.close()


def test_the_retention_has_a_floor(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="retention_days"):
        load_settings(tmp_path, {"retention_days": 6})
