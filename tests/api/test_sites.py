"""A key limited to one site never sees another's data, whatever it asks."""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from api.app import create_app
from schemas.tables import TABLES
from warehouse.access import SCOPES
from warehouse.query import limited
from warehouse.services.keys import Keyring, Wanted
from warehouse.services.relations import relations
from warehouse.sql import load_statements
from warehouse.store import open_store

_OWN, _SOURCE = "district-cooling", "cooling-edge"
_OTHERS = ("board-mill", "raw-water", "mill-", "raw-water-")
_LOGGER_OF_OTHERS = "LOG-"


@pytest.fixture(scope="module")
def clients(
    home: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[TestClient, TestClient]]:
    """One key of a single site, one of all."""
    target = tmp_path_factory.mktemp("sites") / "store"
    shutil.copytree(home, target)
    store = open_store(target, {"sql_endpoint": True, "key_rate": 0})
    ring = Keyring(store)
    own = ring.add(Wanted("own", tuple(SCOPES), (_OWN,), (_SOURCE,))).text
    every = ring.add(Wanted("every", tuple(SCOPES))).text
    with TestClient(create_app(store)) as client:
        second = TestClient(client.app)
        client.headers["Authorization"] = f"Bearer {own}"
        second.headers["Authorization"] = f"Bearer {every}"
        yield client, second


_TABLES = [
    "assets", "bad_actors", "condition_log", "devices", "readings_current", "registry", "rejects",
    "sensor_health", "series", "snapshots", "source_health", "superseded", "units",
    "worst_machines",
]  # fmt: skip
"""A few of all that may be asked for; `make prove-api` asks for every one."""
if os.environ.get("EVERY") == "1":
    _TABLES = sorted(relations())


def _paths(client: TestClient) -> list[str]:
    """Every GET of the description, its parameters filled with what is another's."""
    described = client.get("/openapi.json").json()["paths"]
    found = []
    for path, operations in described.items():
        if "get" in operations and path.startswith("/v1/"):
            found.append(path)
    return found


_NEEDED = {"/v1/outage-list": "?from=2025-11-24&to=2025-11-26"}
"""Parameters a path is not answered without."""


def _filled(path: str, every: TestClient, names: list[str]) -> list[str]:
    """A path with values of its own site and of the others."""
    packages = [one["number"] for one in every.get("/v1/packages").json()["items"]]
    mountings = every.get("/v1/commissioning?every=true").json()["items"][::40]
    filling = {
        "{site}": ["raw-water", "board-mill", _OWN],
        "{asset}": ["P-104", "G-232", "C-301"],
        "{number}": [str(number) for number in packages],
        "{source}": ["mill-gateway", "mill-route", _SOURCE],
        "{kind}": ["sites", "assets", "devices", "units", "mountings"],
        "{name}": names,
        "{case_id}": [str(one["case_id"]) for one in every.get("/v1/cases").json()["items"][:3]],
        "{route}": [one["route"] for one in every.get("/v1/routes").json()["items"]],
        "{device}": [one["device"] for one in mountings],
        "{channel}": [one["channel"] for one in mountings],
    }
    found = [path + _NEEDED.get(path, "")]
    for name, values in filling.items():
        found = [one.replace(name, value) for one in found for value in values]
    return list(dict.fromkeys(found))


def _told(content: bytes, media: str) -> str:
    """A body as text, Arrow streams too, without the questions that problems repeat."""
    if media.startswith("application/vnd.apache.arrow"):
        return str(pa.ipc.open_stream(content).read_all().to_pylist())
    return content.decode()


def _foreign(text: str, asked: str) -> list[str]:
    """Names of other sites in an answer; what the question itself said does not count."""
    return [
        name for name in (*_OTHERS, "Board mill", "Raw-water") if name in text and name not in asked
    ]


def test_every_get_tells_of_the_own_site_only(clients: tuple[TestClient, TestClient]) -> None:
    own, every = clients
    paths = _paths(own)
    assert len(paths) > 15
    seen = 0
    for path in paths:
        for url in _filled(path, every, _TABLES):
            answer = own.get(url)
            if url.startswith("/v1/subscriptions"):
                assert answer.status_code == 403, "they are for keys of all sites"
                continue
            assert answer.status_code in (200, 404, 400), (url, answer.text)
            if answer.headers["content-type"].endswith("sheet"):  # packed: its rows tell the same
                answer = own.get(f"{url}?format=json")
            text = _told(answer.content, answer.headers["content-type"])
            if url.startswith(("/v1/adapters", "/v1/tables/trust_checks")):
                continue
            assert _foreign(text, url) == [], url
            seen += answer.status_code == 200
    assert seen > 30


def test_the_other_key_does_see_it(clients: tuple[TestClient, TestClient]) -> None:
    """The markers looked for are there to be found."""
    _, every = clients
    for url in ("/v1/assets", "/v1/conditions", "/v1/sources", "/v1/registry/sites"):
        assert _foreign(every.get(url).text, "") != []


_FILTERS = st.fixed_dictionaries(
    {},
    optional={
        "site": st.lists(
            st.sampled_from(["raw-water", "board-mill", _OWN]), min_size=1, max_size=3
        ),
        "limit": st.integers(1, 50),
        "format": st.sampled_from(["json", "csv", "ndjson", "arrow"]),
        "level": st.sampled_from(["normal", "alert", "unknown"]),
        "criticality": st.sampled_from(["A", "B", "C"]),
        "scope": st.sampled_from(["asset", "member", "point"]),
        "source": st.sampled_from(["mill-gateway", _SOURCE]),
        "points": st.integers(4, 20),
        "after": st.integers(0, 500),
    },
)


@given(
    path=st.sampled_from(
        ["/v1/assets", "/v1/conditions", "/v1/meeting-sheet", "/v1/changes", "/v1/packages",
         "/v1/rejects", "/v1/tables/condition_log", "/v1/tables/worst_machines",
         "/v1/tables/assets", "/v1/tables/rejects"]
    ),
    asked=_FILTERS,
)  # fmt: skip
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_no_filter_opens_another_site(
    clients: tuple[TestClient, TestClient], path: str, asked: dict[str, Any]
) -> None:
    answer = clients[0].get(path, params=asked)
    assert answer.status_code in (200, 400, 422), answer.text
    text = _told(answer.content, answer.headers["content-type"])
    assert _foreign(text, str(answer.url) + json.dumps(asked)) == []


@pytest.mark.parametrize("form", ["json", "csv", "ndjson", "arrow"])
def test_exports_of_readings_hold_the_own_site_only(
    clients: tuple[TestClient, TestClient], form: str
) -> None:
    own, every = clients
    url = f"/v1/readings?format={form}&column=site&column=device&limit=1000"
    text = _told(own.get(url).content, "" if form != "arrow" else "application/vnd.apache.arrow")
    assert _OWN in text
    assert _foreign(text, url) == []
    other = every.get(url)
    whole = _told(other.content, other.headers["content-type"])
    assert "board-mill" in whole


def test_a_cursor_of_another_key_is_refused(clients: tuple[TestClient, TestClient]) -> None:
    own, every = clients
    for path in ("/v1/assets?limit=2", "/v1/conditions?limit=2", "/v1/tables/assets?limit=2"):
        url = every.get(path).json()["next"]
        assert every.get(url).status_code == 200
        answer = own.get(url)
        assert (answer.status_code, answer.json()["type"]) == (400, "/problems/cursor-invalid")


def test_lists_for_meetings_count_the_own_site_only(
    clients: tuple[TestClient, TestClient],
) -> None:
    own, every = clients
    names = {"items", "open_cases", "silent_machines", "machines", "without_outage"}
    for url in ("/v1/meeting-sheet?limit=1000", f"/v1/outage-list{_NEEDED['/v1/outage-list']}"):
        seen, asked = own.get(url).json(), every.get(f"{url}&site={_OWN}").json()
        assert {n: v for n, v in seen.items() if n in names} == {
            n: v for n, v in asked.items() if n in names
        }
        assert "items" in seen
        assert own.get(f"{url}&site=board-mill").json()["items"] == []
    assert (
        every.get("/v1/meeting-sheet").json()["machines"]
        > own.get("/v1/meeting-sheet").json()["machines"]
    )


def test_a_copy_of_another_key_is_not_confirmed(clients: tuple[TestClient, TestClient]) -> None:
    own, every = clients
    for path in (
        "/v1/assets", "/v1/conditions", "/v1/registry/assets", "/v1/tables/assets",
        "/v1/meeting-sheet",
    ):  # fmt: skip
        tag = every.get(path).headers["etag"]
        assert own.get(path, headers={"If-None-Match": tag}).status_code == 200


def test_lookups_find_the_own_site_only(clients: tuple[TestClient, TestClient]) -> None:
    own, every = clients
    theirs = every.get("/v1/assets?site=board-mill").json()["items"][0]
    asked = {
        "assets": [{"site": "board-mill", "asset": theirs["asset"]}],
        "external_ids": [theirs["external_id"]],
    }
    assert len(every.post("/v1/conditions/lookup", json=asked).json()["items"]) == 1
    found = own.post("/v1/conditions/lookup", json=asked).json()
    assert found["items"] == []
    assert found["missing_external_ids"] == [theirs["external_id"]]


def test_sql_sees_the_own_site_only(clients: tuple[TestClient, TestClient]) -> None:
    statement = (
        "SELECT site FROM readings UNION SELECT site FROM condition_current "
        "UNION SELECT site FROM condition_log UNION SELECT site FROM assets "
        "UNION SELECT site FROM worst_machines UNION SELECT source FROM rejects "
        "UNION SELECT body FROM registry"
    )
    rows = [one.post("/v1/query", json={"statement": statement}).json()["items"] for one in clients]
    assert rows[0] == [{"site": _OWN}]
    assert len(rows[1]) > 3


@pytest.mark.parametrize(
    ("method", "path", "more"),
    [
        (
            "PATCH",
            "/v1/registry",
            {"json": {"assets": []}, "headers": {"If-Match": '"registry-1"'}},
        ),
        ("PUT", "/v1/mappings/cooling-edge", {"content": b"", "headers": {"If-None-Match": "*"}}),
        ("POST", "/v1/mapping-trials", {"json": {"mapping": "x", "content": "y"}}),
        ("POST", "/v1/subscriptions", {"json": {"name": "x", "url": "https://x.example"}}),
    ],
)
def test_what_may_move_the_readings_of_others_needs_a_key_of_all_sites(
    clients: tuple[TestClient, TestClient], method: str, path: str, more: dict[str, Any]
) -> None:
    assert clients[0].request(method, path, **more).status_code == 403
    assert clients[1].request(method, path, **more).status_code != 403


def test_packages_of_sources_not_named_are_not_taken(
    clients: tuple[TestClient, TestClient],
) -> None:
    headers = {"Idempotency-Key": "one"}
    refused = clients[0].post("/v1/ingest?source=mill-gateway", content=b"{}", headers=headers)
    assert refused.status_code == 404
    taken = clients[0].post(f"/v1/ingest?source={_SOURCE}", content=b"[]", headers=headers)
    assert taken.status_code == 202
    numbers = [one["number"] for one in clients[1].get("/v1/packages").json()["items"]]
    answer = clients[0].post("/v1/replays", json={"packages": numbers})
    assert answer.status_code == 404


def test_every_table_says_what_a_limited_caller_sees_of_it() -> None:
    provided = load_statements(limited.__package__ or "", "limited").keys() - {"by_site"}
    assert provided == {name for name, one in TABLES.items() if "site" not in one.column_names}


def test_times_without_an_offset_are_refused(clients: tuple[TestClient, TestClient]) -> None:
    now = dt.datetime(2025, 11, 1).isoformat()
    assert clients[1].get("/v1/readings", params={"from": now}).status_code == 422
