"""Packages over HTTP: durable, once, within bounds; what became of them; registry and mappings."""

from __future__ import annotations

import base64
import gzip
import hashlib
import shutil
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from starlette.testclient import TestClient

from api.app import create_app
from ingest_examples import FILES, MAPPINGS
from warehouse.inbox import Ledger
from warehouse.services.ingest import commit_all, judge_now
from warehouse.store import Store, open_store

_PACK = (FILES / "district-cooling/cooling-edge/edge2_2025-11-08.senml").read_bytes()
_URL = "/v1/ingest?source=cooling-edge&file=edge2.senml"


@pytest.fixture(scope="module")
def own(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    target = tmp_path_factory.mktemp("ingest") / "store"
    shutil.copytree(home, target)
    return open_store(target, {"body_mb": 2})


@pytest.fixture(scope="module")
def client(own: Store) -> Iterator[TestClient]:
    with TestClient(create_app(own, without_keys=True), base_url="http://localhost") as client:
        yield client


def _post(client: TestClient, content: bytes, key: str, url: str = _URL, **headers: str) -> Any:
    return client.post(url, content=content, headers={"Idempotency-Key": key, **headers})


def _zstd(content: bytes) -> bytes:
    sink = pa.BufferOutputStream()
    with pa.output_stream(sink, compression="zstd") as stream:
        stream.write(content)
    packed: bytes = sink.getvalue().to_pybytes()
    return packed


def test_the_same_package_packed_in_any_way_is_one_package(client: TestClient, own: Store) -> None:
    first = _post(client, _PACK, "a1").json()
    packed = _post(client, gzip.compress(_PACK), "a2", **{"Content-Encoding": "gzip"}).json()
    other = _post(client, _zstd(_PACK), "a3", **{"Content-Encoding": "zstd"}).json()
    assert first["repeated"] is False
    assert (packed["package"], packed["repeated"]) == (first["package"], True)
    assert (other["package"], other["repeated"]) == (first["package"], True)
    shown = client.get(first["links"]["package"]).json()
    assert shown["sha256"] == hashlib.sha256(_PACK).hexdigest()
    assert shown["state"] == "received"
    with Ledger.open(own.inbox) as ledger:
        commit_all(own, ledger)
    done = client.get(first["links"]["package"]).json()
    counts = done["counts"]
    assert done["state"].startswith("committed")
    assert counts["items"] > 0
    assert counts["items"] == sum(
        counts[name] for name in ("accepted", "duplicate", "revised", "rejected")
    )
    assert [one["state"] for one in done["life"]][:3] == ["received", "duplicate", "duplicate"]


def test_a_request_sent_again_gets_its_receipt_and_another_body_is_refused(
    client: TestClient,
) -> None:
    first = _post(client, b'[{"n":"x","v":1}]', "b1")
    again = _post(client, b'[{"n":"x","v":1}]', "b1")
    assert (first.status_code, again.status_code) == (202, 202)
    assert again.json() == first.json()
    assert first.json()["repeated"] is False
    other = _post(client, b'[{"n":"x","v":2}]', "b1")
    assert (other.status_code, other.json()["type"]) == (422, "/problems/idempotency-key-reused")
    assert _post(client, b'[{"n":"x","v":2}]', "b2").json()["repeated"] is False


def test_a_request_without_a_name_is_refused(client: TestClient) -> None:
    answer = client.post(_URL, content=b"x")
    assert (answer.status_code, answer.json()["type"]) == (400, "/problems/content-unreadable")
    assert "Idempotency-Key" in answer.json()["detail"]


@pytest.mark.parametrize(
    ("content", "headers", "status", "slug"),
    [
        (b"", {}, 422, "source-unusable"),
        (gzip.compress(b"", mtime=0), {"Content-Encoding": "gzip"}, 422, "source-unusable"),
        (b"x", {"Content-Encoding": "br"}, 415, "media-type-unsupported"),
        (b"x", {"Content-Type": "multipart/form-data; boundary=x"}, 415, "media-type-unsupported"),
        (b"x", {"Content-Encoding": "gzip"}, 400, "content-unreadable"),
        (
            gzip.compress(_PACK, mtime=0)[:-9],
            {"Content-Encoding": "gzip"},
            400,
            "content-unreadable",
        ),
        (_zstd(_PACK)[:-9], {"Content-Encoding": "zstd"}, 400, "content-unreadable"),
        (
            gzip.compress(bytes(2_000_001), mtime=0),
            {"Content-Encoding": "gzip"},
            413,
            "body-too-large",
        ),
        (_zstd(bytes(50_000_000)), {"Content-Encoding": "zstd"}, 413, "body-too-large"),
        (bytes(2_000_001), {}, 413, "body-too-large"),
        (b"x", {"Content-Digest": "sha-256=:AAAA:"}, 400, "digest-mismatch"),
        (b"x", {"Content-Digest": "sha-256=:A:"}, 400, "content-unreadable"),
    ],
)
def test_what_is_not_right_is_not_received(
    client: TestClient, own: Store, content: bytes, headers: dict[str, str], status: int, slug: str
) -> None:
    before = client.get("/v1/packages?limit=1").json()["items"][0]["number"]
    answer = _post(client, content, "c1", **headers)
    assert (answer.status_code, answer.json()["type"]) == (status, f"/problems/{slug}")
    assert client.get("/v1/packages?limit=1").json()["items"][0]["number"] == before
    assert list(own.inbox.glob("work-*")) == []


def test_a_body_with_its_digest_is_received_large_and_small(client: TestClient) -> None:
    for number, content in enumerate((b"[1]", b"[" + b" " * 600_000 + b"]")):
        digest = base64.b64encode(hashlib.sha256(content).digest()).decode()
        headers = {"Content-Digest": f"md5=:AA==:, sha-256=:{digest}:"}
        answer = _post(client, content, f"d{number}", **headers)
        assert answer.status_code == 202
        shown = client.get(answer.headers["location"]).json()
        assert shown["bytes"] == len(content)
        assert shown["payload_kept"] is True


def test_packages_handed_over_at_once_are_all_received_once(client: TestClient) -> None:
    numbers: list[int] = []

    def send(number: int) -> None:
        for _ in range(2):
            answer = _post(client, b"[%d]" % number, f"e{number}")
            assert answer.status_code == 202, answer.text
            numbers.append(answer.json()["package"])

    threads = [threading.Thread(target=send, args=[100 + n]) for n in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(numbers) == 24
    assert len(set(numbers)) == 12


def test_packages_are_listed_page_by_page(client: TestClient) -> None:
    seen = []
    url = "/v1/packages?limit=3"
    while url:
        page = client.get(url).json()
        seen += [one["number"] for one in page["items"]]
        url = page["next"]
    assert seen == sorted(set(seen), reverse=True)
    assert len(seen) > 6
    some = client.get("/v1/packages?source=mill-route&limit=1000").json()["items"]
    assert {one["source"] for one in some} == {"mill-route"}


def test_rejects_are_counted_told_and_replayed(client: TestClient, own: Store) -> None:
    unknown = b'[{"bn":"urn:dev:nobody:","n":"vib-h","u":"m/s","v":0.001,"t":1762992000}]'
    _post(client, unknown, "f1")
    with Ledger.open(own.inbox) as ledger:
        commit_all(own, ledger)
    seq = judge_now(own).snapshot.seq
    end = time.monotonic() + 5
    while client.get("/readyz").json()["snapshot"] < seq:
        assert time.monotonic() < end
        time.sleep(0.02)
    listed = client.get("/v1/rejects").json()
    assert listed["groups"]
    assert listed["items"]
    group = listed["groups"][0]
    assert group["remedy"]
    number = listed["items"][0]["package"]
    of_one = client.get(f"/v1/packages/{number}/rejects").json()["items"]
    assert {one["package"] for one in of_one} == {number}
    replayed = client.post("/v1/replays", json={"packages": [number]})
    assert (replayed.status_code, replayed.json()) == (202, {"packages": [number]})
    assert client.get(f"/v1/packages/{number}").json()["state"] == "received"
    with Ledger.open(own.inbox) as ledger:
        commit_all(own, ledger)
    after = client.get(f"/v1/packages/{number}").json()
    assert (after["state"], after["attempts"]) == ("committed-with-rejects", 2)


def test_sources_say_when_they_were_last_heard_of(client: TestClient) -> None:
    items = client.get("/v1/sources").json()["items"]
    assert {one["source"] for one in items} >= {"cooling-edge", "mill-gateway"}
    assert all(one["last_receipt"] for one in items)


def test_the_registry_is_changed_on_the_version_that_was_read(client: TestClient) -> None:
    url = "/v1/registry"
    before = client.get(url)
    tag = before.headers["etag"]
    row = {
        "site": "raw-water", "asset": "P-104", "name": "Another name",
        "service_state": "in-service",
    }  # fmt: skip
    assert client.patch(url, json={"assets": [row]}).status_code == 428
    dry = client.patch(f"{url}?dry_run=true", json={"assets": [row]}, headers={"If-Match": tag})
    assert dry.json()["changes"]["assets"]["changed"] == 1
    assert client.get(url).headers["etag"] == tag
    done = client.patch(url, json={"assets": [row]}, headers={"If-Match": tag})
    assert done.status_code == 200
    assert done.headers["etag"] == client.get(url).headers["etag"] != tag
    stale = client.patch(url, json={"assets": [row]}, headers={"If-Match": tag})
    assert (stale.status_code, stale.json()["type"]) == (412, "/problems/precondition-failed")
    assert client.get(url, headers={"If-None-Match": done.headers["etag"]}).status_code == 304
    items = client.get("/v1/registry/assets").json()["items"]
    (changed,) = [one for one in items if one["asset"] == "P-104"]
    assert changed["name"] == "Another name"


def test_an_assigned_set_that_cannot_be_used_is_told(client: TestClient) -> None:
    row = {
        "site": "raw-water", "asset": "P-104", "member": "pump", "limit_set": "nope",
        "assigned_from": "2025-01-01T00:00:00Z", "assigned_to": "2999-01-01T00:00:00Z",
        "assigned_by": "N. Obody", "reason": "agreed",
    }  # fmt: skip
    rows = {"limit_assignments": [row]}
    told = [
        "limit_assignments: raw-water/P-104/pump: limit set nope, assigned by N. Obody, is not "
        "loaded"
    ]
    tag = client.get("/v1/registry").headers["etag"]
    for url in ("/v1/registry?dry_run=true", "/v1/registry"):
        answer = client.patch(url, json=rows, headers={"If-Match": tag})
        assert (answer.status_code, answer.json()["notes"]) == (200, told)
    back = {"limit_assignments": [row | {"withdraw": True}]}
    tag = client.get("/v1/registry").headers["etag"]
    assert client.patch("/v1/registry", json=back, headers={"If-Match": tag}).json()["notes"] == []


@pytest.mark.parametrize(
    "rows",
    [
        {"assets": [{"site": "raw-water", "asset": "X"}]},
        {"assets": [{"site": "nowhere", "asset": "X", "name": "x", "service_state": "in-service"}]},
        {"things": []},
        {"assets": [{"site": "raw-water", "asset": "X", "colour": "red"}]},
    ],
)
def test_a_registry_with_faults_changes_nothing(
    client: TestClient, rows: dict[str, list[dict[str, str]]]
) -> None:
    tag = client.get("/v1/registry").headers["etag"]
    answer = client.patch("/v1/registry", json=rows, headers={"If-Match": tag})
    assert (answer.status_code, answer.json()["type"]) == (422, "/problems/faulty-file")
    assert client.get("/v1/registry").headers["etag"] == tag


def test_mappings_are_listed_given_and_replaced(client: TestClient) -> None:
    text = (MAPPINGS / "cooling-edge.toml").read_bytes() + b"# another\n"
    url = "/v1/mappings/cooling-edge"
    toml = {"Content-Type": "application/toml"}
    assert client.put(url, content=text, headers=toml).status_code == 428
    there = client.put(url, content=text, headers={**toml, "If-None-Match": "*"})
    assert (there.status_code, there.json()["type"]) == (412, "/problems/precondition-failed")
    asked = _post(client, b'[{"n":"y","v":1}]', "m1").json()
    before = client.get(url).headers["etag"]
    first = client.put(url, content=text, headers={**toml, "If-Match": before})
    assert (first.status_code, first.json()["given"]) == (200, True)
    again = client.put(url, content=text, headers={**toml, "If-None-Match": "*"})
    assert again.status_code == 412
    shown = client.get(url)
    assert shown.content == text
    newer = client.put(
        url,
        content=text.replace(b"wired", b"wireless"),
        headers={**toml, "If-Match": shown.headers["etag"]},
    )
    assert newer.status_code == 200
    assert newer.json()["version"] != first.json()["version"]
    assert _post(client, b'[{"n":"y","v":1}]', "m1").json() == asked, "its receipt, once more"
    assert _post(client, b'[{"n":"y","v":2}]', "m1").status_code == 422
    anew = _post(client, b'[{"n":"y","v":1}]', "m2").json()
    assert (anew["repeated"], anew["package"] != asked["package"]) == (False, True)
    wrong = client.put("/v1/mappings/other", content=text, headers={**toml, "If-None-Match": "*"})
    assert (wrong.status_code, wrong.json()["type"]) == (422, "/problems/faulty-file")
    listed = client.get("/v1/mappings").json()["items"]
    faulty = client.put(
        url, content=b"name = 1", headers={**toml, "If-Match": client.get(url).headers["etag"]}
    )
    assert faulty.status_code == 422
    assert "mapping of 'cooling-edge': " in faulty.text
    tried = client.post("/v1/mapping-trials", json={"mapping": "name = 1", "content": ""})
    assert "the mapping: " in tried.text
    assert "work-" not in faulty.text + tried.text
    assert ("cooling-edge", True) in {(one["source"], one["given"]) for one in listed}


def test_the_mapping_that_packages_came_with_is_replaced_by_its_tag(client: TestClient) -> None:
    url = "/v1/mappings/mill-gateway"
    shown = client.get(url)
    send = {"Content-Type": "application/toml", "If-Match": '"another"'}
    refused = client.put(url, content=shown.content, headers=send)
    assert (refused.status_code, "is at version mill-gateway@" in refused.text) == (412, True)
    send["If-Match"] = shown.headers["etag"]
    assert client.put(url, content=shown.content, headers=send).json()["given"] is True


def test_a_mapping_is_tried_and_nothing_is_stored(client: TestClient) -> None:
    before = client.get("/v1/packages?limit=1").json()
    asked = {
        "mapping": (MAPPINGS / "cooling-edge.toml").read_text(encoding="utf-8"),
        "file": "x.senml",
        "content": _PACK.decode(),
    }
    done = client.post("/v1/mapping-trials", json=asked).json()
    assert done["counts"]["items"] > 0
    assert done["readings"]
    coded = {**asked, "content": None, "content_base64": base64.b64encode(_PACK).decode()}
    assert client.post("/v1/mapping-trials", json=coded).json() == done
    for wrong in ("IG\u2743N", "IG N", "IGN"):
        answer = client.post("/v1/mapping-trials", json={**coded, "content_base64": wrong})
        assert (answer.status_code, answer.json()["type"]) == (400, "/problems/content-unreadable")
    assert (
        client.post("/v1/mapping-trials", json={"mapping": "x = 1", "content": ""}).status_code
        == 422
    )
    assert client.post("/v1/mapping-trials", json={"mapping": asked["mapping"]}).status_code == 400
    assert client.get("/v1/packages?limit=1").json() == before


def test_the_snapshot_names_files_that_are_there(client: TestClient, own: Store) -> None:
    body = client.get("/v1/snapshot").json()
    tables = {one["table"]: one for one in body["items"]}
    for one in tables.values():
        assert all((own.tables / file["path"]).is_file() for file in one["files"])
        assert one["version"] == body["snapshot"]["versions"][one["table"]]
        assert one["columns"]
    assert tables["readings"]["rows"] > 1000
