"""The SQL endpoint against whoever tries to get out of it."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
import pytest
from starlette.testclient import TestClient

from api.app import create_app
from tests.api.escapes import ESCAPES, HOGS, filled
from warehouse.store import Store, open_store


@pytest.fixture(scope="module")
def own(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    target = tmp_path_factory.mktemp("sql") / "store"
    shutil.copytree(home, target)
    return open_store(target, {"sql_endpoint": True, "query_seconds": 3.0, "sql_rows": 50})


@pytest.fixture(scope="module")
def client(own: Store) -> Iterator[TestClient]:
    with TestClient(create_app(own, without_keys=True), base_url="http://localhost") as client:
        yield client


def test_it_is_off_unless_switched_on(home: Path) -> None:
    with TestClient(
        create_app(open_store(home), without_keys=True), base_url="http://localhost"
    ) as client:
        answer = client.post("/v1/query", json={"statement": "SELECT 1"})
    assert (answer.status_code, answer.json()["type"]) == (403, "/problems/not-allowed")


def test_a_select_is_answered_in_every_form(client: TestClient) -> None:
    asked = {"statement": "SELECT level, count(*) AS n FROM asset_conditions GROUP BY 1"}
    answer = client.post("/v1/query", json=asked)
    body = answer.json()
    assert body["truncated"] is False
    assert [one["name"] for one in body["columns"]] == ["level", "n"]
    arrow = client.post("/v1/query?format=arrow", json=asked)
    rows = pa.ipc.open_stream(arrow.content).read_all().to_pylist()
    assert sorted(map(str, rows)) == sorted(map(str, body["items"]))


def test_rows_are_bounded_and_say_so(client: TestClient) -> None:
    asked = {"statement": "SELECT * FROM range(1000)", "limit": 1000}
    answer = client.post("/v1/query", json=asked)
    assert (len(answer.json()["items"]), answer.json()["truncated"]) == (50, True)
    assert answer.headers["truncated"] == "true"


_EVERY = os.environ.get("EVERY") == "1"
_TRIED = ESCAPES if _EVERY else ESCAPES[::4]


def _digests(store: Store) -> dict[str, str]:
    files = [file for file in store.home.rglob("*") if file.is_file() and "doors" not in file.parts]
    return {
        str(file): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in files
        if file.suffix in (".parquet", ".json", ".toml")
    }


@pytest.mark.parametrize("escape", _TRIED)
def test_nobody_gets_out(client: TestClient, own: Store, escape: str) -> None:
    statement = filled(escape, own.home)
    before = _digests(own)
    answer = client.post("/v1/query", json={"statement": statement})
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["type"] in ("/problems/query-refused", "/problems/invalid-request")
    assert _digests(own) == before
    assert not (own.home / "out").exists()


@pytest.mark.slow
@pytest.mark.parametrize("hog", HOGS if _EVERY else HOGS[1::2])
def test_hogs_are_ended_and_the_server_lives(client: TestClient, hog: str) -> None:
    answer = client.post("/v1/query", json={"statement": hog})
    assert (answer.status_code, answer.json()["type"]) == (400, "/problems/query-refused")
    assert client.get("/readyz").status_code == 200
