"""Following the store: new states appear, pages stay pinned, `mcw serve` as a real process."""

from __future__ import annotations

import datetime as dt
import http.client
import json
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.app import create_app
from api.command import _listen
from ingest_examples import MAPPINGS
from tests.warehouse.cli.running import mcw
from tests.warehouse.limits.own_sets import OWN_SET, write_own
from warehouse import clock
from warehouse.services.ingest import judge_now
from warehouse.services.serving import STATES_HELD, Serving
from warehouse.store import Store, open_store
from warehouse.store.snapshot import SnapshotWatch, newest, publish

_MCW = Path(sys.executable).parent / "mcw"


@pytest.fixture
def own(home: Path, tmp_path: Path) -> Store:
    """A copy of the judged store that a test may write to."""
    shutil.copytree(home, tmp_path / "store")
    return open_store(tmp_path / "store", {"poll_seconds": 0.02})


def _wait(condition: Callable[[], bool], seconds: float = 5.0) -> float:
    start = time.monotonic()
    while not condition():
        assert time.monotonic() - start < seconds, "it did not come to pass in time"
        time.sleep(0.01)
    return time.monotonic() - start


def _publish(store: Store) -> int:
    before = newest(store)
    assert before is not None
    return publish(store, before.as_of).seq


def test_the_watch_sees_each_new_state_once(own: Store) -> None:
    watch = SnapshotWatch(own)
    first = watch.newer()
    assert first is not None
    assert watch.newer() is None
    assert watch.newer() is None
    seq = _publish(own)
    second = watch.newer()
    assert second is not None
    assert (second.seq, seq) == (first.seq + 1, first.seq + 1)
    assert watch.newer() is None
    watch.again()
    assert watch.newer() == second


def test_a_new_state_is_served_without_a_restart(own: Store) -> None:
    with TestClient(create_app(own, without_keys=True), base_url="http://localhost") as client:
        before = client.get("/v1/assets/board-mill/G-232/condition")
        seq = _publish(own)
        _wait(lambda: bool(client.get("/readyz").json()["snapshot"] == seq))
        after = client.get("/v1/assets/board-mill/G-232/condition")
    assert after.json()["snapshot"]["seq"] == seq == before.json()["snapshot"]["seq"] + 1
    # nothing of what was judged changed, so a copy at hand is still right
    assert after.headers["etag"] == before.headers["etag"]
    assert after.headers["snapshot-seq"] == str(seq)
    assert after.json()["evidence"] == before.json()["evidence"]


def test_a_server_tells_that_judging_is_stopped_and_serves_on(own: Store) -> None:
    def told() -> tuple[int, str, str | None, bool]:
        ready, listed = client.get("/readyz"), client.get("/v1/assets")
        gauge = "mcw_rule_faults 0.0" not in client.get("/metrics").text
        return ready.status_code, ready.json()["judging"], listed.headers.get("judging"), gauge

    with TestClient(create_app(own, without_keys=True), base_url="http://localhost") as client:
        assert told() == (200, "possible", None, False)
        file = write_own(own.limits, OWN_SET.replace("alarm", "alrm"), None) / "works.toml"
        _wait(lambda: told() == (200, "stopped", "stopped", True))
        file.unlink()
        _wait(lambda: told() == (200, "possible", None, False))


def test_pages_stay_with_the_state_of_the_first_for_a_day(
    own: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    with TestClient(create_app(own, without_keys=True), base_url="http://localhost") as client:
        page = client.get("/v1/assets?limit=20").json()
        first = page["snapshot"]["seq"]
        for _ in range(STATES_HELD + 1):  # past what is held, it is read again
            _publish_and_wait(own, client)
            assert client.get(page["next"]).json()["snapshot"]["seq"] == first
        assert client.get("/v1/assets").json()["snapshot"]["seq"] == first + STATES_HELD + 1
        later = clock.now() + dt.timedelta(hours=24, seconds=1)
        monkeypatch.setattr(clock, "now", lambda: later)
        gone = client.get(page["next"])
        assert gone.status_code == 410
        assert gone.json()["type"] == "/problems/snapshot-expired"


def test_a_state_whose_files_are_gone_is_told_as_gone(own: Store) -> None:
    with TestClient(create_app(own, without_keys=True), base_url="http://localhost") as client:
        page = client.get("/v1/assets?limit=20").json()
        before = list((own.tables / "condition_current").glob("*.parquet"))
        judge_now(own)
        for _ in range(STATES_HELD):
            _publish_and_wait(own, client)
        for file in before:
            file.unlink()
        gone = client.get(page["next"])
    assert (gone.status_code, gone.json()["type"]) == (410, "/problems/snapshot-expired")


def _publish_and_wait(store: Store, client: TestClient) -> None:
    seq = _publish(store)
    _wait(lambda: bool(client.get("/readyz").json()["snapshot"] == seq))


def test_a_state_that_cannot_be_read_leaves_the_last_one_served(
    own: Store, caplog: pytest.LogCaptureFixture
) -> None:
    (file,) = (own.tables / "condition_current").glob("*.parquet")
    serving = Serving(own)
    serving.start()
    try:
        away = file.rename(file.with_suffix(".away"))
        _publish(own)
        _wait(lambda: "cannot follow the store" in caplog.text)
        assert serving.current is not None
        assert serving.current.snapshot.seq == 1
        away.rename(file)
        _wait(lambda: serving.current is not None and serving.current.snapshot.seq == 2)
    finally:
        serving.stop()


@contextmanager
def _server(home: Path, folder: Path | None = None) -> Iterator[tuple[Any, int]]:
    command = [str(_MCW), "serve", "--home", str(home), "--port", "0", "--without-keys"]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, cwd=folder)
    assert process.stderr is not None
    try:
        line = process.stderr.readline()
        found = re.fullmatch(
            r"Serving at http://(?:127\.0\.0\.1|\[::1\]):(\d+), described at \S+/docs\n", line
        )
        assert found, line + process.stderr.read()
        yield process, int(found.group(1))
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        process.stderr.close()


def _get(port: int, path: str) -> tuple[int, dict[str, Any]]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", path)
        response = connection.getresponse()
        return response.status, json.loads(response.read())
    finally:
        connection.close()


def test_a_reading_taken_in_by_another_process_is_served_within_two_seconds(
    own: Store, tmp_path: Path
) -> None:
    state = newest(own)
    assert state is not None
    moment = int(state.as_of.timestamp()) + 3600
    sent = tmp_path / "one.senml"
    pack = [
        {
            "bn": "urn:dev:ops:32473-edge1-s01:",
            "bt": moment,
            "bu": "m/s",
            "n": "vib-h",
            "v": 0.0019,
        },
        {"n": "speed", "u": "Hz", "v": 49.6},
    ]
    sent.write_text(json.dumps(pack), encoding="utf-8")
    mapping = MAPPINGS / "cooling-edge.toml"
    with _server(own.home) as (_, port):
        before = _get(port, _MEASURED)[1]
        ended = mcw("ingest", sent, "--mapping", mapping, "--home", own.home, "--json")
        returned = time.monotonic()
        assert json.loads(ended.out)[0]["accepted"] == 2
        expected = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(moment))
        _wait(lambda: expected in _moments(_get(port, _MEASURED)[1]))
        assert time.monotonic() - returned < 2.0
        after = _get(port, _MEASURED)[1]
    assert expected not in _moments(before)
    assert after["snapshot"]["seq"] == before["snapshot"]["seq"] + 1
    assert after["as_of"] == expected


_DEVICE = "urn:dev:ops:32473-edge1-s01:"
_MEASURED = "/v1/assets/district-cooling/C-301/condition"


def _moments(body: dict[str, Any]) -> set[str]:
    return {point["measured_at"] for point in body["points"]}


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_it_cleanly_wherever_it_is_started(
    home: Path, tmp_path: Path, number: int
) -> None:
    # Stray files of the names of our packages must not be taken for them.
    for name in ("api.py", "app.py", "warehouse.py", "uvicorn.py"):
        (tmp_path / name).write_text("raise SystemExit(99)\n", encoding="utf-8")
    with _server(home, folder=tmp_path) as (process, port):
        assert _get(port, "/livez") == (200, {"status": "alive"})
        process.send_signal(number)
        assert process.wait(10) == 0
        assert process.stderr.read() == ""


def _refused(*options: str, home: Path) -> tuple[int, str]:
    ended = mcw("serve", "--home", home, "--without-keys", *options)
    assert ended.out == ""
    return ended.code, ended.err


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7"])
def test_an_address_others_can_reach_is_refused(home: Path, host: str) -> None:
    code, told = _refused("--host", host, home=home)
    assert code == 3
    assert "without keys nobody could say" in told
    assert "127.0.0.1" in told


def test_a_name_that_is_no_address_is_refused(home: Path) -> None:
    code, told = _refused("--host", "no.such.invalid", home=home)
    assert (code, "is no address" in told) == (3, True)


def test_answers_do_not_wait_for_the_acknowledgement_of_their_first_packet() -> None:
    # asyncio sets TCP_NODELAY on connections of a socket that names its protocol, and on no other.
    with _listen("127.0.0.1", 0) as listening:
        assert listening.proto == socket.IPPROTO_TCP


def test_a_port_in_use_is_refused(home: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        code, told = _refused("--port", str(port), home=home)
    assert (code, f"port {port} is not to be had" in told) == (3, True)


def test_a_port_out_of_range_and_a_store_that_is_not_there_are_refused(
    home: Path, tmp_path: Path
) -> None:
    code, told = _refused("--port", "70000", home=home)
    assert (code, "port" in told) == (3, True)
    code, told = _refused(home=tmp_path / "nothing")
    assert (code, "there is no store" in told) == (6, True)


def test_several_servers_over_one_store_agree(home: Path) -> None:
    apps = [create_app(open_store(home), without_keys=True) for _ in range(2)]
    with (
        TestClient(apps[0], base_url="http://localhost") as first,
        TestClient(apps[1], base_url="http://localhost") as second,
    ):
        page = first.get("/v1/conditions?limit=5").json()
        assert second.get(page["next"]).json() == first.get(page["next"]).json()
        for path in (_MEASURED, "/v1/assets", "/v1/tables/assets", "/v1/changes"):
            one, other = first.get(path), second.get(path)
            assert one.content == other.content
            assert one.headers.get("etag") == other.headers.get("etag")
