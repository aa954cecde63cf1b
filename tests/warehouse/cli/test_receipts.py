"""What is said of files that had arrived before, of withdrawing twice, of bringing back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.warehouse.cli.running import Ended, mcw
from tests.warehouse.services.small_plant import (
    Plant,
    Reading,
    make_plant,
    series,
    write_file,
    write_mapping,
)
from warehouse.inbox import Ledger, Package
from warehouse.services.ingest import receive


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    return make_plant(tmp_path, {"clock": "data"})


def _ingest(plant: Plant, *files: str, json: bool = False) -> Ended:
    paths = [plant.folder / name for name in files]
    words: list[str | Path] = ["-m", write_mapping(plant.folder), "--home", plant.store.home]
    return mcw("ingest", *paths, *words, *(["--json"] if json else []))


def _packages(plant: Plant) -> list[Package]:
    with Ledger.open(plant.store.inbox) as ledger:
        return ledger.packages()


def _first(plant: Plant, readings: list[Reading]) -> Package:
    """A package taken in from `first.csv`; `again.csv` holds the same."""
    for name in ("first.csv", "again.csv"):
        write_file(plant.folder / name, readings)
    _ingest(plant, "first.csv")
    (package,) = _packages(plant)
    return package


def test_a_duplicate_is_said_to_be_one_without_its_old_counts(plant: Plant) -> None:
    package = _first(plant, series(0, 4))
    ended = _ingest(plant, "again.csv")
    assert ended.code == 0
    assert ended.out == (
        f"again.csv: duplicate of package {package.number}, received "
        f"{package.received_at:%Y-%m-%d %H:%M:%S} UTC under the name first.csv; "
        "nothing was taken in again.\n"
    )


def test_json_says_that_it_arrived_before_and_under_what_name(plant: Plant) -> None:
    _first(plant, series(0, 4))
    (row,) = json.loads(_ingest(plant, "again.csv", json=True).out)
    assert (row["arrived_before"], row["arrived_as"], row["file"]) == (
        True,
        "again.csv",
        "first.csv",
    )


def test_the_same_file_twice_at_once_is_taken_in_once(plant: Plant) -> None:
    for name in ("one.csv", "two.csv"):
        write_file(plant.folder / name, series(0, 4))
    write_file(plant.folder / "other.csv", series(9, 2))
    ended = _ingest(plant, "one.csv", "two.csv", "other.csv")
    assert "two.csv: duplicate of package" in ended.out
    assert "one.csv: duplicate" not in ended.out
    assert "other.csv" in ended.out
    again = json.loads(_ingest(plant, "one.csv", "two.csv", json=True).out)
    assert [row["arrived_before"] for row in again] == [True, True]


def test_a_duplicate_of_one_that_still_waited_is_taken_in_with_it(plant: Plant) -> None:
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [plant.arrive("first.csv", series(0, 4))])
    write_file(plant.folder / "again.csv", series(0, 4))
    ended = _ingest(plant, "again.csv")
    assert "under the name first.csv, which waited still and was taken in now." in ended.out
    assert "committed" in ended.out


@pytest.mark.slow
def test_a_duplicate_of_a_retracted_package_says_how_to_bring_it_back(plant: Plant) -> None:
    package = _first(plant, series(0, 4))
    home = ("--home", plant.store.home)
    mcw("retract", str(package.number), "--yes", *home)
    ended = _ingest(plant, "again.csv")
    command = f"retract {package.number} --undo --yes"
    assert f"That package is retracted, so its readings do not count; `mcw {command}`" in ended.said
    assert mcw(*command.split(), *home).code == 0
    assert len(plant.current()) == 4


def test_a_duplicate_with_refused_items_names_the_replay(plant: Plant) -> None:
    package = _first(plant, [*series(0, 2), ("L9", "1", "2025-06-01T00:00", "1.00")])
    ended = _ingest(plant, "again.csv")
    assert f"Refused of it: 1 item; `mcw replay {package.number}` tries again." in ended.out


def test_a_duplicate_of_a_failed_package_failed(plant: Plant) -> None:
    for name in ("first.csv", "again.csv"):
        (plant.folder / name).write_text("a,b\n1,2\n", encoding="utf-8")
    _ingest(plant, "first.csv")
    ended = _ingest(plant, "again.csv")
    assert ended.code == 4
    assert "nothing was taken in again. That package failed." in ended.out
    assert "lacks the column" in ended.err


@pytest.mark.slow
def test_withdrawing_twice_is_said_and_so_is_the_way_back(plant: Plant) -> None:
    package = _first(plant, series(0, 4))
    number, home = str(package.number), ("--home", plant.store.home)
    done = mcw("retract", number, "--yes", *home)
    assert f"Package {number} is retracted: 4 readings; 4 stop counting. `mcw" in done.said
    with Ledger.open(plant.store.inbox) as ledger:
        since = ledger.life(package)[-1].at
    for words in ([number], [number, "--yes"]):
        again = mcw("retract", *words, *home)
        assert again.code == 0
        assert again.out == (
            f"Package {number} is retracted already since {since:%Y-%m-%d %H:%M:%S} UTC; nothing "
            f"changes. `mcw retract {number} --undo --yes` brings it back.\n"
        )
    said = json.loads(mcw("retract", number, "--json", *home).out)
    assert (said["already"], said["package"]) == (True, package.number)
    back = mcw("retract", number, "--undo", "--yes", *home)
    assert f"Package {number} is brought back: 4 readings; 4 count again." in back.said


@pytest.mark.slow
def test_a_life_says_that_a_package_was_brought_back(plant: Plant) -> None:
    package = _first(plant, series(0, 4))
    number, home = str(package.number), ("--home", plant.store.home)
    mcw("retract", number, "--yes", *home)
    _ingest(plant, "again.csv")
    assert "brought back" not in mcw("inbox", number, *home).said
    mcw("retract", number, "--yes", "--undo", *home)
    assert mcw("inbox", number, *home).said.count("committed, brought back") == 1
    life = json.loads(mcw("inbox", number, "--json", *home).out)["life"]
    assert [(moment["state"], moment.get("note")) for moment in life] == [
        ("received", None),
        ("committed", None),
        ("retracted", None),
        ("duplicate", None),
        ("committed", "brought back"),
    ]
