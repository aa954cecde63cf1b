"""Cases over HTTP: lists in any form, one whole, actions recorded once, notifications in order."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from starlette.testclient import TestClient

from api.app import create_app
from schemas.tables.work import CASE_ACTIONS
from tests.api.waiting import until
from warehouse.services import cases
from warehouse.services.casework import rows_of
from warehouse.services.keys import Keyring, Wanted
from warehouse.services.locks import holding
from warehouse.services.requests import Requests
from warehouse.store import Store, open_store

_SCOPES = ("read:condition", "write:work")


@pytest.fixture(scope="module")
def own(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    """A store of its own: people act in it."""
    target = tmp_path_factory.mktemp("cases") / "store"
    shutil.copytree(home, target)
    return open_store(target, {"key_rate": 0})


@pytest.fixture(scope="module")
def asked(own: Store) -> Iterator[TestClient]:
    key = Keyring(own).add(Wanted("cases", _SCOPES)).text
    with TestClient(create_app(own)) as client:
        client.headers["Authorization"] = f"Bearer {key}"
        yield client


def _open(asked: TestClient) -> list[dict[str, Any]]:
    items: list[dict[str, Any]] = asked.get("/v1/cases").json()["items"]
    return items


def _act(asked: TestClient, case: int, name: str, **said: Any) -> Any:
    url = f"/v1/cases/{case}/actions"
    body = {"person": "A. Example", **said}
    return asked.post(url, json=body, headers={"Idempotency-Key": name})


def test_the_list_is_that_of_the_command_line(asked: TestClient, own: Store) -> None:
    told = cases.list_cases(own)
    assert len(told) > 2
    items = _open(asked)
    assert [one["case_id"] for one in items] == [one["case_id"] for one in told]
    assert {"action_class", "respond_by", "asset_external_id", "evidence"} <= items[0].keys()
    pages = asked.get("/v1/cases?limit=1").json()
    seen = [one["case_id"] for one in pages["items"]]
    while pages["next"]:
        pages = asked.get(pages["next"]).json()
        seen += [one["case_id"] for one in pages["items"]]
    assert seen == [one["case_id"] for one in told]


def test_every_filter_chooses(asked: TestClient) -> None:
    items = _open(asked)
    for name in ("site", "asset", "area", "class", "criticality", "level", "basis", "state"):
        values = {one[name] for one in items} - {None}
        for value in values:
            found = asked.get("/v1/cases", params={name: value}).json()["items"]
            assert found == [one for one in items if one[name] == value], (name, value)
    assert asked.get("/v1/cases?state=closed").json()["items"] == []
    assert asked.get("/v1/cases?level=worse").status_code == 422
    assert asked.get("/v1/cases?colour=red").status_code == 422


@pytest.mark.parametrize("form", ["csv", "ndjson", "arrow"])
def test_the_other_forms_are_whole(asked: TestClient, form: str) -> None:
    answer = asked.get(f"/v1/cases?format={form}&limit=1")
    rows = len(_open(asked))
    if form == "arrow":
        assert pa.ipc.open_stream(answer.content).read_all().num_rows == rows
    else:
        assert len(answer.text.splitlines()) == rows + (form == "csv")
    again = asked.get(
        f"/v1/cases?format={form}&limit=1", headers={"If-None-Match": answer.headers["etag"]}
    )
    assert again.status_code == 304


def test_one_case_has_what_a_planner_needs(asked: TestClient, own: Store) -> None:
    first = _open(asked)[0]
    answer = asked.get(f"/v1/cases/{first['case_id']}")
    body = answer.json()
    told = cases.summary(own, first["case_id"])
    assert body["summary"]["evidence"] == told["summary"]["evidence"]
    assert body["summary"]["action_class"] == first["action_class"]
    assert [one["kind"] for one in body["events"]] == [one["kind"] for one in told["life"]]
    assert "isolation" in body["caution"]
    headers = {"If-None-Match": answer.headers["etag"]}
    assert asked.get(f"/v1/cases/{first['case_id']}", headers=headers).status_code == 304
    missing = asked.get("/v1/cases/999999")
    assert (missing.status_code, missing.json()["type"]) == (404, "/problems/not-found")


def test_an_action_is_recorded_once_for_each_name(asked: TestClient, own: Store) -> None:
    case = _open(asked)[0]["case_id"]
    before = len(rows_of(own, CASE_ACTIONS))
    tag = asked.get(f"/v1/cases/{case}").headers["etag"]
    first = _act(asked, case, "one", action="acknowledge", owner="B. Example")
    assert first.status_code == 200, first.text
    assert (first.json()["state"], first.json()["owner"]) == ("acknowledged", "B. Example")
    again = _act(asked, case, "one", action="acknowledge", owner="B. Example")
    assert again.json() == {**first.json(), "repeated": True}
    assert len(rows_of(own, CASE_ACTIONS)) == before + 1
    other = _act(asked, case, "one", action="confirm")
    assert (other.status_code, other.json()["type"]) == (422, "/problems/idempotency-key-reused")
    second = _act(asked, case, "two", action="acknowledge")
    assert (second.status_code, second.json()["type"]) == (409, "/problems/case-action-refused")
    assert "acknowledged already" in second.json()["detail"]
    assert len(rows_of(own, CASE_ACTIONS)) == before + 1

    def seen() -> bool:
        return bool(asked.get(f"/v1/cases/{case}").json()["state"] == "acknowledged")

    until(seen, 5)
    answer = asked.get(f"/v1/cases/{case}", headers={"If-None-Match": tag})
    assert answer.status_code == 200
    assert answer.json()["events"][-1]["person"] == "A. Example"


def test_a_request_needs_a_name_and_a_fitting_body(asked: TestClient) -> None:
    case = _open(asked)[0]["case_id"]
    url = f"/v1/cases/{case}/actions"
    body = {"action": "confirm", "person": "A. Example"}
    assert asked.post(url, json=body).json()["type"] == "/problems/content-unreadable"
    for wrong in ({"action": "explode"}, {"until": "soon"}, {"person": ""}, {"colour": "red"}):
        assert _act(asked, case, "x", **{"action": "confirm", **wrong}).status_code == 422
    assert _act(asked, 10**9, "y", action="confirm").status_code == 404


_FIELDS = [
    ({"action": "defer"}, "until", "a date is needed"),
    ({"action": "defer", "until": "2020-01-01"}, "until", "must lie ahead"),
    ({"action": "confirm", "until": "2030-01-01"}, "until", "no meaning"),
    ({"action": "dispose", "disposition": "accepted-until"}, "until", "a date is needed"),
    ({"action": "dispose"}, "disposition", "false-alarm"),
    ({"action": "dispose", "disposition": "bad"}, "disposition", "false-alarm"),
    ({"action": "assign"}, "owner", "an owner is needed"),
    ({"action": "comment", "comment": " "}, "comment", "a comment is needed"),
    ({"action": "confirm", "person": "  "}, "person", "a named person"),
]


@pytest.mark.parametrize(("said", "field", "fault"), _FIELDS)
def test_a_field_that_lacks_or_is_wrong_is_told_with_its_place(
    asked: TestClient, own: Store, said: dict[str, Any], field: str, fault: str
) -> None:
    case, before = _open(asked)[0]["case_id"], rows_of(own, CASE_ACTIONS)
    refused = _act(asked, case, f"field {said}", **said)
    assert (refused.status_code, refused.json()["type"]) == (422, "/problems/invalid-request")
    (error,) = refused.json()["errors"]
    assert error["pointer"] == f"/body/{field}"
    assert fault in error["detail"]
    assert rows_of(own, CASE_ACTIONS) == before


def test_what_the_state_forbids_says_what_it_allows(asked: TestClient) -> None:
    case = _open(asked)[0]["case_id"]
    refused = _act(asked, case, "not done yet", action="verify")
    assert (refused.status_code, refused.json()["type"]) == (409, "/problems/case-action-refused")
    allowed = refused.json()["detail"].partition("allowed now: ")[2].split(", ")
    assert allowed[-3:] == ["dispose", "assign", "comment"]
    assert {"confirm", "request", "defer", "done"} <= set(allowed)
    assert "verify" not in allowed


@pytest.mark.parametrize("after", ["commit", "intention"])
def test_a_request_stopped_half_way_is_made_good(
    asked: TestClient, own: Store, monkeypatch: pytest.MonkeyPatch, after: str
) -> None:
    case = _open(asked)[1]["case_id"]
    said = {"action": "comment", "comment": f"stopped after {after}"}
    before = len(rows_of(own, CASE_ACTIONS))

    def die(*_: object) -> None:
        raise SystemError("stopped")

    with monkeypatch.context() as patch:
        if after == "commit":
            patch.setattr("warehouse.services.case_actions.settle", die)
        else:
            whole = Requests.intend

            def intend(*given: Any) -> None:
                whole(*given)
                raise SystemError("stopped")

            patch.setattr(Requests, "intend", intend)
        quiet = TestClient(asked.app, raise_server_exceptions=False, headers=dict(asked.headers))
        assert _act(quiet, case, after, **said).status_code == 500
    assert len(rows_of(own, CASE_ACTIONS)) == before + (after == "commit")
    assert _act(asked, case, after, **said).status_code == 200
    actions = rows_of(own, CASE_ACTIONS)
    assert len(actions) == before + 1
    assert actions[-1]["comment"] == said["comment"]
    until(lambda: bool(_life(asked, case)[-1]["comment"] == said["comment"]), 5)
    assert [one["comment"] for one in _life(asked, case)].count(said["comment"]) == 1


def _life(asked: TestClient, case: int) -> list[dict[str, Any]]:
    events: list[dict[str, Any]] = asked.get(f"/v1/cases/{case}").json()["events"]
    return events


def test_suppressions_come_and_go(asked: TestClient) -> None:
    case = _open(asked)[0]
    body = {
        "site": case["site"], "asset": case["asset"], "member": case["member"],
        "person": "A. Example", "until": "2030-01-01", "comment": "to be rebuilt",
    }  # fmt: skip
    headers = {"Idempotency-Key": "suppressed"}
    done = asked.post("/v1/suppressions", json=body, headers=headers)
    assert (done.status_code, done.json()["kind"]) == (200, "suppress"), done.text
    assert asked.post("/v1/suppressions", json=body, headers=headers).json()["repeated"]

    def standing() -> list[dict[str, Any]]:
        items: list[dict[str, Any]] = asked.get("/v1/suppressions").json()["items"]
        return items

    until(lambda: len(standing()) == 1, 5)
    assert standing()[0]["reason"] == "to be rebuilt"
    ended = {n: body[n] for n in ("site", "asset", "member", "person")} | {"action": "release"}
    headers = {"Idempotency-Key": "released"}
    assert asked.post("/v1/suppressions", json=ended, headers=headers).status_code == 200
    until(lambda: standing() == [], 5)
    for lacking, field in (("until", "until"), ("comment", "comment")):
        refused = asked.post(
            "/v1/suppressions", json={n: v for n, v in body.items() if n != lacking},
            headers={"Idempotency-Key": f"without {lacking}"},
        )  # fmt: skip
        assert refused.status_code == 422
        assert [one["pointer"] for one in refused.json()["errors"]] == [f"/body/{field}"]
    headers = {"Idempotency-Key": "of what"}
    refused = asked.post("/v1/suppressions", json={**body, "basis": "hunch"}, headers=headers)
    assert [one["pointer"] for one in refused.json()["errors"]] == ["/body/basis"]
    unknown = {**body, "member": "wing"}
    headers = {"Idempotency-Key": "unknown"}
    assert asked.post("/v1/suppressions", json=unknown, headers=headers).status_code == 404


def test_notifications_come_in_order_and_each_once(asked: TestClient, own: Store) -> None:
    told = [row["notice"] for row in cases.notices(own)]
    assert len(told) > 2
    seen: list[int] = []
    page = asked.get("/v1/notifications?limit=2").json()
    while True:
        seen += [one["notice"] for one in page["items"]]
        if not page["more"]:
            break
        page = asked.get(page["next"]).json()
    assert seen == told
    last = asked.get(f"/v1/notifications?after={page['after']}").json()
    assert (last["items"], last["after"], last["newest"]) == ([], page["after"], told[-1])
    ahead = asked.get(f"/v1/notifications?after={told[-1] + 1}")
    assert (ahead.status_code, ahead.json()["type"]) == (409, "/problems/after-unknown")
    assert ahead.json()["newest"] == told[-1]


def test_a_key_of_one_site_sees_and_acts_on_its_cases_only(asked: TestClient, own: Store) -> None:
    every = _open(asked)
    assert {one["site"] for one in every} == {"board-mill"}
    key = Keyring(own).add(Wanted("one site", _SCOPES, ("district-cooling",), ("none",))).text
    limited = TestClient(asked.app, headers={"Authorization": f"Bearer {key}"})
    theirs = every[0]
    assert _open(limited) == []
    assert limited.get(f"/v1/cases/{theirs['case_id']}").status_code == 404
    refused = _act(limited, theirs["case_id"], "theirs", action="comment", comment="x")
    assert refused.status_code == 404
    notices = limited.get("/v1/notifications").json()
    assert notices["items"] == []
    body = {
        "site": theirs["site"], "asset": theirs["asset"], "member": theirs["member"],
        "person": "A. Example", "until": "2030-01-01", "comment": "x",
    }  # fmt: skip
    headers = {"Idempotency-Key": "theirs"}
    assert limited.post("/v1/suppressions", json=body, headers=headers).status_code == 404


def test_a_key_that_only_reads_does_not_act(asked: TestClient, own: Store) -> None:
    key = Keyring(own).add(Wanted("reader", ("read:condition",))).text
    reader = TestClient(asked.app, headers={"Authorization": f"Bearer {key}"})
    case = _open(reader)[0]["case_id"]
    assert _act(reader, case, "no", action="confirm").status_code == 403


def test_who_is_at_work_is_waited_for_and_then_told(
    asked: TestClient, own: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("warehouse.services.cases_served._WAIT_SECONDS", 0.2)
    case = _open(asked)[0]["case_id"]
    with holding(own, "committer", wait=True):
        answer = _act(asked, case, "busy", action="comment", comment="x")
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/busy")
    assert answer.headers["retry-after"]
    assert _act(asked, case, "busy", action="comment", comment="x").status_code == 200
