"""The check finds each kind of damage, names it, and is silent about a sound store."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pytest
from typer.testing import CliRunner

from schemas.tables.readings import READINGS
from tests.warehouse.housekeeping.stores import Plant, append, reading, supersede
from warehouse.cli.app import app
from warehouse.inbox import Ledger
from warehouse.services.checking import check_store
from warehouse.services.housekeeping import compact
from warehouse.store import Store, create_store
from warehouse.store.delta import Commit


def _faults(store: Store) -> list[tuple[str, str, int]]:
    return [(f.table, f.check, f.count) for f in check_store(store).faults]


def test_a_sound_store_is_sound_also_compacted(plant: Plant) -> None:
    for number in range(3):
        append(plant.store, [reading(number, package=1)], number)
    report = check_store(plant.store)
    assert (report.findings, report.rows["readings"]) == ([], 403)
    assert [one.files_before for one in compact(plant.store)] == [3]
    assert check_store(plant.again()).findings == []


def test_a_store_that_never_took_anything_in_is_sound(tmp_path: Path) -> None:
    plant = Plant.make(tmp_path, readings=40, parts=1)
    with Ledger.open(plant.store.inbox):
        assert check_store(plant.again()).findings == []


def _missing(path: Path) -> None:
    path.unlink()


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-100])


def _foreign(path: Path) -> None:
    path.write_bytes(b"\0" * path.stat().st_size)


@pytest.mark.parametrize("damage", [_missing, _cut, _foreign])
def test_a_damaged_data_file_is_found(plant: Plant, damage: Callable[[Path], None]) -> None:
    damage(plant.store.table(READINGS).files()[0].path)
    assert ("readings", "data files", 1) in _faults(plant.again())


def test_the_same_reading_twice_is_found_null_safe_and_named(plant: Plant) -> None:
    append(plant.store, [reading(1, package=1, band=None)], 0)
    append(plant.store, [reading(1, package=1, band=None) | {"row": 99}], 1)
    (finding,) = check_store(plant.store).faults
    assert (finding.check, finding.count) == ("identities", 1)
    assert (finding.sample[0]["times"], finding.sample[0]["band"]) == (2, None)
    supersede(plant.store, 1, 99)
    assert _faults(plant.store) == [], "one of them no longer counts"


def test_a_superseded_row_that_does_not_exist_is_found(plant: Plant) -> None:
    supersede(plant.store, 1, 4242)
    (finding,) = check_store(plant.store).faults
    assert (finding.check, finding.sample) == ("superseded rows", [{"package": 1, "row": 4242}])


@pytest.mark.parametrize(
    "partition", [{"p_site": "x", "p_month": "2026-04"}, {"p_site": "y", "p_month": "2026-03"}]
)
def test_a_row_in_a_wrong_folder_is_found(plant: Plant, partition: dict[str, str]) -> None:
    log = plant.store.table(READINGS)
    rows = pa.Table.from_pylist([reading(1, package=1)], READINGS.arrow)
    log.append(lambda: [log.write(rows, partition)], Commit("t", 0))
    assert _faults(plant.store) == [("readings", "partitions", 1)]


def test_other_counts_than_the_ledger_has_are_found(plant: Plant) -> None:
    with sqlite3.connect(plant.store.inbox / "ledger.sqlite") as ledger:
        ledger.execute("UPDATE packages SET accepted = accepted + 1 WHERE seq = 2")
    ledger.close()
    (finding,) = check_store(plant.store).faults
    assert (finding.check, finding.count) == ("counts", 1)
    assert finding.sample[0]["ledger"] == finding.sample[0]["readings"] + 1


def test_a_lost_ledger_is_found_and_none_is_made(plant: Plant) -> None:
    for path in plant.store.inbox.glob("ledger.sqlite*"):
        path.unlink()
    assert _faults(plant.store) == [("ledger", "ledger", 1)]
    assert not (plant.store.inbox / "ledger.sqlite").exists()


def test_a_damaged_ledger_is_found(plant: Plant) -> None:
    path = plant.store.inbox / "ledger.sqlite"
    for beside in plant.store.inbox.glob("ledger.sqlite-*"):
        beside.unlink()
    path.write_bytes(b"\0" * path.stat().st_size)
    assert ("ledger", "ledger", 1) in _faults(plant.store)


def test_an_orphan_is_a_note_once_it_is_old(plant: Plant) -> None:
    stray = plant.store.table(READINGS).files()[0].path.parent / "part-left.parquet"
    stray.write_bytes(b"left by a program that was stopped")
    assert check_store(plant.store).findings == []
    os.utime(stray, (1, 1))
    (finding,) = check_store(plant.store).findings
    assert (finding.severity, finding.check) == ("note", "orphan files")
    assert stray.exists()


def test_a_state_that_names_versions_to_come_is_found(plant: Plant) -> None:
    tip = sorted((plant.store.tables / "readings" / "_delta_log").glob("*.json"))[-1]
    tip.unlink()
    found = _faults(plant.again())
    assert ("snapshots", "published state", 1) in found
    assert ("ledger", "commits", 1) in found


def test_exit_code_and_json(plant: Plant) -> None:
    home = str(plant.store.home)
    sound = CliRunner().invoke(app, ["check", "--home", home, "--json"])
    assert (sound.exit_code, json.loads(sound.stdout)["sound"]) == (0, True)
    plant.store.table(READINGS).files()[0].path.unlink()
    unsound = CliRunner().invoke(app, ["check", "--home", home, "--json"])
    assert unsound.exit_code == 6
    report = json.loads(unsound.stdout)
    assert not report["sound"]
    assert report["findings"][0]["check"] == "data files"
    shown = CliRunner().invoke(app, ["check", "--home", home])
    assert shown.exit_code == 6
    assert "FAULT  readings, data files" in shown.stdout
    assert "What to do: restore the newest backup" in shown.stdout


def test_commands_on_nothing(tmp_path: Path) -> None:
    create_store(tmp_path / "home")
    done = CliRunner().invoke(app, ["compact", "--home", str(tmp_path / "home")])
    assert (done.exit_code, done.stdout[:13]) == (0, "Nothing to do")
