"""Readers see published states only, each one whole."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from schemas.tables import PUBLISHED_WITH_SNAPSHOT
from tests.warehouse.services.small_plant import make_plant, series
from warehouse.query import open_published, run
from warehouse.services.ingest import judge_now
from warehouse.services.judging import published
from warehouse.store import create_store, open_store
from warehouse.store.snapshot import newest, publish

_NOW = dt.datetime(2025, 6, 1, tzinfo=dt.UTC)


def test_before_the_first_publishing_there_is_none(tmp_path: Path) -> None:
    assert newest(create_store(tmp_path / "store")) is None


def test_the_newest_state_is_the_last_published(tmp_path: Path) -> None:
    store = create_store(tmp_path / "store")
    for number in range(1, 4):
        assert publish(store, _NOW + dt.timedelta(days=number)).seq == number
    found = newest(open_store(store.home))
    assert found is not None
    assert (found.seq, found.as_of) == (3, _NOW + dt.timedelta(days=3))
    assert found.versions == {table.name: 0 for table in PUBLISHED_WITH_SNAPSHOT}


@pytest.mark.slow
def test_what_is_committed_after_publishing_is_not_seen(tmp_path: Path) -> None:
    plant = make_plant(tmp_path, {"clock": "data"})
    plant.ingest(series(0, 3))
    judge_now(plant.store)
    plant.ingest(series(3, 4))
    count = "SELECT count(*) AS n FROM readings"
    with open_published(plant.store, published(plant.store)) as session:
        assert run(session, count).to_pylist() == [{"n": 3}]
    assert plant.ask(count) == [{"n": 7}]
    judge_now(plant.store)
    with open_published(plant.store, published(plant.store)) as session:
        assert run(session, count).to_pylist() == [{"n": 7}]
