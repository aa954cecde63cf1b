"""Format versions: nothing to do, too new, and steps once there are some."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from warehouse.cli.app import app
from warehouse.errors import StoreError, StoreMissingError, StoreVersionError
from warehouse.services.housekeeping import Step, plan_migration
from warehouse.store import create_store


@pytest.fixture(name="home")
def _home(tmp_path: Path) -> Path:
    return create_store(tmp_path / "home").home


def _declare(home: Path, version: str) -> None:
    path = home / "store.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("format_version = 1", version), encoding="utf-8")


def test_nothing_to_do(home: Path) -> None:
    assert plan_migration(home) == []
    shown = CliRunner().invoke(app, ["migrate", "--dry-run", "--home", str(home)])
    assert (shown.exit_code, shown.stdout[:13]) == (0, "Nothing to do")


def test_a_newer_store_is_refused_with_the_version_needed(home: Path) -> None:
    _declare(home, "format_version = 3")
    with pytest.raises(StoreVersionError, match="reads version 3 is needed") as raised:
        plan_migration(home)
    assert raised.value.exit_code == 6


def test_steps_are_listed_in_order_and_none_may_be_missing(home: Path) -> None:
    steps = {n: Step(f"from {n}", lambda _: None) for n in (1, 2)}
    assert [step.what for step in plan_migration(home, steps, wanted=3)] == ["from 1", "from 2"]
    with pytest.raises(StoreVersionError, match="leads on from version 2"):
        plan_migration(home, {1: steps[1]}, wanted=3)


def test_no_store_and_no_version(home: Path, tmp_path: Path) -> None:
    with pytest.raises(StoreMissingError):
        plan_migration(tmp_path)
    _declare(home, "format = 1")
    with pytest.raises(StoreError, match="names no format version"):
        plan_migration(home)
