"""`mcw query`: answers, clear refusals, and an end to what takes too long."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest

from tests.warehouse.cli.running import mcw
from tests.warehouse.services.small_plant import Plant, make_plant, series

_ENDLESS = "SELECT sum(a.i * b.i) FROM range(10000000) a(i), range(10000000) b(i)"


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    settings = {"clock": "data", "query_seconds": 0.5}
    plant = make_plant(tmp_path_factory.mktemp("query"), settings)
    plant.ingest(series(0, 3))
    return plant


def test_an_answer_as_json(plant: Plant) -> None:
    statement = "SELECT asset, count(*) AS n FROM readings_current GROUP BY asset"
    ended = mcw("query", statement, "--home", plant.store.home, "--json")
    assert (ended.code, json.loads(ended.out)) == (0, [{"asset": "M-1", "n": 3}])


def test_an_answer_as_csv(plant: Plant, tmp_path: Path) -> None:
    target = tmp_path / "answer.csv"
    ended = mcw("query", "SELECT 1 AS a", "--csv", target, "--home", plant.store.home)
    assert ended.code == 0
    assert target.read_text(encoding="utf-8").split() == ['"a"', "1"]


@pytest.mark.parametrize(
    ("statement", "told"),
    [("SELEC 1", "syntax error"), ("SELECT colour FROM readings_current", "colour")],
)
def test_bad_sql_is_told(plant: Plant, statement: str, told: str) -> None:
    ended = mcw("query", statement, "--home", plant.store.home)
    assert (ended.code, ended.out) == (2, "")
    assert told in ended.err


def test_a_query_that_takes_too_long_is_stopped(plant: Plant) -> None:
    begun = time.monotonic()
    ended = mcw("query", _ENDLESS, "--home", plant.store.home)
    assert ended.code == 2
    assert "stopped after 0.5 s (setting query_seconds)" in ended.err
    assert time.monotonic() - begun < 60
