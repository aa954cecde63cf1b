"""Each kind of fault has its exit code, one clear message, and never a traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from schemas import FORMAT_VERSION
from tests.warehouse.cli.running import mcw
from tests.warehouse.services.small_plant import (
    MAPPING,
    Plant,
    make_plant,
    series,
    write_file,
    write_mapping,
)
from warehouse.inbox import Ledger


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    return make_plant(tmp_path, {"clock": "data"})


def test_done_is_0_and_json_alone_stands_on_stdout(plant: Plant) -> None:
    file = write_file(plant.folder / "good.csv", series(0, 4))
    mapping = write_mapping(plant.folder)
    ended = mcw("ingest", file, "-m", mapping, "--home", plant.store.home, "--json", whole=True)
    assert ended.code == 0, ended.said
    (row,) = json.loads(ended.out)
    assert (row["file"], row["state"], row["accepted"]) == ("good.csv", "committed", 4)
    assert row["arrived_before"] is False


def test_usage_is_2(plant: Plant) -> None:
    ended = mcw("ingest", "a.csv", "--home", plant.store.home)
    assert ended.code == 2
    assert "--mapping" in ended.err
    assert ended.out == ""


def test_mapping_at_fault_is_3_and_lists_every_fault(plant: Plant) -> None:
    faulty = MAPPING.replace('"mm/s"', '"furlong"').replace('"UTC"', '"Mars/Olympus"')
    mapping = write_mapping(plant.folder, faulty.replace("[record]", "[record]\ncolour = 'red'"))
    file = write_file(plant.folder / "good.csv", series(0, 1))
    ended = mcw("ingest", file, "-m", mapping, "--home", plant.store.home)
    assert ended.code == 3
    assert "logger.toml" in ended.err
    assert "Mars/Olympus" in ended.err
    assert "colour" in ended.err
    with Ledger.open(plant.store.inbox) as ledger:
        assert ledger.packages() == []


def test_settings_at_fault_are_3(plant: Plant) -> None:
    (plant.store.home / "mcw.toml").write_text("threads = 0\ncolour = 1\n", encoding="utf-8")
    ended = mcw("config", "validate", "--home", plant.store.home)
    assert ended.code == 3
    assert "mcw.toml" in ended.err
    assert "threads" in ended.err
    assert "colour is no setting" in ended.err


def test_registry_at_fault_is_3(plant: Plant) -> None:
    folder = plant.folder / "more"
    folder.mkdir()
    (folder / "sites.csv").write_text("site,name,time_zone\nx,X,Mars\n", encoding="utf-8")
    ended = mcw("registry", "import", folder, "--home", plant.store.home)
    assert ended.code == 3
    assert "sites.csv line 2 column time_zone: 'Mars'" in ended.err


def test_missing_input_is_5(plant: Plant) -> None:
    mapping = write_mapping(plant.folder)
    ended = mcw("ingest", "nowhere.csv", "-m", mapping, "--home", plant.store.home)
    assert (ended.code, ended.out) == (5, "")
    assert "nowhere.csv" in ended.err


def test_a_missing_file_does_not_hold_up_the_others(plant: Plant) -> None:
    mapping = write_mapping(plant.folder)
    file = write_file(plant.folder / "good.csv", series(0, 4))
    words = ("ingest", "nowhere.csv", file, "-m", mapping, "--home", plant.store.home, "--json")
    ended = mcw(*words)
    assert ended.code == 5
    assert [row["state"] for row in json.loads(ended.out)] == ["committed"]
    assert "nowhere.csv" in ended.err


def _three_files(plant: Plant) -> list[Path]:
    broken = plant.folder / "broken.csv"
    broken.write_bytes(b"\x00\x01\x02")
    good = [write_file(plant.folder / f"{n}.csv", series(4 * n, 4)) for n in (1, 2)]
    return [good[0], broken, good[1]]


def test_one_of_several_that_cannot_be_used_is_4_and_the_others_are_taken_in(plant: Plant) -> None:
    words: list[str | Path] = ["-m", write_mapping(plant.folder), "--home", plant.store.home]
    files = _three_files(plant)
    ended = mcw("ingest", *files, *words, "--json")
    assert ended.code == 4
    states = {row["file"]: row["state"] for row in json.loads(ended.out)}
    assert states == {"1.csv": "committed", "broken.csv": "failed", "2.csv": "committed"}
    assert "broken.csv: it is binary" in ended.err
    assert mcw("ingest", *files, *words).code == 4, "as long as it fails"


def test_a_missing_file_is_5_before_4_and_both_are_said(plant: Plant) -> None:
    words: list[str | Path] = ["-m", write_mapping(plant.folder), "--home", plant.store.home]
    ended = mcw("ingest", *_three_files(plant), "nowhere.csv", *words)
    assert ended.code == 5
    assert "broken.csv: it is binary" in ended.err
    assert "nowhere.csv" in ended.err


def test_missing_mapping_is_5(plant: Plant) -> None:
    file = write_file(plant.folder / "good.csv", series(0, 1))
    ended = mcw("connect", "check", file, "-m", "nowhere.toml", "--home", plant.store.home)
    assert ended.code == 5
    assert "nowhere.toml" in ended.err


def test_no_store_is_6_and_says_how_to_make_one(tmp_path: Path) -> None:
    ended = mcw("worst", "--home", tmp_path / "nowhere")
    assert (ended.code, ended.out) == (6, "")
    assert "mcw init" in ended.err


def test_store_of_another_version_is_6(plant: Plant) -> None:
    identity = plant.store.home / "store.toml"
    text = identity.read_text(encoding="utf-8")
    identity.write_text(text.replace(f"format_version = {FORMAT_VERSION}", "format_version = 99"))
    ended = mcw("inbox", "--home", plant.store.home)
    assert ended.code == 6
    assert "99" in ended.err
