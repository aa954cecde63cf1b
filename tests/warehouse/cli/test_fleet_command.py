"""`mcw fleet`: views listed and shown, exported, and asked for wrongly."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
import python_calamine
from typer.testing import CliRunner, Result

from tests.warehouse.services.small_plant import Plant, make_plant, series
from warehouse.cli import complete_app
from warehouse.cli.fleet_words import NOTES, SHOWN
from warehouse.errors import NotFoundError
from warehouse.services.fleet_views import FLEET


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    plant = make_plant(tmp_path_factory.mktemp("fleet"), {"clock": "data"})
    plant.ingest(series(0, 30))
    return plant


def _fleet(plant: Plant, *words: object) -> Result:
    told = [str(word) for word in words]
    return CliRunner().invoke(
        complete_app(), ["fleet", *told, "--home", str(plant.store.home)], catch_exceptions=False
    )


def _json(plant: Plant, *words: object) -> Any:
    ended = _fleet(plant, *words, "--json")
    assert ended.exit_code == 0, ended.stderr
    return json.loads(ended.stdout)


def test_every_view_is_listed_with_its_purpose(plant: Plant) -> None:
    listed = _json(plant)
    assert [row["view"] for row in listed] == list(FLEET)
    assert all(row["purpose"] for row in listed)
    assert set(SHOWN) == set(NOTES) == set(FLEET)


@pytest.mark.parametrize("view", FLEET)
def test_every_view_is_shown(plant: Plant, view: str) -> None:
    ended = _fleet(plant, view)
    assert ended.exit_code == 0, ended.stderr
    assert ended.stdout.startswith(f"{view}: ")
    assert "not a safety function" in ended.stdout
    assert NOTES[view][0] in ended.stdout


def test_a_ranking_says_how_many_it_ranks(plant: Plant) -> None:
    assert _fleet(plant, "bad_actors").stdout.startswith("bad_actors: 2 rows, 0 ranked, ")


def test_an_export_has_every_column(plant: Plant, tmp_path: Path) -> None:
    answer = _json(plant, "bad_actors", "--csv", tmp_path / "a.csv", "--out", tmp_path / "a.xlsx")
    names = list(answer["rows"][0])
    assert len(names) > len(SHOWN["bad_actors"])
    with (tmp_path / "a.csv").open(encoding="utf-8") as file:
        assert [row["asset"] for row in csv.DictReader(file)] == [
            row["asset"] for row in answer["rows"]
        ]
    book = python_calamine.load_workbook(str(tmp_path / "a.xlsx"))
    lines = book.get_sheet_by_name("bad_actors").to_python()
    assert lines[0] == names
    assert len(lines) == 1 + len(answer["rows"])
    assert "not a safety function" in str(book.get_sheet_by_name("Notes").to_python()[-1])


def test_machines_and_window_are_chosen(plant: Plant) -> None:
    every = _json(plant, "bad_actors")
    assert {row["asset"] for row in every["rows"]} == {"M-1", "M-2"}
    assert _json(plant, "bad_actors", "--class", "reciprocating-pump")["rows"] == []
    window = _json(plant, "bad_actors", "--from", "2025-05-01", "--to", "2025-05-02T12:00:00+02:00")
    assert (window["window_from"], window["window_to"]) == (
        "2025-05-01T00:00:00Z", "2025-05-02T10:00:00Z",
    )  # fmt: skip
    assert {row["seen_hours"] for row in window["rows"]} == {0}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["worst"], "there are: bad_actors"),
        (["bad_actors", "--class", "elephant"], "is not one of electric-motor"),
        (["bad_actors", "--criticality", "D"], "is not one of A, B, C"),
        (["bad_actors", "--from", "yesterday"], "no day, such as 2025-11-13"),
        (["bad_actors", "--from", "2025-11-13T10:00"], "no time with its zone"),
        (["bad_actors", "--from", "2025-11-13", "--to", "2025-11-13"], "is not before"),
        (["fleet_coverage", "--to", "2025-11-13"], "has no window"),
        (["bad_actors", "--out", "a.csv"], "its name must end with .xlsx"),
    ],
)
def test_what_cannot_be_is_told(plant: Plant, words: list[str], said: str) -> None:
    ended = _fleet(plant, *words)
    assert ended.exit_code == 2
    assert said in " ".join(ended.stderr.replace("│", " ").split())


def test_an_unknown_site_is_told(plant: Plant) -> None:
    with pytest.raises(NotFoundError, match="elsewhere"):
        _fleet(plant, "bad_actors", "--site", "elsewhere")
