"""Format versions: an older store is read right, lifted on demand; a newer one is refused."""

from __future__ import annotations

import json
import sqlite3
import tarfile
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from schemas import FORMAT_VERSION
from schemas.tables.readings import REJECTS
from warehouse.cli.app import app
from warehouse.errors import (
    LedgerError,
    StoreError,
    StoreMissingError,
    StoreVersionError,
    WarehouseError,
)
from warehouse.inbox import Ledger
from warehouse.query import open_published, open_session, run
from warehouse.services import migrating
from warehouse.services.checking import check_store
from warehouse.services.ingest import commit_all, judge_now
from warehouse.services.judging import judged_now, published
from warehouse.services.migrating import STEPS, Step, migrate, plan_migration
from warehouse.store import Store, create_store, open_store

_OLD_STORES = Path(__file__).parents[2] / "old_stores"
_CURRENT = "SELECT device, channel, ts, value FROM readings_current ORDER BY ALL"


@pytest.fixture(name="home")
def _home(tmp_path: Path) -> Path:
    return create_store(tmp_path / "home").home


@pytest.fixture(name="old")
def _old(tmp_path: Path) -> Path:
    with tarfile.open(_OLD_STORES / "version-1.tar.xz") as archive:
        archive.extractall(tmp_path / "old", filter="data")
    return tmp_path / "old"


def _expected() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((_OLD_STORES / "version-1.json").read_text("utf-8"))
    return found


def _declare(home: Path, version: str) -> None:
    path = home / "store.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(f"format_version = {FORMAT_VERSION}", version), encoding="utf-8")


def _current(store: Store) -> list[list[Any]]:
    with open_session(store, {}, judged_now(store)) as session:
        rows = run(session, _CURRENT).to_pylist()
    return [[r["device"], r["channel"], f"{r['ts']:%Y-%m-%dT%H:%M}", r["value"]] for r in rows]


def _mcw(*words: str | Path) -> tuple[int, str]:
    done = CliRunner().invoke(app, [str(word) for word in words])
    if isinstance(done.exception, WarehouseError):
        return done.exception.exit_code, done.exception.message
    return done.exit_code, done.output


def test_a_store_of_version_2_is_read_and_gets_the_record_of_what_is_told(tmp_path: Path) -> None:
    with tarfile.open(_OLD_STORES / "version-2.tar.xz") as archive:
        archive.extractall(tmp_path / "old", filter="data")
    home = tmp_path / "old"
    with open_published(open_store(home), published(open_store(home))) as session:
        assert run(session, "SELECT count(*) AS n FROM issued").to_pylist() == [{"n": 0}]
    migrate(home, tmp_path / "backup")
    store = open_store(home)
    judge_now(store)
    with open_published(store, published(store)) as session:
        told = run(session, "SELECT scope, asset, position, axis, level FROM issued ORDER BY ALL")
        judged = run(
            session,
            "SELECT scope, asset, position, axis, level FROM condition_current ORDER BY ALL",
        )
    assert told.equals(judged)
    assert told.num_rows > 0
    assert check_store(store).faults == []


def test_an_older_store_is_read_right(old: Path) -> None:
    store = open_store(old)
    assert _current(store) == _expected()["current"]
    with open_published(store, published(store)) as session:
        refused = run(session, "SELECT file, line, reason, raw, attempt FROM rejects ORDER BY row")
        assert run(session, "SELECT count(*) AS n FROM asset_conditions").to_pylist() == [{"n": 2}]
    assert [list(row.values())[:4] for row in refused.to_pylist()] == _expected()["rejects"]
    assert refused.column("attempt").to_pylist() == [None]
    code, shown = _mcw("worst", "--home", old)
    assert (code, "M-1" in shown) == (0, True)


def test_an_older_store_is_not_written_to(old: Path) -> None:
    before = {path: path.read_bytes() for path in old.rglob("*") if path.is_file()}
    store = open_store(old)
    with pytest.raises(LedgerError, match=r"version is 1; .*`mcw migrate` lifts it"):
        Ledger.open(store.inbox)
    with pytest.raises(StoreVersionError, match=r"for reading only; `mcw migrate` lifts it"):
        judge_now(store)
    code, said = _mcw("status", "--home", old)
    assert (code, "mcw migrate" in said) == (6, True)
    after = {path: path.read_bytes() for path in old.rglob("*") if path.is_file()}
    assert {path: after[path] for path in before} == before
    assert {path.suffix for path in after.keys() - before.keys()} <= {".lock"}


def test_lifting_an_older_store_keeps_all_it_says(old: Path, tmp_path: Path) -> None:
    assert [step.version for step in plan_migration(old)] == [2, 3]
    code, shown = _mcw("migrate", "--dry-run", "--home", old)
    assert (code, "attempt" in shown) == (0, True)
    assert open_store(old).format_version == 1
    code, shown = _mcw("migrate", "--home", old)
    assert (code, "--without-backup" in shown) == (2, True)
    code, shown = _mcw("migrate", "--backup", tmp_path / "backup", "--home", old)
    assert code == 0, shown

    store = open_store(old)
    assert store.format_version == FORMAT_VERSION
    assert _current(store) == _expected()["current"]
    with Ledger.open(store.inbox) as ledger:
        packages = ledger.packages()
        for package, row in zip(packages, _expected()["packages"], strict=True):
            said = {name: getattr(package, name, None) for name in ("number", "file", "state")}
            assert said == {name: row[name] for name in said}
            assert package.counts.accepted == row["accepted"]
        lives = [[moment.state for moment in ledger.life(package)] for package in packages]
        assert lives[:4] == [
            ["received", "committed-with-rejects"],
            ["received", "committed"],
            ["received", "committed", "retracted"],
            ["received", "failed"],
        ]
        assert lives[5] == ["received", "duplicate"]
        commit_all(store, ledger)  # the one that waits
        assert ledger.package(packages[5].number).counts.accepted == 12
    assert len(_current(store)) == len(_expected()["current"]) + 12
    judge_now(store)
    assert check_store(store).faults == []
    assert plan_migration(old) == []


@pytest.mark.slow
def test_a_store_of_version_2_is_read_and_gets_the_tables_of_work(tmp_path: Path) -> None:
    with tarfile.open(_OLD_STORES / "version-2.tar.xz") as archive:
        archive.extractall(tmp_path / "old", filter="data")
    home = tmp_path / "old"
    store = open_store(home)
    assert _current(store) == _expected()["current"]
    with open_published(store, published(store)) as session:
        assert run(session, "SELECT count(*) AS n FROM cases").to_pylist() == [{"n": 0}]
    assert check_store(store).faults == []
    migrate(home, tmp_path / "backup")
    store = open_store(home)
    assert _current(store) == _expected()["current"]
    judge_now(store)
    with open_published(store, published(store)) as session:
        assert run(session, "SELECT count(*) AS n FROM maintenance_events").to_pylist()
    assert check_store(store).faults == []


@pytest.mark.slow
def test_the_backup_made_before_is_the_older_store(old: Path, tmp_path: Path) -> None:
    migrate(old, tmp_path / "backup")
    code, shown = _mcw("restore", tmp_path / "backup", tmp_path / "again")
    assert code == 0
    assert "It has format version 1 and is for reading only" in shown
    lift = (
        f"`mcw migrate --without-backup --home {tmp_path / 'again'}` lifts it to {FORMAT_VERSION}"
    )
    assert lift in shown
    again = open_store(tmp_path / "again")
    assert again.format_version == 1
    assert _current(again) == _expected()["current"]
    assert _mcw("migrate", "--without-backup", "--home", again.home)[0] == 0
    store = open_store(tmp_path / "again")
    with Ledger.open(store.inbox) as ledger:
        commit_all(store, ledger)
    judge_now(store)
    assert check_store(store).faults == []


@pytest.mark.slow
@pytest.mark.parametrize("stopped_in", ["lift_ledger", "state_format_version"])
def test_stopped_half_way_the_steps_are_taken_again(
    old: Path, stopped_in: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(migrating, stopped_in, stop)
        with pytest.raises(KeyboardInterrupt):
            migrate(old, None)
    assert open_store(old).format_version == 1
    assert _current(open_store(old)) == _expected()["current"]
    assert [step.version for step in migrate(old, None)] == [2, 3]
    with Ledger.open(open_store(old).inbox) as ledger:
        assert len(ledger.packages()) == 6
    assert open_store(old).table(REJECTS).add_columns() == []


def test_a_backup_of_the_newest_version_says_nothing_of_lifting(home: Path, tmp_path: Path) -> None:
    Ledger.open(open_store(home).inbox).close()
    judge_now(open_store(home))
    assert _mcw("backup", tmp_path / "backup", "--home", home)[0] == 0
    code, shown = _mcw("restore", tmp_path / "backup", tmp_path / "again")
    assert (code, "migrate" in shown) == (0, False)


def test_an_old_ledger_of_an_older_store_is_lifted_first(old: Path) -> None:
    """Mending knows the newest ledger only; a plain copy has to serve as the backup then."""
    with closing(sqlite3.connect(old / "inbox" / "ledger.sqlite")) as ledger, ledger:
        ledger.execute("UPDATE sqlite_sequence SET seq = 0 WHERE name = 'groups'")
        ledger.execute("DELETE FROM members")
        ledger.execute("DELETE FROM groups")
    code, said = _mcw("check", "--mend", "--home", old)
    assert (code, "lift it first (`mcw migrate --without-backup`), then mend" in said) == (6, True)
    assert _mcw("migrate", "--without-backup", "--home", old)[0] == 0
    code, said = _mcw("check", "--mend", "--home", old)
    assert code == 0, said


def test_every_version_has_its_step() -> None:
    assert list(STEPS) == list(range(2, FORMAT_VERSION + 1))
    assert all(STEPS[version].version == version for version in STEPS)


def test_nothing_to_do(home: Path) -> None:
    assert plan_migration(home) == []
    code, shown = _mcw("migrate", "--dry-run", "--home", home)
    assert (code, shown[:13]) == (0, "Nothing to do")


def test_a_newer_store_is_refused_with_the_version_needed(home: Path) -> None:
    _declare(home, "format_version = 9")
    with pytest.raises(StoreVersionError, match="reads version 9 is needed") as raised:
        plan_migration(home)
    assert raised.value.exit_code == 6
    with pytest.raises(StoreVersionError, match="reads version 9 is needed"):
        open_store(home)


def test_steps_are_listed_in_order_and_none_may_be_missing(home: Path) -> None:
    _declare(home, "format_version = 1")
    steps = {n: Step(n, f"to {n}") for n in (2, 3)}
    assert [step.what for step in plan_migration(home, steps, wanted=3)] == ["to 2", "to 3"]
    with pytest.raises(StoreVersionError, match="no step leads to version 3"):
        plan_migration(home, {2: steps[2]}, wanted=3)


def test_no_store_and_no_version(home: Path, tmp_path: Path) -> None:
    with pytest.raises(StoreMissingError):
        plan_migration(tmp_path)
    _declare(home, "format = 1")
    with pytest.raises(StoreError, match="names no format version"):
        plan_migration(home)
