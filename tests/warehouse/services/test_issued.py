"""The record of what was told: on disk before it is told, once, whatever happens in between."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.services.deaths import dying_after
from tests.warehouse.services.small_plant import (
    Plant,
    copy_plant,
    make_plant,
    series,
    write_registry,
)
from warehouse.query import open_published, run
from warehouse.services.ingest import judge_now
from warehouse.services.judging import published
from warehouse.services.registry import import_registry

_STEPS = [("condition_log", "append"), ("issued", "append"), ("condition_current", "replace"),
          ("snapshots", "append")]  # fmt: skip


@pytest.fixture(name="judged", scope="module")
def _judged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A judged store: made once, copied from then on."""
    plant = make_plant(tmp_path_factory.mktemp("judged"), {"clock": "data"})
    plant.ingest(series(0, 30))
    judge_now(plant.store)
    return plant.store.home


@pytest.fixture(name="plant")
def _plant(judged: Path, tmp_path: Path) -> Plant:
    return copy_plant(judged, tmp_path)


def _ask(plant: Plant, statement: str) -> list[dict[str, Any]]:
    with open_published(plant.store, published(plant.store)) as session:
        rows: list[dict[str, Any]] = run(session, statement).to_pylist()
    return rows


def _issued(plant: Plant) -> list[dict[str, Any]]:
    return _ask(plant, "SELECT * FROM issued ORDER BY seq")


def _worse(plant: Plant) -> None:
    plant.ingest(series(40, 30, value=9.0))


def test_every_change_has_its_row_and_no_judging_without_news(plant: Plant) -> None:
    first = _issued(plant)
    judge_now(plant.store)
    assert _issued(plant) == first
    _worse(plant)
    judge_now(plant.store)
    log = _ask(plant, "SELECT seq, level_to, judged_at FROM condition_log ORDER BY seq")
    told = _issued(plant)
    assert [(row["change"], row["level"], row["as_of"]) for row in told] == [
        (row["seq"], row["level_to"], row["judged_at"]) for row in log
    ]
    assert {row["snapshot"] for row in told[len(first) :]} == {3}


@pytest.mark.parametrize(
    "killed",
    [
        *(pytest.param((step,), marks=pytest.mark.slow) for step in _STEPS),
        tuple(_STEPS[:3]),
    ],
    ids=str,
)
def test_a_death_between_steps_records_all_of_it_once(
    plant: Plant, killed: tuple[tuple[str, str], ...]
) -> None:
    first = _issued(plant)
    _worse(plant)
    for table, method in killed:
        with dying_after(table, method):
            judge_now(plant.store)
    judge_now(plant.store)
    told = _issued(plant)[len(first) :]
    places = [(row["scope"], row["asset"], row["position"], row["axis"]) for row in told]
    assert len(set(places)) == len(places) == 3
    assert [row["seq"] for row in told] == [len(first) + n for n in (1, 2, 3)]
    assert all(row["level"] == "danger" and row["change"] for row in told)


@pytest.mark.slow
def test_what_nobody_saw_is_followed_by_what_was_published(plant: Plant) -> None:
    first = _issued(plant)
    _worse(plant)
    with dying_after("issued"):
        judge_now(plant.store)
    plant.ingest(series(1500, 40, value=2.0))  # settled the next day, before it was published
    judge_now(plant.store)
    told = _issued(plant)[len(first) :]
    asset = [(row["level"], row["snapshot"]) for row in told if row["scope"] == "asset"]
    assert asset == [("danger", 2), (first[0]["level"], 2)]
    newest = _ask(plant, "SELECT * FROM issued_newest WHERE scope = 'asset' AND asset = 'M-1'")
    assert [(row["seq"], row["level"]) for row in newest] == [(told[3]["seq"], first[0]["level"])]


@pytest.mark.slow
def test_history_stays_when_the_registry_changes(plant: Plant, tmp_path: Path) -> None:
    first = _issued(plant)
    registry = write_registry(
        tmp_path / "again",
        assets="site,asset,name,service_state\nworks,M-1,Machine 1,in-service\n"
        "works,M-2,Machine 2,removed\n",
    )
    import_registry(plant.store, registry)
    judge_now(plant.store)
    told = _issued(plant)
    assert told[: len(first)] == first
    gone = {(row["event"], row["asset"]) for row in told[len(first) :]}
    assert gone == {("withdrawn", "M-2")}
    assert _ask(plant, "SELECT * FROM issued_newest WHERE asset = 'M-2' AND event = 'told'") == []
