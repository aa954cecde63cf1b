"""The condition of one asset: whole evidence, validators, silence over HTTP."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.app import create_app
from api.documents import asset_condition
from schemas.tables.conditions import CONDITION_CURRENT
from warehouse.services.serving import Judgement, Serving, State
from warehouse.store import Store

_URL = "/v1/assets/board-mill/G-232/condition"


def test_it_is_the_judged_row_with_all_rows_below_it(client: TestClient, state: State) -> None:
    judgement = state.judgement(("board-mill", "G-232"), state.snapshot.as_of)
    assert judgement is not None
    body = client.get(_URL).json()
    assert body["asset"] == "G-232"
    assert body["level"] == judgement.asset["level"]
    assert body["evidence"]["value"] == judgement.asset["value"]
    assert body["coverage"]["judgeable_points"] == judgement.asset["judgeable_points"]
    assert len(body["members"]) == len(judgement.members) > 1
    assert len(body["points"]) == len(judgement.points) > 1
    places = [(p["member"], p["position"], p["axis"]) for p in body["points"]]
    assert len(set(places)) == len(places)
    assert (body["evidence"]["member"], body["evidence"]["position"]) in {p[:2] for p in places}
    assert body["as_of"] == body["snapshot"]["as_of"]


def _leaves(value: Any) -> set[Any]:
    if isinstance(value, dict):
        return {leaf for part in value.values() for leaf in _leaves(part)}
    if isinstance(value, list):
        return {leaf for part in value for leaf in _leaves(part)}
    return {value}


def test_no_column_of_the_evidence_is_left_out(state: State) -> None:
    key = ("board-mill", "G-232")
    judgement = state.judgement(key, state.snapshot.as_of)
    assert judgement is not None
    closed = {"scope", "member", "axis", "position", "site", "asset"}
    for number, column in enumerate(CONDITION_CURRENT.columns):
        if column.name in closed:
            continue
        marks: dict[str, Any] = {
            "string": f"mark-{number}",
            "float64": 1e6 + number,
            "int32": 1_000_000 + number,
            "timestamp": dt.datetime(2001, 1, 1, tzinfo=dt.UTC) + dt.timedelta(days=number),
            "date": dt.date(1901, 1, 1) + dt.timedelta(days=number),
            "bool": not judgement.asset[column.name],
        }
        mark = marks[column.type]
        if column.name in ("level", "last_level", "zone", "coverage", "trend_state"):
            known = {"zone": "D", "coverage": "none", "trend_state": "falling"}
            mark = known.get(column.name, "watch")
        rows = replace(judgement, asset={**judgement.asset, column.name: mark})
        before = asset_condition(state.assets[key], judgement, state.snapshot).model_dump()
        after = asset_condition(state.assets[key], rows, state.snapshot).model_dump()
        assert after != before or mark == judgement.asset[column.name], column.name
        assert mark in _leaves(after), column.name


def test_an_asset_nobody_registered_is_not_found(client: TestClient) -> None:
    response = client.get("/v1/assets/board-mill/G-999/condition")
    assert response.status_code == 404
    assert response.json()["detail"] == "no asset 'board-mill/G-999' is registered here"


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ("{tag}", 304),
        ("{quoted}", 304),
        ("*", 304),
        ('"other", {tag}', 304),
        ('W/"a,b",  {tag} , "c"', 304),
        ('"other"', 200),
        ('"{tag}"', 200),
        ("{bare}", 200),
        ("", 200),
    ],
)
def test_if_none_match_is_read_as_the_standard_says(
    client: TestClient, sent: str, status: int
) -> None:
    first = client.get(_URL)
    tag = first.headers["etag"]
    assert tag.startswith('W/"')
    assert tag.endswith('"')
    quoted = tag.removeprefix("W/")
    header = sent.replace("{tag}", tag).replace("{bare}", quoted.strip('"'))
    header = header.replace("{quoted}", quoted)
    response = client.get(_URL, headers={"If-None-Match": header})
    assert response.status_code == status
    for name in ("etag", "cache-control", "vary"):
        assert response.headers[name] == first.headers[name]
    assert response.content == (b"" if status == 304 else first.content)


def test_tags_in_several_header_lines_count(client: TestClient) -> None:
    tag = client.get(_URL).headers["etag"]
    lines = [("If-None-Match", '"other"'), ("If-None-Match", tag)]
    assert client.get(_URL, headers=lines).status_code == 304


class _Clock:
    def __init__(self, now: dt.datetime) -> None:
        self.now = now

    def __call__(self) -> dt.datetime:
        return self.now


def test_silence_turns_the_answer_unknown_at_the_very_moment(store: Store, state: State) -> None:
    key = next(k for k in state.order if _level(state, k) == "normal")
    judged = state.judgement(key, state.snapshot.as_of)
    assert judged is not None
    moment = min(r["stale_after"] for r in (judged.asset, *judged.points) if r["stale_after"])
    assert moment > state.snapshot.as_of
    wall = replace(store, settings=store.settings.model_copy(update={"clock": "wall"}))
    clock = _Clock(moment - dt.timedelta(microseconds=1))
    url = f"/v1/assets/{key[0]}/{key[1]}/condition"
    with TestClient(
        create_app(wall, Serving(wall, clock), without_keys=True), base_url="http://localhost"
    ) as client:
        fresh = client.get(url)
        clock.now = judged.asset["stale_after"]
        again = client.get(url, headers={"If-None-Match": fresh.headers["etag"]})
        items = client.get("/v1/assets?level=normal&limit=1000").json()["items"]
    assert (fresh.json()["level"], fresh.json()["stale"]) == ("normal", False)
    assert again.status_code == 200
    assert again.headers["etag"] != fresh.headers["etag"]
    body = again.json()
    assert (body["level"], body["basis"]) == ("unknown", "no-fresh-reading")
    assert (body["last_level"], body["zone"], body["stale"]) == ("normal", None, True)
    assert body["reason"].startswith("No judgeable reading since ")
    assert key not in {(item["site"], item["asset"]) for item in items}


def test_under_the_clock_of_the_data_a_past_plant_is_as_it_was_judged(client: TestClient) -> None:
    # Every reading is long past by the wall clock; the setting says that it does not count.
    levels = {item["level"] for item in client.get("/v1/assets").json()["items"]}
    assert "normal" in levels


def _level(state: State, key: tuple[str, str]) -> str | None:
    found: Judgement | None = state.judgement(key, state.snapshot.as_of)
    return found.asset["level"] if found else None
