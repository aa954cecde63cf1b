"""Backup of a store in use, restoring it elsewhere, and ledgers that do not belong."""

from __future__ import annotations

import multiprocessing
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from schemas import FORMAT_VERSION
from schemas.tables.readings import READINGS
from tests.warehouse.housekeeping.stores import START, Plant, ingest, rows_of
from warehouse.errors import LedgerError, NoRightError, StoreError
from warehouse.inbox import Ledger
from warehouse.inbox.upkeep import check_ledger
from warehouse.services.backup import back_up, restore
from warehouse.services.checking import check_store
from warehouse.services.ingest import commit_all
from warehouse.store import create_store, open_store
from warehouse.store.snapshot import newest, publish


def test_restored_is_the_published_state(plant: Plant, tmp_path: Path) -> None:
    done = back_up(plant.store, tmp_path / "backup")
    restored = restore(tmp_path / "backup", tmp_path / "restored")
    store = open_store(tmp_path / "restored")
    assert newest(store) == newest(plant.store)
    assert (done.seq, restored.seq, restored.offered_again) == (1, 1, [])
    assert rows_of(store) == rows_of(plant.store)
    assert check_store(store).findings == []
    assert ingest(store, plant.files[0], plant.mapping), "it had arrived before"
    assert not ingest(store, plant.files[2], plant.mapping)
    assert sum(rows_of(store).values()) == 600
    assert check_store(store).findings == []


def test_the_restored_inbox_is_another(plant: Plant, tmp_path: Path) -> None:
    back_up(plant.store, tmp_path / "backup")
    restored = restore(tmp_path / "backup", tmp_path / "restored")
    with Ledger.open(plant.store.inbox) as old:
        assert old.inbox_id != restored.inbox_id
        with Ledger.open(tmp_path / "restored" / "inbox") as new:
            assert new.inbox_id == restored.inbox_id
            assert [p.number for p in new.packages()] == [p.number for p in old.packages()]
    assert open_store(tmp_path / "restored").table(READINGS).committed(restored.inbox_id) == -1


def test_what_came_after_the_published_state_is_offered_again(plant: Plant, tmp_path: Path) -> None:
    plant.take_in(2, published=False)
    with Ledger.open(plant.store.inbox) as ledger:
        late = ledger.packages()[-1]
    back_up(plant.store, tmp_path / "backup")
    restored = restore(tmp_path / "backup", tmp_path / "restored")
    assert restored.offered_again == [late.number]
    store = open_store(tmp_path / "restored")
    assert sum(rows_of(store).values()) == 400
    assert check_store(store).findings == []
    with Ledger.open(store.inbox) as ledger:
        (outcome,) = commit_all(store, ledger)
        assert outcome.counts.accepted == 200
        assert ledger.package(late.number).counts == late.counts
    assert rows_of(store) == rows_of(plant.store)
    assert check_store(store).findings == []


def test_a_package_stopped_half_way_is_neither_lost_nor_doubled(
    plant: Plant, tmp_path: Path
) -> None:
    """Its readings are in the dataset, the ledger does not know yet."""
    with sqlite3.connect(plant.store.inbox / "ledger.sqlite") as ledger:
        ledger.execute("UPDATE packages SET state = 'received', accepted = 0 WHERE seq = 2")
        ledger.execute("UPDATE groups SET committed = 0 WHERE number = 2")
    ledger.close()
    back_up(plant.store, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "restored")
    store = open_store(tmp_path / "restored")
    with Ledger.open(store.inbox) as opened:
        (outcome,) = commit_all(store, opened)
    assert outcome.counts.accepted == 200
    assert rows_of(store) == rows_of(plant.store)
    assert check_store(store).findings == []


def _ingest_parts(home: str, files: list[str], mapping: str) -> None:
    store = open_store(Path(home))
    for file in files:
        ingest(store, Path(file), Path(mapping))
        publish(store, START)


def test_a_backup_beside_running_appends_is_of_one_moment(tmp_path: Path) -> None:
    plant = Plant.make(tmp_path, readings=800, parts=8).take_in(0)
    arguments = ([str(f) for f in plant.files[1:]], str(plant.mapping))
    spawn = multiprocessing.get_context("spawn")
    process = spawn.Process(target=_ingest_parts, args=(str(plant.store.home), *arguments))
    process.start()
    seen = []
    number = 0
    while process.is_alive():
        number += 1
        seen.append(back_up(open_store(plant.store.home), tmp_path / f"backup{number}").seq)
    process.join()
    assert process.exitcode == 0
    assert len(set(seen)) >= 3, "states changed while backups were taken"
    for chosen in {len(seen) // 2}:
        home = tmp_path / f"restored{chosen}"
        restore(tmp_path / f"backup{chosen + 1}", home)
        store = open_store(home)
        assert check_store(store).findings == []
        _ingest_parts(str(home), *arguments)
        received_anew = "received_at"
        assert rows_of(open_store(home), without=received_anew) == rows_of(
            plant.again(), without=received_anew
        )
        assert check_store(open_store(home)).findings == []


def test_an_old_ledger_copied_back_is_refused(plant: Plant, tmp_path: Path) -> None:
    path = plant.store.inbox / "ledger.sqlite"
    with sqlite3.connect(path) as source, sqlite3.connect(tmp_path / "old.sqlite") as old:
        source.backup(old)
    source.close()
    old.close()
    check_ledger(plant.store)
    plant.take_in(2)
    for beside in plant.store.inbox.glob("ledger.sqlite*"):
        beside.unlink()
    shutil.copyfile(tmp_path / "old.sqlite", path)
    with pytest.raises(LedgerError, match="older than the dataset") as raised:
        check_ledger(plant.store)
    assert "mcw check --mend" in raised.value.remedy
    assert ("ledger", "ledger") in {(f.table, f.check) for f in check_store(plant.store).faults}


def _unfinished(backup: Path) -> None:
    (backup / "backup.toml").unlink()


def _incomplete(backup: Path) -> None:
    next(backup.rglob("*.parquet")).unlink()


def _newer(backup: Path) -> None:
    path = backup / "backup.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace(
            f"format_version = {FORMAT_VERSION}", "format_version = 9"
        )
    )


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (_unfinished, "no finished backup"),
        (_incomplete, "were written"),
        (_newer, "format version is 9"),
    ],
)
def test_a_backup_that_is_not_whole_is_refused(
    plant: Plant, tmp_path: Path, harm: Any, said: str
) -> None:
    back_up(plant.store, tmp_path / "backup")
    harm(tmp_path / "backup")
    with pytest.raises(StoreError, match=said):
        restore(tmp_path / "backup", tmp_path / "restored")
    assert not (tmp_path / "restored" / "store.toml").exists()


def test_nothing_is_overwritten(plant: Plant, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="not empty"):
        back_up(plant.store, tmp_path / "plant" / "case")
    back_up(plant.store, tmp_path / "backup")
    with pytest.raises(StoreError, match="not empty"):
        restore(tmp_path / "backup", plant.store.home)


def test_no_right_to_write_is_said(
    plant: Plant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    below_a_file = plant.files[0] / "backup"
    with pytest.raises(StoreError, match="Not a directory"):
        back_up(plant.store, below_a_file)

    def refuse(_: Path, target: Path) -> None:
        raise PermissionError(13, "Permission denied", str(target))

    monkeypatch.setattr("warehouse.services.backup.shutil.copyfile", refuse)
    with pytest.raises(StoreError, match="Permission denied") as raised:
        back_up(plant.store, tmp_path / "backup")
    assert raised.value.place.is_relative_to(tmp_path / "backup")
    assert isinstance(raised.value, NoRightError)


def test_a_store_that_published_nothing_says_so(tmp_path: Path) -> None:
    plant = Plant.make(tmp_path, readings=40, parts=1)
    ingest(plant.store, plant.files[0], plant.mapping)
    with pytest.raises(StoreError, match="nothing is published"):
        back_up(plant.store, tmp_path / "backup")
    bare = create_store(tmp_path / "bare")
    publish(bare, START)
    with pytest.raises(LedgerError, match="not there"):
        back_up(bare, tmp_path / "bare-backup")
