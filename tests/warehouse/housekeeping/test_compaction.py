"""Compaction never changes which rows exist, alone, beside others, and when it goes wrong."""

from __future__ import annotations

import json
import multiprocessing
import tempfile
import threading
from collections import Counter
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from deltalake import DeltaTable
from deltalake.transaction import AddAction
from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.tables import TABLES
from schemas.tables.readings import READINGS, SUPERSEDED
from schemas.tables.snapshots import SNAPSHOTS
from tests.warehouse.housekeeping.stores import append, reading, rows_of, supersede
from warehouse.errors import StoreConflictError, StoreError
from warehouse.services.housekeeping import compact, only_housekeeper
from warehouse.store import Store, compaction, create_store, open_store
from warehouse.store.compaction import carry_out, compact_table, plan_compaction
from warehouse.store.delta import Commit
from warehouse.store.files import write_file
from warehouse.store.history import data_files
from warehouse.store.snapshot import newest, publish

_FEW: dict[str, Any] = {"compact_files": 2, "chunk_rows": 1_000}


def _filled(home: Path, files: int = 6, rows: int = 5, **changed: Any) -> Store:
    store = create_store(home, _FEW)
    for number in range(files):
        numbers = range(number * rows, number * rows + rows)
        append(store, [reading(n, **changed) for n in reversed(numbers)], number)
    return store


def _only_plan(store: Store) -> compaction.Plan:
    (plan,) = plan_compaction(store.table(READINGS), 2, 1_000)
    return plan


_ROW = st.fixed_dictionaries(
    {
        "site": st.sampled_from(["north", "süd 50%"]),
        "axis": st.sampled_from([None, "axial"]),
        "band": st.sampled_from([None, "10-1000Hz", ""]),
        "value": st.sampled_from([None, 0.0, -0.0, 1.5, float("nan"), float("inf")]),
        "note": st.one_of(st.none(), st.text(max_size=3)),
        "take": st.integers(1, 3),
        "minute": st.integers(0, 70_000),
    }
)


@pytest.mark.slow
@settings(max_examples=5, deadline=None)
@given(files=st.lists(st.lists(_ROW, min_size=1, max_size=6), min_size=1, max_size=12))
def test_compaction_keeps_the_multiset_of_rows(files: list[list[dict[str, Any]]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = create_store(Path(folder) / "home", _FEW)
        commit = 0
        for row, group in enumerate(files):
            parts: dict[tuple[str, str], list[dict[str, Any]]] = {}
            for one in group:
                made = reading(one["minute"], **{k: v for k, v in one.items() if k != "minute"})
                parts.setdefault((made["site"], f"{made['ts']:%Y-%m}"), []).append(
                    made | {"row": row}
                )
            for part in parts.values():
                append(store, part, commit)
                commit += 1
        log = store.table(READINGS)
        version, before, files_before = log.version(), rows_of(store), len(log.files())
        done = list(compact_table(store, READINGS))
        assert rows_of(open_store(store.home)) == before
        assert rows_of(store, version=version) == before, "an older version is still readable"
        assert len(log.files()) == files_before - sum(c.files_before - c.files_after for c in done)
        assert not plan_compaction(log, 2, 1_000), "once is enough"


def test_files_are_few_sorted_and_bounded(tmp_path: Path) -> None:
    store = _filled(tmp_path / "home", files=8, rows=400)
    (done,) = compact_table(store, READINGS)
    assert (done.files_before, done.files_after, done.rows) == (8, 4, 3_200)
    assert all(file.rows <= 1_000 for file in store.table(READINGS).files())
    for file in store.table(READINGS).files():
        ts = pq.read_table(file.path, partitioning=None).column("ts").to_pylist()
        assert ts == sorted(ts)
        assert (file.first, file.last) == (ts[0], ts[-1])


def test_the_log_says_that_no_data_changed(tmp_path: Path) -> None:
    store = _filled(tmp_path / "home", site="süd 50%")
    before = {e.name: e for e in store.table(READINGS).entries()}
    list(compact_table(store, READINGS))
    tip = sorted((store.tables / "readings" / "_delta_log").glob("*.json"))[-1]
    actions = [json.loads(line) for line in tip.read_text(encoding="utf-8").splitlines()]
    changes = [a[kind] for a in actions for kind in ("add", "remove") if kind in a]
    assert {c["dataChange"] for c in changes} == {False}
    assert {c["partitionValues"]["p_site"] for c in changes} == {"süd 50%"}
    assert sum("remove" in a for a in actions) == len(before) == 6
    assert len(DeltaTable(store.tables / "readings").file_uris()) == 1


@pytest.mark.slow
def test_a_row_is_written_again_only_as_often_as_its_file_doubles(tmp_path: Path) -> None:
    store = create_store(tmp_path / "home", {"compact_files": 4})
    log, written, commits = store.table(READINGS), 0, 96
    for number in range(commits):
        append(store, [reading(number)], number)
        written += sum(done.rows for done in compact_table(store, READINGS))
        assert len(log.files()) <= 4
    assert sum(rows_of(store).values()) == commits
    assert written <= commits * 6, "all rows each time would be some 1,500"


def test_few_files_are_left_alone(tmp_path: Path) -> None:
    store = _filled(tmp_path / "home", files=2)
    version = store.table(READINGS).version()
    assert list(compact(store)) == []
    assert store.table(READINGS).version() == version


def test_a_stale_second_compaction_changes_nothing(tmp_path: Path) -> None:
    first = _filled(tmp_path / "home")
    second = open_store(first.home)
    before = rows_of(first)
    plans = _only_plan(first), _only_plan(second)
    carry_out(first, first.table(READINGS), plans[0])
    files = set(data_files(first.table(READINGS).root))
    with pytest.raises(StoreConflictError):
        carry_out(second, second.table(READINGS), plans[1])
    assert rows_of(open_store(first.home)) == before
    assert set(data_files(first.table(READINGS).root)) == files, "its new file is gone again"


def test_the_set_of_files_alone_refuses_a_stale_exchange(tmp_path: Path) -> None:
    store = _filled(tmp_path / "home")
    log = store.table(READINGS)
    plan = _only_plan(store)
    copy = log.write(
        pa.concat_tables(pq.read_table(log.root / e.name, partitioning=None) for e in plan.files),
        {"p_site": "x", "p_month": "2026-03"},
    )
    before = rows_of(store)
    carry_out(store, log, plan)
    assert not log.exchange(plan.files, [copy], Commit("another application", 1))
    assert rows_of(store) == before


def test_two_at_once_leave_one_winner(tmp_path: Path) -> None:
    home = _filled(tmp_path / "home").home
    before = rows_of(open_store(home))
    ready = threading.Barrier(2)
    outcomes: list[str] = []

    def work() -> None:
        store = open_store(home)
        plan = _only_plan(store)
        ready.wait(timeout=30)
        try:
            carry_out(store, store.table(READINGS), plan)
            outcomes.append("done")
        except StoreConflictError:
            outcomes.append("refused")

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert sorted(outcomes) == ["done", "refused"]
    assert rows_of(open_store(home)) == before


def _append_many(home: str, first: int, count: int) -> None:
    store = open_store(Path(home))
    for number in range(first, first + count):
        append(store, [reading(number * 10 + n) for n in range(10)], number, "appender")


@pytest.mark.slow
def test_appends_of_another_process_go_on_beside_it(tmp_path: Path) -> None:
    store = _filled(tmp_path / "home")
    before = rows_of(store)
    spawn = multiprocessing.get_context("spawn")
    appender = spawn.Process(target=_append_many, args=(str(store.home), 100, 60))
    appender.start()
    compacted = 0
    while appender.is_alive():
        compacted += len(list(compact(store)))
    appender.join()
    assert appender.exitcode == 0
    assert compacted >= 2, "it did run beside the appends"
    new = [reading(number * 10 + n) for number in range(100, 160) for n in range(10)]
    made = pa.Table.from_pylist(new, READINGS.arrow).to_pylist()
    assert rows_of(open_store(store.home)) == before + Counter(map(repr, made))


@pytest.mark.parametrize("fault", ["a row lost", "a row twice", "a value changed"])
def test_a_file_with_other_rows_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    store = _filled(tmp_path / "home")
    before, files = rows_of(store), set(data_files(store.table(READINGS).root))

    def wrong(root: Path, table: Any, rows: pa.Table, partition: Any) -> AddAction:
        if fault == "a row lost":
            rows = rows.slice(1)
        elif fault == "a row twice":
            rows = pa.concat_tables([rows.slice(1), rows.slice(rows.num_rows - 1)])
        else:
            index = rows.column_names.index("value")
            rows = rows.set_column(index, "value", pa.array([1.0] * rows.num_rows))
        return write_file(root, table, rows, partition)

    monkeypatch.setattr("warehouse.store.compaction.write_file", wrong)
    with pytest.raises(StoreError, match="would have changed the rows"):
        list(compact_table(store, READINGS))
    assert rows_of(open_store(store.home)) == before
    assert set(data_files(store.table(READINGS).root)) == files


def test_every_table_is_compacted(tmp_path: Path) -> None:
    store = create_store(tmp_path / "home", _FEW)
    for number in range(5):
        supersede(store, 7, number, number)
        publish(store, reading(0)["ts"])
    before = {name: rows_of(store, TABLES[name]) for name in TABLES}
    state = newest(store)
    done = {one.table: one.files_after for one in compact(store)}
    assert done == {"superseded": 1, "snapshots": 1}
    assert {name: rows_of(store, TABLES[name]) for name in TABLES} == before
    assert newest(open_store(store.home)) == state
    assert publish(store, reading(0)["ts"]).seq == 6
    assert len(store.table(SNAPSHOTS).files()) == 2
    assert len(store.table(SUPERSEDED).files()) == 1


def test_one_housekeeper_at_a_time(tmp_path: Path) -> None:
    store = _filled(tmp_path / "home")
    with only_housekeeper(store), pytest.raises(StoreError, match="by another program"):
        list(compact(open_store(store.home)))
    assert list(compact(store)), "and it is free again afterwards"


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    store = _filled(tmp_path / "home")
    gone = store.table(READINGS).files()[0].path
    gone.unlink()
    with pytest.raises(StoreError) as raised:
        list(compact(store))
    assert raised.value.place == gone
    assert raised.value.exit_code == 6
