"""`mcw trust`: what it lists, and what it says where there is nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.warehouse.cli.running import mcw
from tests.warehouse.services.small_plant import Plant, make_plant, series


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    """Channel 2 of the logger breaks off half an hour before channel 1."""
    plant = make_plant(tmp_path_factory.mktemp("trust"), {"clock": "data"})
    plant.ingest([*series(0, 40), *series(0, 10, "2")])
    return plant


def test_findings_are_listed_with_evidence_and_remedy(plant: Plant) -> None:
    ended = mcw("trust", "--home", plant.store.home)
    assert ended.code == 0
    for words in ("silent", "works/M-1", "motor-de vertical velocity", "L1 2", "2025-06-01 00:09",
                  "Find out why nothing comes", "1 finding, none of distrust"):  # fmt: skip
        assert words in ended.said


def test_json_has_the_whole_finding(plant: Plant) -> None:
    ended = mcw("trust", "--home", plant.store.home, "--json", "--site", "works")
    said = json.loads(ended.out)
    assert said["as_of"] == "2025-06-01T00:39:00Z"
    (row,) = said["findings"]
    assert (row["check_code"], row["effect"], row["channel"]) == ("silent", "note", "2")
    assert (row["since"], row["until"]) == ("2025-06-01T00:09:00Z", None)


def test_a_check_may_be_chosen(plant: Plant) -> None:
    assert "No finding" in mcw("trust", "--home", plant.store.home, "--check", "battery").said


@pytest.mark.parametrize(
    ("option", "word", "told"),
    [
        ("--check", "batteries", "is not one of silent, battery,"),
        ("--site", "wroks", "no site 'wroks' is registered here"),
    ],
)
def test_a_misspelt_choice_is_no_empty_list(
    plant: Plant, option: str, word: str, told: str, tmp_path: Path
) -> None:
    ended = mcw("trust", "--home", plant.store.home, option, word, cwd=tmp_path)
    assert ended.code == 2
    assert told in ended.said
