"""Backup of a store in use, restoring it elsewhere, and ledgers that do not belong."""

from __future__ import annotations

import multiprocessing
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest

from schemas import FORMAT_VERSION
from schemas.tables.readings import READINGS
from tests.warehouse.faults.confined import mcw_here
from tests.warehouse.housekeeping.stores import START, Plant, ingest, rows_of
from warehouse.errors import LedgerError, NoRightError, OldLedgerError, StoreError
from warehouse.inbox import Ledger
from warehouse.inbox.database import NUMBERS_AN_INBOX
from warehouse.inbox.seal import read_seal
from warehouse.inbox.upkeep import check_ledger
from warehouse.refusals import GO_ON_WITHOUT
from warehouse.services.adopting import go_on, plan_going_on
from warehouse.services.backup import back_up, restore
from warehouse.services.checking import check_store
from warehouse.services.ingest import commit_all
from warehouse.services.retracting import retract
from warehouse.store import Store, create_store, open_store
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


@pytest.mark.slow
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
        received_anew = ("received_at", "package")
        assert rows_of(open_store(home), without=received_anew) == rows_of(
            plant.again(), without=received_anew
        )
        assert check_store(open_store(home)).findings == []


def _number(store: Store, file: Path, mapping: Path) -> int:
    """The number a file gets that is taken in."""
    ingest(store, file, mapping)
    with Ledger.open(store.inbox) as ledger:
        return ledger.packages()[-1].number


def _packages(store: Store) -> set[int]:
    """Numbers of the packages of all readings."""
    files = store.table(READINGS).files()
    columns = [pq.read_table(f.path, columns=["package"], partitioning=None) for f in files]
    return {number for column in columns for number in column["package"].to_pylist()}


def test_no_number_is_given_by_two_stores(plant: Plant, tmp_path: Path) -> None:
    """What comes to a restored store has a number of its own, whoever else goes on."""
    back_up(plant.store, tmp_path / "backup")
    before = _packages(plant.store)
    late = _number(plant.store, plant.files[2], plant.mapping)
    given = {late // NUMBERS_AN_INBOX}
    for home in (tmp_path / "one", tmp_path / "two"):
        restore(tmp_path / "backup", home)
        store = open_store(home)
        assert _packages(store) == before
        number = _number(store, plant.files[2], plant.mapping)
        assert number // NUMBERS_AN_INBOX not in given
        assert number < 2**53, "a double holds it"
        given.add(number // NUMBERS_AN_INBOX)
        assert _packages(store) == before | {number}
        assert check_store(store).findings == []
        with Ledger.open(store.inbox) as ledger:
            assert ledger.package(number).counts.accepted == 200
            assert retract(store, ledger, number, dry_run=True).rows == 200


def test_each_restoring_of_a_restored_store_gives_higher_numbers(
    plant: Plant, tmp_path: Path
) -> None:
    inbox_ids, numbers, source = set(), [0], plant.store
    for number, part in enumerate((2, 3), 1):
        publish(source, START)
        back_up(source, tmp_path / f"backup{number}")
        inbox_ids.add(restore(tmp_path / f"backup{number}", tmp_path / f"home{number}").inbox_id)
        source = open_store(tmp_path / f"home{number}")
        numbers.append(_number(source, plant.files[part], plant.mapping))
    assert numbers == sorted(numbers)
    assert len({number // NUMBERS_AN_INBOX for number in numbers}) == len(inbox_ids) + 1
    assert check_store(source).findings == []


def test_a_lost_ledger_of_a_restored_store_is_gone_on_without(plant: Plant, tmp_path: Path) -> None:
    """An older one learns of the packages of both inbox numbers."""
    back_up(plant.store, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "restored")
    store = open_store(tmp_path / "restored")
    first = _number(store, plant.files[2], plant.mapping)
    kept = _keep_ledger(store, tmp_path)
    second = _number(store, plant.files[3], plant.mapping)
    _put_back(store, kept)
    plan = plan_going_on(store)
    assert plan is not None
    assert (len(plan.adoption.unknown) if plan.adoption else None, plan.lost) == (1, 0)
    go_on(store, plan)
    assert check_store(store).findings == []
    with Ledger.open(store.inbox) as ledger:
        assert [package.number for package in ledger.packages()][-2:] == [first, second]


def _keep_ledger(store: Store, folder: Path) -> Path:
    with (
        closing(sqlite3.connect(store.inbox / "ledger.sqlite")) as source,
        closing(sqlite3.connect(folder / "old.sqlite")) as old,
    ):
        source.backup(old)
    return folder / "old.sqlite"


def _put_back(store: Store, kept: Path) -> None:
    for beside in store.inbox.glob("ledger.sqlite*"):
        beside.unlink()
    shutil.copyfile(kept, store.inbox / "ledger.sqlite")


def test_a_store_with_an_old_ledger_is_not_backed_up(plant: Plant, tmp_path: Path) -> None:
    kept = _keep_ledger(plant.store, tmp_path)
    plant.take_in(2)
    _put_back(plant.store, kept)
    with pytest.raises(OldLedgerError) as at_ingest:
        ingest(plant.store, plant.files[3], plant.mapping)
    with pytest.raises(OldLedgerError) as at_backup:
        back_up(plant.store, tmp_path / "backup")
    assert not (tmp_path / "backup").exists()
    seal = read_seal(plant.store.inbox)
    assert seal is not None
    assert seal.packages == 3
    for refused in (at_ingest, at_backup):
        assert "the ledger is older than" in refused.value.why
        assert refused.value.remedy == GO_ON_WITHOUT


def test_a_backup_with_an_old_ledger_is_restored_only_when_mended(
    plant: Plant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As older programs made them."""
    kept = _keep_ledger(plant.store, tmp_path)
    plant.take_in(2)
    newest_packages = _packages(plant.store)
    _put_back(plant.store, kept)
    with monkeypatch.context() as patch:
        patch.setattr("warehouse.services.backup.check_ledger", lambda _: None)
        back_up(plant.store, tmp_path / "backup")
    home = tmp_path / "restored"
    refused = mcw_here("restore", tmp_path / "backup", home)
    assert refused.code == OldLedgerError.exit_code
    assert "the ledger is older than the dataset" in refused.err
    assert "or this one with --mend" in refused.err
    assert not any(home.iterdir())

    assert mcw_here("restore", tmp_path / "backup", home, "--mend").code == 0
    store = open_store(home)
    assert check_store(store).findings == []
    assert rows_of(store) == rows_of(plant.again())
    with Ledger.open(store.inbox) as ledger:
        assert {package.number for package in ledger.packages()} == newest_packages
    assert _number(store, plant.files[3], plant.mapping) not in newest_packages


def test_restoring_what_was_not_published_yet_is_no_fault_of_the_ledger(tmp_path: Path) -> None:
    """All that the ledger knows came after the published state."""
    plant = Plant.make(tmp_path, readings=40, parts=1)
    publish(plant.store, START)
    plant.take_in(0, published=False)
    back_up(plant.store, tmp_path / "backup")
    restored = restore(tmp_path / "backup", tmp_path / "restored")
    assert len(restored.offered_again) == 1
    store = open_store(tmp_path / "restored")
    with Ledger.open(store.inbox) as ledger:
        (outcome,) = commit_all(store, ledger)
    assert outcome.counts.accepted == 40
    assert check_store(store).findings == []


def test_an_old_ledger_copied_back_is_refused(plant: Plant, tmp_path: Path) -> None:
    kept = _keep_ledger(plant.store, tmp_path)
    check_ledger(plant.store)
    plant.take_in(2)
    _put_back(plant.store, kept)
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
