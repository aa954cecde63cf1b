"""Maintenance events, filled route sheets and explanations over HTTP, and what becomes of them."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
import python_calamine
import xlsxwriter
from starlette.testclient import TestClient

from api.app import create_app
from tests.api.waiting import until
from warehouse.access import SCOPES
from warehouse.inbox import Ledger
from warehouse.query import answers, open_session
from warehouse.services.commissioning import list_mountings
from warehouse.services.explaining import Asked, explain
from warehouse.services.ingest import commit_all, judge_now
from warehouse.services.keys import Keyring, Wanted
from warehouse.services.routes import list_routes, sheet, walks
from warehouse.store import Store, open_store
from warehouse.store.snapshot import newest

_EVENT = {
    "event": "WO-1",
    "version_at": "2025-11-02T15:00:00+01:00",
    "site": "board-mill",
    "asset": "P-203",
    "activity": "bearing",
    "started_at": "2025-11-02T06:00:00Z",
    "ended_at": "2025-11-02T14:30:00Z",
    "down_hours": 8.5,
    "failure": "potential",
}


@pytest.fixture(scope="module")
def own(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    target = tmp_path_factory.mktemp("work") / "store"
    shutil.copytree(home, target)
    return open_store(target, {"key_rate": 0})


@pytest.fixture(scope="module")
def asked(own: Store) -> Iterator[TestClient]:
    key = Keyring(own).add(Wanted("work", tuple(SCOPES))).text
    with TestClient(create_app(own)) as client:
        client.headers["Authorization"] = f"Bearer {key}"
        yield client


def _take_in(own: Store) -> None:
    with Ledger.open(own.inbox) as ledger:
        commit_all(own, ledger)


def _report(asked: TestClient, *events: dict[str, Any], source: str = "maintenance") -> Any:
    return asked.post("/v1/maintenance-events", json={"source": source, "events": list(events)})


def _standing(own: Store, event: str) -> list[dict[str, Any]]:
    snapshot = newest(own)
    assert snapshot is not None
    with open_session(own, {}, snapshot.as_of) as session:
        statement = "SELECT * FROM maintenance_current WHERE work_id LIKE '%' || $event"
        return answers(session, statement, {"event": event}, 60)


def test_an_event_goes_the_way_of_a_file(asked: TestClient, own: Store) -> None:
    first = _report(asked, _EVENT)
    assert first.status_code == 202, first.text
    package = first.json()["package"]
    assert first.headers["location"] == f"/v1/packages/{package}"
    again = _report(asked, _EVENT)
    assert (again.json()["package"], again.json()["repeated"]) == (package, True)
    _take_in(own)
    life = asked.get(f"/v1/packages/{package}").json()
    assert (life["state"], life["counts"]["accepted"], life["source"]) == (
        "committed", 1, "maintenance",
    )  # fmt: skip
    (row,) = _standing(own, "WO-1")
    assert (row["asset"], row["activity"], row["down_hours"]) == ("P-203", "bearing", 8.5)


def test_a_version_counts_once_and_the_latest_of_them(asked: TestClient, own: Store) -> None:
    _report(asked, _EVENT)
    later = {**_EVENT, "version_at": "2025-11-03T08:00:00Z", "down_hours": 9.0}
    package = _report(asked, {**_EVENT, "note": None}, later).json()["package"]
    _take_in(own)
    counts = asked.get(f"/v1/packages/{package}").json()["counts"]
    assert (counts["duplicate"], counts["accepted"] + counts["revised"]) == (1, 1)
    assert [row["down_hours"] for row in _standing(own, "WO-1")] == [9.0]
    cancelled = {**later, "version_at": "2025-11-04T08:00:00Z", "status": "cancelled"}
    _report(asked, cancelled)
    _take_in(own)
    assert _standing(own, "WO-1") == []


def test_what_cannot_be_used_is_refused_like_an_item_of_a_file(
    asked: TestClient, own: Store
) -> None:
    strange = {**_EVENT, "event": "WO-2", "activity": "dance"}
    lost = {**_EVENT, "event": "WO-3", "asset": "P-999"}
    package = _report(asked, strange, lost).json()["package"]
    _take_in(own)
    life = asked.get(f"/v1/packages/{package}").json()
    assert life["state"] == "committed-with-rejects"
    judged = judge_now(own).snapshot.seq
    until(lambda: bool(asked.get("/readyz").json()["snapshot"] >= judged), 10)
    rejects = asked.get(f"/v1/packages/{package}/rejects").json()["items"]
    assert {one["reason"] for one in rejects} == set(life["counts"]["rejected_by_reason"])
    assert len(rejects) == 2


@pytest.mark.parametrize(
    "wrong",
    [
        {"started_at": "2025-11-02T06:00:00"},
        {"started_at": "yesterday"},
        {"down_hours": -1},
        {"site": None},
        {"object": "FL-1"},
        {"event": ""},
        {"colour": "red"},
    ],
)
def test_what_is_no_event_is_refused_at_once(asked: TestClient, wrong: dict[str, Any]) -> None:
    answer = _report(asked, {**_EVENT, **wrong})
    assert (answer.status_code, answer.json()["type"]) == (422, "/problems/invalid-request")


def test_one_way_of_naming_machines_a_list(asked: TestClient) -> None:
    named = {n: v for n, v in _EVENT.items() if n not in ("site", "asset")} | {"object": "x"}
    assert _report(asked, named).status_code == 202
    assert "all by" in _report(asked, named, _EVENT).json()["detail"]
    assert _report(asked, source="a").status_code == 422


def test_an_explanation_is_that_of_the_command_line(asked: TestClient, own: Store) -> None:
    answer = asked.get("/v1/assets/board-mill/P-203/explanation")
    assert answer.status_code == 200, answer.text
    body = answer.json()
    told = explain(own, Asked("board-mill", "P-203"))
    assert body["asset"]["level"] == told.asset["level"]
    assert body["as_published"]
    assert [
        [step["said"] for step in series["steps"]] for series in body["points"][0]["series"]
    ] == [[step.said for step in series.steps] for series in told.points[0].series]
    assert [step["title"] for step in body["roll_up"]] == [step.title for step in told.roll_up]
    tag = {"If-None-Match": answer.headers["etag"]}
    assert asked.get("/v1/assets/board-mill/P-203/explanation", headers=tag).status_code == 304


def test_an_explanation_of_a_point_and_of_a_moment(asked: TestClient) -> None:
    url = "/v1/assets/board-mill/P-203/explanation"
    whole = asked.get(url).json()
    point = whole["points"][0]["condition"]
    place = {"position": point["position"], "axis": point["axis"]}
    found = asked.get(url, params={n: v for n, v in place.items() if v}).json()
    assert found["points"][0]["condition"] == point
    before = asked.get(url, params={"as_of": "2025-11-01T00:00:00Z"}).json()
    assert not before["as_published"]
    assert asked.get(url, params={"as_of": "2025-11-01T00:00:00"}).status_code == 422
    assert asked.get(url, params={"position": "nowhere"}).status_code == 404
    assert asked.get("/v1/assets/board-mill/nothing/explanation").status_code == 404


def test_routes_and_their_stops_and_walks(asked: TestClient, own: Store) -> None:
    routes = list_routes(own)
    listed = asked.get("/v1/routes").json()["items"]
    assert [one["route"] for one in listed] == [one["route"] for one in routes]
    site = routes[0]["site"]
    of_site = asked.get(f"/v1/routes?site={site}").json()["items"]
    assert of_site == [one for one in listed if one["site"] == site]
    one = next(row["route"] for row in routes if row["walks"])
    body = asked.get(f"/v1/routes/{one}").json()
    assert len(body["stops"]) == body["compliance"]["stops"]
    assert len(asked.get(body["links"]["stops"]).json()["items"]) == len(body["stops"])
    assert len(asked.get(body["links"]["walks"]).json()["items"]) == len(walks(own, one))
    csv = asked.get(body["links"]["walks"], headers={"Accept": "text/csv"})
    assert csv.headers["content-type"].startswith("text/csv")
    assert asked.get("/v1/routes/none").status_code == 404
    assert asked.get("/v1/routes/none/walks").status_code == 404


def _filled(content: bytes, day: str, result: str = "") -> bytes:
    """The workbook with a value for every stop, and the same result beside each."""
    rows = python_calamine.load_workbook(io.BytesIO(content)).get_sheet_by_index(0).to_python()
    names = rows[3]
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as book:
        page = book.add_worksheet("Route")
        for line, row in enumerate(rows):
            if line > 3:
                told = dict(zip(names, row, strict=True))
                told |= {"Date": day, "Time": "10:00:00", "Value": 2.5, "Result": result}
                row = [told[name] for name in names]
            for column, cell in enumerate(row):
                page.write(line, column, cell)
    return buffer.getvalue()


def test_a_sheet_goes_out_and_comes_back_filled(asked: TestClient, own: Store) -> None:
    route = next(row["route"] for row in list_routes(own) if row["walks"])
    url = f"/v1/routes/{route}/sheet"
    out = asked.get(f"{url}?date=2025-11-12")
    assert out.headers["content-type"].endswith("spreadsheetml.sheet")
    rows = asked.get(f"{url}?format=json&date=2025-11-12").json()["items"]
    assert len(rows) == len(sheet(own, route))
    headers = {"If-None-Match": out.headers["etag"]}
    assert asked.get(f"{url}?date=2025-11-12", headers=headers).status_code == 304
    headers = {"Content-Type": out.headers["content-type"]}
    filled = _filled(out.content, "2025-11-12")
    back = asked.post(f"{url}?file=walk.xlsx", content=filled, headers=headers)
    assert back.status_code == 202, back.text
    again = asked.post(url, content=filled, headers=headers)
    assert (again.json()["package"], again.json()["repeated"]) == (back.json()["package"], True)
    before = len(walks(own, route))
    _take_in(own)
    life = asked.get(f"/v1/packages/{back.json()['package']}").json()
    assert life["file"] == "walk.xlsx"
    assert life["counts"]["accepted"] >= len(rows), life
    assert life["counts"]["rejected"] == 0
    assert before >= 1
    strange = _filled(out.content, "2025-11-13", "not-running")
    package = asked.post(f"{url}?file=strange.xlsx", content=strange, headers=headers).json()
    _take_in(own)
    judged = judge_now(own).snapshot.seq
    until(lambda: bool(asked.get("/readyz").json()["snapshot"] >= judged), 10)
    life = asked.get(f"/v1/packages/{package['package']}").json()["counts"]
    assert (life["accepted"], life["rejected"]) == (len(rows), len(rows))
    told = asked.get(f"/v1/packages/{package['package']}/rejects").json()["items"]
    assert [one["reason"] for one in told] == ["bad-code"] * len(rows)
    assert asked.post("/v1/routes/none/sheet", content=filled, headers=headers).status_code == 404


def test_a_key_of_another_site_sees_none_of_it(asked: TestClient, own: Store) -> None:
    wanted = Wanted("own", tuple(SCOPES), ("district-cooling",), ("cooling-edge",))
    limited = TestClient(
        asked.app, headers={"Authorization": f"Bearer {Keyring(own).add(wanted).text}"}
    )
    route = next(row["route"] for row in list_routes(own) if row["site"] == "board-mill")
    paths = [f"/v1/routes/{route}{part}" for part in ("", "/sheet", "/walks")]
    for url in (*paths, "/v1/assets/board-mill/P-203/explanation"):
        assert limited.get(url).status_code == 404, url
    assert _report(limited, _EVENT).status_code == 404
    assert _report(limited, _EVENT, source="cooling-edge").status_code == 202
    headers = {"Content-Type": "application/octet-stream"}
    assert (
        limited.post(f"/v1/routes/{route}/sheet", content=b"x", headers=headers).status_code == 404
    )


def test_commissioning_is_told_as_it_stands(asked: TestClient, own: Store) -> None:
    every = asked.get("/v1/commissioning?every=true").json()["items"]
    told = list_mountings(own, every=True)
    assert [one["channel"] for one in every] == [one["channel"] for one in told]
    provisional = asked.get("/v1/commissioning").json()["items"]
    assert provisional == [one for one in every if one["commissioning"] != "passed"]
    first = every[0]
    url = f"/v1/commissioning/{quote(first['device'], safe='')}/{quote(first['channel'], safe='')}"
    answer = asked.get(url)
    assert answer.json()["mounting"]["device"] == first["device"]
    assert {one["check"] for one in answer.json()["checks"]} >= {"interval", "plausible"}
    headers = {"If-None-Match": answer.headers["etag"]}
    assert asked.get(url, headers=headers).status_code == 304
    site = first["site"]
    assert {
        one["site"]
        for one in asked.get(f"/v1/commissioning?every=true&site={site}").json()["items"]
    } == {site}
    lines = asked.get("/v1/commissioning?every=true&format=csv").text.splitlines()
    assert len(lines) == len(every) + 1
    assert asked.get("/v1/commissioning/none/none").status_code == 404
    wanted = Wanted("other", tuple(SCOPES), ("district-cooling",), ("cooling-edge",))
    limited = TestClient(
        asked.app, headers={"Authorization": f"Bearer {Keyring(own).add(wanted).text}"}
    )
    theirs = next(one for one in every if one["site"] != "district-cooling")
    assert (
        limited.get(
            f"/v1/commissioning/{quote(theirs['device'])}/{quote(theirs['channel'])}"
        ).status_code
        == 404
    )
    seen = limited.get("/v1/commissioning?every=true").json()["items"]
    assert {one["site"] for one in seen} == {"district-cooling"}
