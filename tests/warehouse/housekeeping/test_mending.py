"""A commit torn by a power cut: found, moved aside, offered again, nothing lost or doubled."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from schemas.tables.readings import READINGS
from tests.warehouse.housekeeping.stores import START, Plant, rows_of
from warehouse.cli.app import app
from warehouse.errors import StoreError
from warehouse.inbox import Ledger
from warehouse.services.checking import check_store
from warehouse.services.housekeeping import mend, plan_mending
from warehouse.services.ingest import commit_all
from warehouse.store.snapshot import publish


def _log(plant: Plant) -> list[Path]:
    return sorted((plant.store.tables / "readings" / "_delta_log").glob("*.json"))


@pytest.mark.parametrize("torn", [b"", b"\0" * 700, b'{"add":{"path":"p_si'])
def test_a_torn_tip_is_mended(plant: Plant, torn: bytes) -> None:
    before = rows_of(plant.store)
    _log(plant)[-1].write_bytes(torn)
    (fault, *_) = check_store(plant.again()).faults
    assert (fault.table, fault.check) == ("readings", "torn log")

    home = str(plant.store.home)
    mended = CliRunner().invoke(app, ["check", "--home", home, "--mend"])
    assert "torn at the tip" in mended.stderr
    assert "(part01.csv)" in mended.stderr, "what is offered again is named"
    assert "(part00.csv)" not in mended.stderr
    assert [p.read_bytes() for p in (plant.store.home / "torn").iterdir()] == [torn]

    store = plant.again()
    with Ledger.open(store.inbox) as ledger:
        assert [package.file for package in ledger.pending()] == ["part01.csv"]
        (outcome,) = commit_all(store, ledger)
    assert outcome.counts.accepted == 200
    publish(store, START)
    assert rows_of(store) == before
    assert check_store(store).faults == []


def test_a_torn_commit_below_the_tip_is_not_touched(plant: Plant) -> None:
    torn = _log(plant)[-2]
    torn.write_bytes(b"")
    with pytest.raises(StoreError, match="commits were made after"):
        plan_mending(plant.again())
    assert torn.exists()


def test_a_plan_that_no_longer_holds_is_refused(plant: Plant) -> None:
    tip = _log(plant)[-1]
    whole = tip.read_bytes()
    tip.write_bytes(b"")
    plan = plan_mending(plant.again())
    tip.write_bytes(whole)
    with pytest.raises(StoreError, match="has changed"):
        mend(plant.again(), plan)
    assert tip.exists()
    assert plant.again().table(READINGS).version() == 2
