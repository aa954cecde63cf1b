"""Every command that offers `--json` prints one JSON document and nothing else on stdout."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from tests.warehouse.services.small_plant import Plant, make_plant, series, write_mapping
from warehouse.cli import complete_app

_ARGUMENTS: dict[str, list[str]] = {
    "adapters": [],
    "config show": ["--origin"],
    "fleet": ["bad_actors"],
    "inbox": [],
    "judge": [],
    "limits": [],
    "query": ["SELECT 1 AS one"],
    "registry show": ["mountings"],
    "rejects": [],
    "replay": [],
    "status": [],
    "trust": [],
    "worst": [],
}


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    plant = make_plant(tmp_path_factory.mktemp("json"), {"clock": "data"})
    plant.ingest([*series(0, 3), ("L9", "1", "2025-06-01T00:00", "2.00")])
    return plant


def _invoke(plant: Plant, command: str, arguments: list[str]) -> Any:
    home = [] if command == "adapters" else ["--home", str(plant.store.home)]
    words = [*command.split(), *arguments, *home, "--json"]
    result = CliRunner().invoke(complete_app(), words, catch_exceptions=False)
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


@pytest.mark.parametrize("command", _ARGUMENTS)
def test_stdout_is_one_json_document(plant: Plant, command: str) -> None:
    assert _invoke(plant, command, _ARGUMENTS[command]) is not None


def test_what_the_documents_say(plant: Plant, tmp_path: Path) -> None:
    assert _invoke(plant, "query", ["SELECT 1 AS one"]) == [{"one": 1}]
    assert {row["adapter"] for row in _invoke(plant, "adapters", [])} >= {"delimited", "senml"}
    shown = _invoke(plant, "config show", ["--origin"])
    assert shown["clock"] == {"value": "data", "origin": str(plant.store.home / "mcw.toml")}
    assert shown["commit_mb"]["origin"] == "default"
    (package,) = _invoke(plant, "inbox", [])
    assert (package["accepted"], package["rejected_by_reason"]) == (3, {"unknown-device": 1})
    assert len(_invoke(plant, "registry show", ["mountings"])) == 2
    assert {row["asset"] for row in _invoke(plant, "worst", [])} == {"M-1", "M-2"}
    file = tmp_path / "again.csv"
    file.write_text("device,channel,time,value\nL1,1,2025-06-01T00:09,2.00\n", encoding="utf-8")
    mapping = str(write_mapping(tmp_path))
    checked = _invoke(plant, "connect check", [str(file), "-m", mapping])
    assert checked["counts"]["accepted"] == 1


def test_every_command_with_json_on_reading_is_listed() -> None:
    root: Any = typer.main.get_command(complete_app())
    listed = {name.split()[0] for name in _ARGUMENTS}
    for name in ("adapters", "inbox", "judge", "query", "rejects", "replay", "status", "worst"):
        options = {option for one in root.commands[name].params for option in one.opts}
        assert "--json" in options, name
        assert name in listed
