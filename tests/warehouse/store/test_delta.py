"""A commit is made once, whoever asks, and files are found by version and time."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from deltalake.transaction import AddAction

from schemas.tables.readings import SUPERSEDED
from schemas.tables.snapshots import SNAPSHOTS
from warehouse.store.delta import Commit, DeltaLog

_NOW = dt.datetime(2025, 6, 1, tzinfo=dt.UTC)


def _rows(*numbers: int) -> pa.Table:
    return pa.Table.from_pylist(
        [
            {"package": n, "row": 1, "ended_by": n, "why": "revision", "recorded_at": _NOW}
            for n in numbers
        ],
        SUPERSEDED.arrow,
    )


def _stored(log: DeltaLog, version: int | None = None) -> list[int]:
    tables = [pq.read_table(file.path, partitioning=None) for file in log.files(version)]
    return sorted(number for table in tables for number in table["package"].to_pylist())


def _append(log: DeltaLog, number: int) -> None:
    log.append(lambda: [log.write(_rows(number))], Commit("a", number))


@pytest.fixture
def log(tmp_path: Path) -> DeltaLog:
    return DeltaLog.create(tmp_path / "superseded", SUPERSEDED)


def test_new_table_is_empty_and_creating_again_keeps_it(log: DeltaLog) -> None:
    assert log.files() == []
    log.append(lambda: [log.write(_rows(1))], Commit("a", 1))
    assert _stored(DeltaLog.create(log.root, SUPERSEDED)) == [1]


def test_a_commit_that_is_there_is_not_made_again(log: DeltaLog) -> None:
    asked = []

    def actions() -> list[AddAction]:
        asked.append(1)
        return [log.write(_rows(1))]

    assert log.append(actions, Commit("a", 5)) is True
    assert log.append(actions, Commit("a", 5)) is False
    assert log.append(actions, Commit("a", 4)) is False
    assert len(asked) == 1
    assert _stored(log) == [1]
    assert (log.committed("a"), log.committed("b")) == (5, -1)


def test_applications_count_apart(log: DeltaLog) -> None:
    for application in ("a", "b"):
        assert log.append(lambda: [log.write(_rows(1))], Commit(application, 1)) is True
    assert _stored(log) == [1, 1]


def test_a_stale_log_does_not_write_twice(log: DeltaLog) -> None:
    stale = DeltaLog(log.root, SUPERSEDED)
    assert stale.version() == 0
    log.append(lambda: [log.write(_rows(1))], Commit("a", 1))
    assert stale.append(lambda: [stale.write(_rows(1))], Commit("a", 1)) is False
    assert _stored(stale) == [1]


def test_overtaken_between_check_and_commit_writes_once(log: DeltaLog) -> None:
    """Another process commits the same while our files are being written."""
    other = DeltaLog(log.root, SUPERSEDED)

    def actions() -> list[AddAction]:
        other.append(lambda: [other.write(_rows(1))], Commit("a", 1))
        return [log.write(_rows(1))]

    log.append(actions, Commit("a", 1))
    assert _stored(log) == [1]
    assert log.committed("a") == 1


def test_overtaken_by_another_commit_both_are_there(log: DeltaLog) -> None:
    other = DeltaLog(log.root, SUPERSEDED)
    overtakes = iter(range(2, 4))

    def actions() -> list[AddAction]:
        number = next(overtakes, None)
        if number is not None:
            other.append(lambda: [other.write(_rows(number))], Commit("b", number))
        return [log.write(_rows(1))]

    assert log.append(actions, Commit("a", 1)) is True
    assert _stored(log) == [1, 2, 3]
    on_disk = {path.name for path in log.root.glob("*.parquet")}
    assert on_disk == {file.path.name for file in log.files()}


def test_nothing_to_commit_makes_no_version(log: DeltaLog) -> None:
    assert log.append(list, Commit("a", 1)) is False
    assert log.version() == 0


def test_replace_leaves_only_the_new_rows(log: DeltaLog) -> None:
    log.append(lambda: [log.write(_rows(1, 2))], Commit("a", 1))
    assert log.replace(lambda: [log.write(_rows(3))], Commit("a", 2)) is True
    assert _stored(log) == [3]
    assert _stored(log, version=1) == [1, 2]
    assert log.replace(lambda: [log.write(_rows(4))], Commit("a", 2)) is False


def test_an_older_version_stays_readable_past_a_checkpoint(log: DeltaLog) -> None:
    for number in range(1, 54):
        _append(log, number)
    assert list((log.root / "_delta_log").glob("*.checkpoint*.parquet"))
    assert _stored(log, version=3) == [1, 2, 3]
    assert len(_stored(DeltaLog(log.root, SUPERSEDED))) == 53


def test_files_tell_rows_and_highest_number(tmp_path: Path) -> None:
    log = DeltaLog.create(tmp_path / "snapshots", SNAPSHOTS)
    rows = pa.Table.from_pylist(
        [{"seq": seq, "published_at": _NOW, "as_of": _NOW, "versions": "{}"} for seq in (7, 8)],
        SNAPSHOTS.arrow,
    )
    log.append(lambda: [log.write(rows)], Commit("a", 1))
    (file,) = log.files()
    assert (file.rows, file.last_seq) == (2, 8)
