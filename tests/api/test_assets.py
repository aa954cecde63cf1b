"""The list of assets: envelope, order, paging, filters."""

from __future__ import annotations

import base64
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from schemas.codes import CRITICALITY, LEVEL
from warehouse.services.serving import State


def _pages(client: TestClient, url: str) -> list[dict[str, Any]]:
    pages = []
    following: str | None = url
    while following:
        response = client.get(following)
        assert response.status_code == 200, response.text
        page = response.json()
        assert response.links.get("next", {}).get("url") == page["next"]
        pages.append(page)
        following = page["next"]
    return pages


def _keys(pages: list[dict[str, Any]]) -> list[tuple[str, str]]:
    return [(item["site"], item["asset"]) for page in pages for item in page["items"]]


@pytest.mark.parametrize("limit", [1, 7, 44, 45, 46, 1000])
def test_pages_hold_every_registered_asset_once_and_in_order(
    client: TestClient, state: State, limit: int
) -> None:
    pages = _pages(client, f"/v1/assets?limit={limit}")
    assert _keys(pages) == sorted(state.assets)
    assert len(_keys(pages)) == 45
    assert all(len(page["items"]) == limit for page in pages[:-1])
    assert pages[-1]["items"]


def test_an_item_says_how_its_asset_stands(client: TestClient, state: State) -> None:
    (page,) = _pages(client, "/v1/assets")
    levels = {item["level"] for item in page["items"]}
    assert {"normal", "unknown"} < levels
    assert page["snapshot"]["seq"] == state.snapshot.seq
    assert page["snapshot"]["versions"] == state.snapshot.versions
    for item in page["items"]:
        link = item["links"]["condition"]
        if item["level"] is None:
            assert link is None
            continue
        condition = client.get(link).json()
        for name in ("site", "asset", "name", "level", "zone", "basis", "measured_at"):
            assert condition[name] == item[name]


def test_a_measuring_station_has_no_level_and_no_condition(client: TestClient) -> None:
    pages = _pages(client, "/v1/assets?site=raw-water")
    (station,) = (i for page in pages for i in page["items"] if i["asset"] == "ENV-190")
    assert station["level"] is None
    assert client.get("/v1/assets/raw-water/ENV-190/condition").status_code == 404


def test_every_filter_keeps_what_it_names_and_nothing_else(client: TestClient) -> None:
    everything = [i for page in _pages(client, "/v1/assets") for i in page["items"]]
    for name, codes in (("criticality", CRITICALITY), ("level", LEVEL)):
        for value in codes:
            found = _pages(client, f"/v1/assets?{name}={value}&limit=3")
            assert _keys(found) == [(i["site"], i["asset"]) for i in everything if i[name] == value]
    for name in ("site", "area"):
        for value in {i[name] for i in everything}:
            found = _pages(client, f"/v1/assets?{name}={value}&limit=3")
            assert 0 < len(_keys(found)) < len(everything)
            assert {i[name] for page in found for i in page["items"]} == {value}


def test_filters_join_and_repeated_values_add(client: TestClient) -> None:
    both = _pages(client, "/v1/assets?site=board-mill&criticality=A&criticality=B&limit=2")
    items = [i for page in both for i in page["items"]]
    assert {i["criticality"] for i in items} == {"A", "B"}
    assert {i["site"] for i in items} == {"board-mill"}
    assert _keys(_pages(client, "/v1/assets?site=nowhere")) == []


def _cursor(client: TestClient, url: str = "/v1/assets?limit=2") -> str:
    following: str = client.get(url).json()["next"]
    return parse_qs(urlsplit(following).query)["cursor"][0]


def _forged(cursor: str, at: int) -> str:
    """The cursor with one bit of another byte."""
    held = bytearray(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
    held[at % len(held)] ^= 1
    return base64.urlsafe_b64encode(bytes(held)).rstrip(b"=").decode()


@pytest.mark.parametrize("text", ["", "abc", "%%%", "e30", "é", "bnVsbA", "x" * 2000])
def test_a_malformed_cursor_is_refused(client: TestClient, text: str) -> None:
    response = client.get("/v1/assets", params={"cursor": text})
    assert response.status_code == 400
    assert response.json()["type"] == "/problems/cursor-invalid"


@given(at=st.integers(0, 2000))
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_a_cursor_that_was_changed_anywhere_is_refused(client: TestClient, at: int) -> None:
    cursor = _cursor(client)
    assert client.get("/v1/assets", params={"cursor": cursor}).status_code == 200
    response = client.get("/v1/assets", params={"cursor": _forged(cursor, at)})
    assert (response.status_code, response.json()["title"]) == (400, "Cursor invalid")


def test_a_cursor_of_another_list_is_refused(client: TestClient) -> None:
    cursor = _cursor(client)
    for path in ("/v1/conditions", "/v1/tables/series", "/v1/tables/assets"):
        assert client.get(path, params={"cursor": cursor}).status_code == 400


def test_a_cursor_holds_for_the_filters_it_was_given_for(client: TestClient) -> None:
    cursor = _cursor(client, "/v1/assets?limit=2&site=board-mill")
    again = {"cursor": cursor, "site": "board-mill"}
    assert client.get("/v1/assets", params=again).status_code == 200
    for other in ({}, {"site": "raw-water"}, {"site": "board-mill", "level": "normal"}):
        assert client.get("/v1/assets", params={"cursor": cursor, **other}).status_code == 400


def test_the_list_has_an_etag_of_its_own_for_each_question(client: TestClient) -> None:
    whole = client.get("/v1/assets")
    part = client.get("/v1/assets?limit=3")
    assert whole.headers["etag"] != part.headers["etag"]
    tag = {"If-None-Match": part.headers["etag"]}
    assert client.get("/v1/assets?limit=3", headers=tag).status_code == 304
    assert client.get("/v1/assets", headers=tag).status_code == 200
