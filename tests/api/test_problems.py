"""Errors: one table, one shape, nothing told that is nobody's business."""

from __future__ import annotations

import inspect
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from api import refusals
from api.app import create_app
from api.models import Problem
from api.problems import KINDS, TABLE, kind_of
from api.refusals import CursorError
from warehouse import errors
from warehouse.store import Store, create_store

_CLASSES = [
    found
    for _, found in inspect.getmembers(errors, inspect.isclass)
    if issubclass(found, errors.WarehouseError)
]


@pytest.mark.parametrize("error", _CLASSES, ids=lambda error: error.__name__)
def test_every_deliberate_error_stands_in_the_table(error: type[Exception]) -> None:
    assert error in TABLE


def test_the_table_names_no_error_but_those_and_its_own() -> None:
    own = {error for error in TABLE if error.__module__ == "api.refusals"}
    assert own == {e for _, e in inspect.getmembers(refusals, inspect.isclass)}
    assert {error for error in TABLE if error.__module__ == "warehouse.errors"} == set(_CLASSES)


def test_a_class_not_listed_takes_the_type_of_its_nearest_base() -> None:
    class SpecialError(errors.NotFoundError):
        pass

    assert kind_of(SpecialError).slug == "not-found"
    assert kind_of(ZeroDivisionError).slug == "internal-error"


def _check(response: Any, status: int, slug: str) -> Problem:
    assert response.status_code == status
    assert response.headers["content-type"] == "application/problem+json"
    found = Problem.model_validate_json(response.content)
    kind = KINDS[slug]
    assert (found.type, found.title, found.status) == (f"/problems/{slug}", kind.title, status)
    assert found.instance == response.headers["x-request-id"]
    return found


@pytest.mark.parametrize(
    ("method", "path", "status", "slug"),
    [
        ("GET", "/", 404, "route-not-found"),
        ("GET", "/v1/nothing", 404, "route-not-found"),
        ("GET", "/v1/assets/", 404, "route-not-found"),
        ("GET", "/docs/assets/nothing.js", 404, "route-not-found"),
        ("GET", "/docs/assets/../../../pyproject.toml", 404, "route-not-found"),
        ("POST", "/v1/assets", 405, "method-not-allowed"),
        ("DELETE", "/livez", 405, "method-not-allowed"),
        ("GET", "/v1/assets/x/y/condition", 404, "not-found"),
        ("GET", "/problems/nothing", 404, "not-found"),
        ("GET", "/v1/assets?limit=0", 422, "invalid-request"),
        ("GET", "/v1/assets?limit=1001", 422, "invalid-request"),
        ("GET", "/v1/assets?limit=many", 422, "invalid-request"),
        ("GET", "/v1/assets?level=green", 422, "invalid-request"),
        ("GET", "/v1/assets?sites=raw-water", 422, "invalid-request"),
        ("GET", "/v1/assets?cursor=x", 400, "cursor-invalid"),
    ],
)
def test_whatever_is_wrong_is_a_problem(
    client: TestClient, method: str, path: str, status: int, slug: str
) -> None:
    _check(client.request(method, path), status, slug)


def test_every_fault_of_a_request_is_listed_with_its_place(client: TestClient) -> None:
    response = client.get("/v1/assets?limit=0&level=normal&level=green&sites=x")
    faults = _check(response, 422, "invalid-request").errors
    assert faults is not None
    assert {(fault.pointer, fault.code) for fault in faults} == {
        ("/query/limit", "greater_than_equal"),
        ("/query/level/1", "literal_error"),
        ("/query/sites", "extra_forbidden"),
    }


def test_405_says_what_is_allowed(client: TestClient) -> None:
    response = client.put("/v1/assets")
    assert response.headers["allow"] == "GET"
    assert "allowed: GET" in response.json()["detail"]


def test_a_body_without_its_content_type_is_told_so(client: TestClient) -> None:
    response = client.post("/v1/conditions/lookup", content=b'{"assets": []}')
    problem = _check(response, 422, "invalid-request")
    assert "send Content-Type: application/json" in problem.detail


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/v1/conditions", 200),
        ("/v1/assets/x/y/condition", 404),
        ("/v1/ingest", 405),
        ("/livez", 200),
    ],
)
def test_head_is_get_without_a_body(client: TestClient, path: str, status: int) -> None:
    head, get = client.head(path), client.get(path)
    assert (head.status_code, get.status_code, head.content) == (status, status, b"")
    if "content-length" in get.headers and status == 200:
        assert head.headers["content-length"] == get.headers["content-length"]
    assert head.headers.get("etag") == get.headers.get("etag")


@pytest.fixture(scope="module")
def faulty(store: Store) -> Iterator[TestClient]:
    """The real application with routes that fail."""
    app: FastAPI = create_app(store, without_keys=True)

    @app.get("/fails/{how}", include_in_schema=False)
    async def fails(how: str) -> None:
        raised: dict[str, Exception] = {
            "bug": ZeroDivisionError("secret-text"),
            "store": errors.StoreMissingError(Path("/secret-text"), "there is none", "make one"),
            "cursor": CursorError("told"),
            "query": errors.QueryError("told"),
            "missing": errors.NotFoundError("package", "told"),
            "registry": errors.RegistryError(["told"]),
        }
        raise raised[how]

    with TestClient(app, base_url="http://localhost") as client:
        yield client


@pytest.mark.parametrize(
    ("how", "status", "slug"),
    [
        ("bug", 500, "internal-error"),
        ("counts", 500, "internal-error"),
        ("store", 503, "store-unavailable"),
    ],
)
def test_from_500_on_nothing_of_the_inside_is_told_but_logged(
    faulty: TestClient, caplog: pytest.LogCaptureFixture, how: str, status: int, slug: str
) -> None:
    with caplog.at_level(logging.ERROR):
        response = faulty.get(f"/fails/{how}", headers={"X-Request-Id": "id-of-mine"})
    found = _check(response, status, slug)
    assert found.detail == KINDS[slug].meaning
    assert "secret-text" not in response.text
    assert "id-of-mine" in caplog.text
    assert response.headers["x-content-type-options"] == "nosniff"
    assert ("retry-after" in response.headers) == (status == 503)


@pytest.mark.parametrize(
    ("how", "status", "slug"),
    [
        ("cursor", 400, "cursor-invalid"),
        ("query", 400, "query-refused"),
        ("missing", 404, "not-found"),
        ("registry", 422, "faulty-file"),
    ],
)
def test_below_500_the_message_is_told(
    faulty: TestClient, how: str, status: int, slug: str
) -> None:
    assert "told" in _check(faulty.get(f"/fails/{how}"), status, slug).detail


def test_every_problem_type_is_a_page_and_listed(client: TestClient) -> None:
    listed = client.get("/problems").json()["items"]
    assert [item["type"] for item in listed] == sorted(kind.type for kind in KINDS.values())
    for item in listed:
        assert client.get(item["type"]).json() == item


def test_before_the_first_judging_it_is_alive_but_not_ready(tmp_path: Path) -> None:
    with TestClient(
        create_app(create_store(tmp_path / "store"), without_keys=True), base_url="http://localhost"
    ) as client:
        assert client.get("/livez").json() == {"status": "alive"}
        for path in ("/readyz", "/v1/assets", "/v1/assets/a/b/condition"):
            found = _check(client.get(path), 503, "not-ready")
            assert "published" in found.detail


def test_with_a_published_state_it_is_ready(client: TestClient) -> None:
    assert client.get("/readyz").json() == {
        "status": "ready", "snapshot": 1, "judging": "possible",
    }  # fmt: skip


@pytest.mark.parametrize("path", ["/v1/assets", "/nothing", "/docs", "/livez"])
def test_every_answer_has_the_security_headers_and_an_id(client: TestClient, path: str) -> None:
    first, second = client.get(path), client.get(path)
    assert first.headers["x-request-id"] != second.headers["x-request-id"]
    assert first.headers["content-security-policy"].startswith("default-src 'self';")
    assert "script-src" not in first.headers["content-security-policy"]
    assert first.headers["referrer-policy"] == "no-referrer"
    assert first.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    ("sent", "kept"), [("a.B-9_c", True), ("x" * 100, True), ("x" * 101, False), ("a b", False)]
)
def test_a_request_may_bring_its_own_id(client: TestClient, sent: str, kept: bool) -> None:
    got = client.get("/livez", headers={"X-Request-Id": sent}).headers["x-request-id"]
    assert (got == sent) == kept
