"""A small store, judged once, and the application over it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from api.app import create_app
from ingest_examples import FILES, MAPPINGS, REGISTRY
from warehouse.inbox import Ledger
from warehouse.services.ingest import Arrival, commit_all, judge_now, receive
from warehouse.services.registry import import_registry
from warehouse.services.serving import State, load_state
from warehouse.store import Store, create_store, open_store
from warehouse.store.snapshot import newest

_TAKEN_IN = {
    "board-mill/mill-route/BM-R1_2025-11-11.xlsx": "mill-route-workbook.toml",
    "board-mill/mill-gateway/2025-11-08_week.ndjson": "mill-gateway.toml",
    "board-mill/mill-logger/2025-11-08.csv": "mill-logger.toml",
    "district-cooling/cooling-edge/edge1_2025-11-08.senml": "cooling-edge.toml",
}


@pytest.fixture(scope="session")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a judged store; `now` is its newest reading. Do not write to it: copy it."""
    home = tmp_path_factory.mktemp("api") / "store"
    store = create_store(home, {"clock": "data"})
    import_registry(store, REGISTRY)
    with Ledger.open(store.inbox) as ledger:
        receive(store, ledger, [Arrival(FILES / f, MAPPINGS / m) for f, m in _TAKEN_IN.items()])
        commit_all(store, ledger)
    judge_now(store)
    return home


@pytest.fixture(scope="session")
def store(home: Path) -> Store:
    return open_store(home)


@pytest.fixture(scope="session")
def state(store: Store) -> State:
    snapshot = newest(store)
    assert snapshot is not None
    return load_state(store, snapshot)


@pytest.fixture(scope="session")
def client(store: Store) -> Iterator[TestClient]:
    with TestClient(create_app(store, without_keys=True), base_url="http://localhost") as client:
        yield client
