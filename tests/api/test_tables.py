"""Conditions as rows, tables, changes and readings: every form says the same."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from typing import Any

import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from tests.api.test_assets import _pages
from warehouse.registry.stored import stored_entities
from warehouse.services.fleet_views import FLEET
from warehouse.services.named_conditions import named_conditions
from warehouse.services.relations import relations
from warehouse.services.serving import State
from warehouse.store import Store


def _rows(client: TestClient, url: str, form: str) -> list[dict[str, Any]]:
    """All rows of a table in one form, as text where the form knows nothing else."""
    answer = client.get(f"{url}{'&' if '?' in url else '?'}format={form}")
    assert answer.status_code == 200, answer.text
    if form == "json":
        return [item for page in _pages(client, url) for item in page["items"]]
    if form == "ndjson":
        return [json.loads(line) for line in answer.text.splitlines()]
    if form == "csv":
        return list(csv.DictReader(io.StringIO(answer.text)))
    rows: list[dict[str, Any]] = pa.ipc.open_stream(answer.content).read_all().to_pylist()
    return rows


@pytest.mark.parametrize("form", ["ndjson", "csv", "arrow"])
@pytest.mark.parametrize(
    "url",
    ["/v1/conditions?limit=7", "/v1/conditions?scope=point&site=board-mill",
     "/v1/tables/assets?limit=9", "/v1/tables/worst_machines"],
)  # fmt: skip
def test_every_form_holds_the_same_rows(client: TestClient, url: str, form: str) -> None:
    plain, other = _rows(client, url, "json"), _rows(client, url, form)
    assert len(plain) == len(other) > 0
    for name in ("site", "asset", "level"):
        if name in plain[0]:
            assert [r[name] or "" for r in plain] == [r[name] or "" for r in other]
    assert list(plain[0]) == list(other[0])


def test_conditions_are_those_of_the_assets(client: TestClient, state: State) -> None:
    rows = _rows(client, "/v1/conditions", "json")
    assert len(rows) == sum(1 for place in state.places.values() if place.judged)
    for row in rows[:5]:
        one = client.get(f"/v1/assets/{row['site']}/{row['asset']}/condition").json()
        for name in ("level", "zone", "basis", "reason", "stale", "external_id", "measured_at"):
            assert row[name] == one[name], name


@pytest.mark.parametrize(
    ("name", "value"),
    [("level", "unknown"), ("criticality", "A"), ("site", "raw-water"), ("zone", "A")],
)
def test_conditions_are_filtered(client: TestClient, name: str, value: str) -> None:
    every = _rows(client, "/v1/conditions", "json")
    some = _rows(client, f"/v1/conditions?{name}={value}&limit=3", "json")
    assert some == [row for row in every if row[name] == value]
    assert 0 < len(some) < len(every)


def test_the_class_of_a_machine_is_a_filter_everywhere(client: TestClient) -> None:
    members = _rows(client, "/v1/tables/members", "json")
    fans = {(m["site"], m["asset"]) for m in members if m["equipment_class"] == "fan"}
    for path in ("/v1/conditions", "/v1/assets", "/v1/tables/asset_conditions"):
        pages = _pages(client, f"{path}?class=fan&limit=5")
        rows = [item for page in pages for item in page["items"]]
        assert {(r["site"], r["asset"]) for r in rows} <= fans
        assert rows


def test_lookups_answer_every_name(client: TestClient, state: State) -> None:
    key = next(k for k in state.order if state.places.get(k) and state.assets[k]["external_id"])
    asked = {
        "assets": [{"site": key[0], "asset": key[1]}, {"site": "x", "asset": "y"}],
        "external_ids": [state.assets[key]["external_id"], "nobody"],
    }
    found = client.post("/v1/conditions/lookup", json=asked).json()
    assert [(one["site"], one["asset"]) for one in found["items"]] == [key]
    assert found["missing_assets"] == [{"site": "x", "asset": "y"}]
    assert found["missing_external_ids"] == ["nobody"]


def test_the_id_of_a_machine_leads_to_the_machine(
    client: TestClient, state: State, store: Store
) -> None:
    of_assets = {row["external_id"] for row in state.assets.values()}
    members = stored_entities(store)["members"].to_pylist()
    theirs = next(one for one in members if one["external_id"] not in (None, *of_assets))
    name = theirs["external_id"]
    asked = {"external_ids": [name, "nobody", name]}
    found = client.post("/v1/conditions/lookup", json=asked).json()
    place = {key: theirs[key] for key in ("site", "asset", "member")}
    assert found["found_external_ids"] == {name: place}
    assert found["missing_external_ids"] == ["nobody"]
    (row,) = found["items"]
    assert {key: row[key] for key in place} == place
    assert row in _rows(client, "/v1/conditions?scope=member", "json")
    for nothing in ({"external_id": name}, {"site": "nowhere"}):
        assert client.get("/v1/conditions", params=nothing).json()["items"] == []
    assert client.get("/v1/cases?site=nowhere").json()["items"] == []


def test_an_id_that_several_machines_bear_leads_to_none_of_them(state: State) -> None:
    first, second = list(state.places)[:2]
    ids = {first: {"motor": "E-1", "pump": "E-2"}, second: {"motor": "E-1"}}
    found = named_conditions(
        replace(state, member_ids=ids), state.snapshot.as_of, [], ["E-1", "none"]
    )
    assert (found.rows, found.by_external_id) == ([], {})
    assert (found.ambiguous_external_ids, found.missing_external_ids) == (["E-1"], ["none"])


def test_every_published_table_and_view_answers(client: TestClient) -> None:
    listed = [one["name"] for one in client.get("/v1/tables").json()["items"]]
    assert listed == sorted(relations())
    for name in ("condition_log", "snapshots", "series", "units", "superseded"):
        answer = client.get(f"/v1/tables/{name}?limit=1")
        assert answer.status_code == 200, (name, answer.text)
        assert answer.json()["columns"]
    assert client.get("/v1/tables/readings_secret").status_code == 404


@pytest.mark.parametrize("view", FLEET)
def test_fleet_views_answer(client: TestClient, view: str) -> None:
    answer = client.get(f"/v1/tables/{view}?from=2025-10-01T00:00:00Z&limit=1")
    # what is of now has no window
    assert answer.status_code == (400 if view == "fleet_coverage" else 200), answer.text


def test_a_fleet_view_counts_the_machines_and_the_window_asked_for(client: TestClient) -> None:
    every = _rows(client, "/v1/tables/bad_actors", "json")
    mill = _rows(client, "/v1/tables/bad_actors?site=board-mill&to=2025-11-10T00:00:00Z", "json")
    assert {row["site"] for row in every} > {row["site"] for row in mill} == {"board-mill"}
    assert {row["window_to"] for row in mill} == {"2025-11-10T00:00:00Z"}
    assert {row["n"] for row in mill} == {0}, "nothing was told before"
    assert max(row["n"] for row in every) > 0
    fans = _rows(client, "/v1/tables/fleet_coverage?class=fan", "json")
    assert {row["equipment_class"] for row in fans if row["grouped_by"] == "class"} == {"fan"}
    # a window over a column that is named is a filter as everywhere
    named = "bad_actors?time=window_to&to=2025-01-01T00:00:00Z"
    assert _rows(client, f"/v1/tables/{named}", "json") == []


def test_a_filter_without_its_column_is_refused(client: TestClient) -> None:
    faults = (
        "sites?level=alert",
        "sites?from=2025-01-01T00:00:00Z",
        "assets?column=colour",
        "assets?time=name&to=2025-01-01T00:00:00Z",
    )
    for url in (f"/v1/tables/{fault}" for fault in faults):
        answer = client.get(url)
        assert (answer.status_code, answer.json()["type"]) == (400, "/problems/query-refused"), url


@pytest.mark.parametrize(
    ("accept", "status", "media"),
    [
        ("*/*", 200, "application/json"),
        ("text/csv", 200, "text/csv"),
        ("text/*", 200, "text/csv"),
        ("application/json;q=0.1, application/x-ndjson", 200, "application/x-ndjson"),
        ("application/vnd.apache.arrow.stream", 200, "application/vnd.apache.arrow.stream"),
        ("image/png", 406, "application/problem+json"),
        ("application/json;q=0, text/csv;q=0", 406, "application/problem+json"),
    ],
)
def test_accept_chooses_the_form(client: TestClient, accept: str, status: int, media: str) -> None:
    answer = client.get("/v1/conditions", headers={"Accept": accept})
    assert answer.status_code == status
    assert answer.headers["content-type"].partition(";")[0] == media
    assert client.get("/v1/conditions?format=xml").status_code == 406


def test_forms_have_tags_of_their_own(client: TestClient) -> None:
    tags = {
        form: client.get(f"/v1/conditions?format={form}").headers["etag"]
        for form in ("json", "csv", "ndjson", "arrow")
    }
    assert len(set(tags.values())) == 4
    for form, tag in tags.items():
        url = f"/v1/conditions?format={form}"
        assert client.get(url, headers={"If-None-Match": tag}).status_code == 304
    plain = client.get("/v1/conditions", headers={"Accept": "text/csv"}).headers["etag"]
    assert client.get("/v1/conditions", headers={"If-None-Match": plain}).status_code == 200


def test_changes_come_each_once_in_order_however_they_are_paged(client: TestClient) -> None:
    every = _rows(client, "/v1/tables/condition_log?limit=1000", "json")
    for limit in (1, 7, 1000):
        seen, url, more = [], f"/v1/changes?limit={limit}&scope=asset&scope=point", True
        while more:
            page = client.get(url).json()
            seen += [one["seq"] for one in page["items"]]
            url, more = page["next"], page["more"]
        wanted = [row["seq"] for row in every if row["scope"] in ("asset", "point")]
        assert seen == sorted(wanted)
        if limit == 1:
            break_off = client.get(url).json()
            assert (break_off["items"], break_off["more"]) == ([], False)
            assert break_off["after"] == max(row["seq"] for row in every)
    newest = max(row["seq"] for row in every)
    assert client.get("/v1/changes?limit=1").json()["newest"] == newest
    ahead = client.get("/v1/changes?after=999999999")
    assert (ahead.status_code, ahead.json()["type"]) == (409, "/problems/after-unknown")
    assert ahead.json()["newest"] == newest


_SERIES = "site=board-mill&asset=G-232&position=motor-de&quantity=velocity"


def test_readings_of_a_series_come_in_their_order(client: TestClient) -> None:
    rows = _rows(client, f"/v1/readings?{_SERIES}&limit=50", "json")
    assert rows
    assert {(r["site"], r["asset"], r["position"], r["quantity"]) for r in rows} == {
        ("board-mill", "G-232", "motor-de", "velocity")
    }
    by_axis: dict[Any, list[str]] = {}
    for row in rows:
        by_axis.setdefault((row["axis"], row["device"], row["method"]), []).append(row["ts"])
    assert all(times == sorted(times) for times in by_axis.values())
    streamed = _rows(client, f"/v1/readings?{_SERIES}", "ndjson")
    assert [r["value"] for r in streamed] == [r["value"] for r in rows]
    whole = _rows(client, f"/v1/readings?{_SERIES}&sorted=false", "arrow")
    assert sorted(r["value"] for r in whole) == sorted(r["value"] for r in rows)


def test_a_window_cuts_and_an_empty_value_means_none(client: TestClient) -> None:
    rows = _rows(client, f"/v1/readings?{_SERIES}", "json")
    times = sorted({row["ts"] for row in rows})
    middle = times[len(times) // 2]
    first = _rows(client, f"/v1/readings?{_SERIES}&to={middle}", "json")
    second = _rows(client, f"/v1/readings?{_SERIES}&from={middle}", "json")
    assert len(first) + len(second) == len(rows)
    none = _rows(client, "/v1/readings?site=board-mill&axis=&limit=1000", "ndjson")
    assert {row["axis"] for row in none} == {None}


@given(points=st.integers(4, 60))
@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_thinning_keeps_every_extreme_and_invents_nothing(client: TestClient, points: int) -> None:
    def lines(rows: list[dict[str, Any]]) -> dict[Any, list[tuple[str, float]]]:
        found: dict[Any, list[tuple[str, float]]] = {}
        for row in rows:
            key = tuple(
                row[n]
                for n in ("axis", "detector", "band", "feature", "method", "device", "channel")
            )
            found.setdefault(key, []).append((row["ts"], row["value"]))
        return found

    whole = lines(_rows(client, f"/v1/readings?{_SERIES}", "ndjson"))
    thin = lines(_rows(client, f"/v1/readings?{_SERIES}&points={points}", "ndjson"))
    assert whole.keys() == thin.keys()
    for key, kept in thin.items():
        every = whole[key]
        assert len(kept) <= points
        assert set(kept) <= set(every)
        assert max(v for _, v in kept) == max(v for _, v in every)
        assert min(v for _, v in kept) == min(v for _, v in every)
        assert (min(kept)[0], max(kept)[0]) == (min(every)[0], max(every)[0])


def test_too_many_readings_for_pages_are_refused_and_columns_are_chosen(client: TestClient) -> None:
    few = _rows(client, f"/v1/readings?{_SERIES}&column=ts&column=value&points=8", "json")
    assert set(few[0]) == {"ts", "value"}
    assert client.get("/v1/readings?column=secret").status_code == 400
    assert client.get("/v1/readings?points=3").status_code == 422
