"""Several processes behind one address: they agree, follow, are replaced, and end together."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.api.waiting import until
from tests.warehouse.services.small_plant import Plant, make_plant, series, write_mapping
from warehouse.inbox import Ledger
from warehouse.services.ingest import judge_now
from warehouse.services.mappings import keep_mapping

_MCW = Path(sys.executable).parent / "mcw"
_PATIENCE = 1 if os.environ.get("QUIET") == "1" else 10
"""The times hold on a machine with nothing else to do: `make prove-api` holds them."""
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="one process there")


@dataclass(slots=True)
class _Server:
    """A server of several workers, and what it says."""

    process: subprocess.Popen[str]
    url: str = ""
    said: list[str] = field(default_factory=list)

    def processes(self) -> list[int]:
        """Ids of the workers that answered something, in order, each once."""
        lines = [json.loads(line) for line in self.said if line.startswith("{")]
        return list(dict.fromkeys(line["process"] for line in lines))

    def by_request(self) -> dict[str, int]:
        """The worker that answered each request."""
        lines = [json.loads(line) for line in self.said if line.startswith("{")]
        return {line["request"]: line["process"] for line in lines}


@contextmanager
def _serving(home: Path, *options: str) -> Iterator[_Server]:
    environment = {**os.environ, "MCW_REQUEST_LOG": "true"}
    command = [str(_MCW), "serve", "--home", str(home), "--port", "0", "--without-keys", *options]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=environment)
    server = _Server(process)
    assert process.stderr is not None
    error = process.stderr

    def read() -> None:
        for line in error:
            if found := re.match(r"Serving at (http://\S+?), ", line):
                server.url = found.group(1)
            server.said.append(line)

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    try:
        until(lambda: bool(server.url) or process.poll() is not None, 60)
        yield server
    finally:
        process.terminate()
        process.wait(30)
        reader.join()
        error.close()


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    """A small plant, judged, whose server knows its logger's mapping."""
    plant = make_plant(tmp_path_factory.mktemp("workers"), {"clock": "data"})
    plant.ingest(series(0, 200))
    judge_now(plant.store)
    text = write_mapping(plant.folder).read_text(encoding="utf-8")
    keep_mapping(plant.store, "logger", text, None)
    return plant


@pytest.fixture(scope="module")
def server(plant: Plant) -> Iterator[_Server]:
    with _serving(plant.store.home, "--workers", "2") as server:
        assert server.url, server.said
        yield server
        server.process.terminate()
        assert server.process.wait(20) == 0
        assert not any(_alive(pid) for pid in server.processes())


def _one_for_each(server: _Server, stack: ExitStack) -> list[httpx.Client]:
    """A client with a standing connection to each of the two workers."""
    found: dict[int, httpx.Client] = {}
    for _ in range(200):
        client = stack.enter_context(httpx.Client(base_url=server.url, timeout=30))
        found.setdefault(_process_of(server, client), client)
        if len(found) == 2:
            return list(found.values())
    raise AssertionError("one worker takes every caller")


def _process_of(server: _Server, client: httpx.Client) -> int:
    """The worker that a standing connection leads to."""
    name = f"looking-{time.monotonic_ns()}"
    assert client.get("/readyz", headers={"X-Request-Id": name}).status_code == 200
    until(lambda: name in server.by_request(), 5)
    return server.by_request()[name]


def _post(client: httpx.Client, first: int, name: str) -> Any:
    rows = [",".join(row) for row in series(first, 1, value=3.0)]
    content = "\n".join(["device,channel,time,value", *rows])
    url = f"/v1/ingest?source=logger&file={name}.csv"
    return client.post(url, content=content.encode(), headers={"Idempotency-Key": name})


def test_both_answer_and_agree(server: _Server) -> None:
    with ExitStack() as stack:
        clients = _one_for_each(server, stack)
        for path in ("/v1/assets", "/v1/assets/works/M-1/condition", "/v1/conditions?format=csv",
                     "/v1/cases"):  # fmt: skip
            answers = [client.get(path) for client in clients]
            assert len({answer.headers["etag"] for answer in answers}) == 1, path
            assert len({answer.content for answer in answers}) == 1
            tag = {"If-None-Match": answers[0].headers["etag"]}
            assert [client.get(path, headers=tag).status_code for client in clients] == [304, 304]
        page = clients[0].get("/v1/assets?limit=1").json()
        assert clients[1].get(page["next"]).json()["items"] != page["items"]


def test_receipts_of_both_go_into_one_ledger(server: _Server, plant: Plant) -> None:
    with ExitStack() as stack:
        clients = _one_for_each(server, stack)
        with Ledger.open(plant.store.inbox) as ledger:
            before = len(ledger.packages())
        told: list[int] = []

        def send(client: httpx.Client, start: int) -> None:
            for number in range(start, start + 20):
                answer = _post(client, 1000 + number, f"both-{number}")
                assert answer.status_code == 202, answer.text
                told.append(answer.json()["package"])

        senders = [threading.Thread(target=send, args=(clients[n], 20 * n)) for n in range(2)]
        for sender in senders:
            sender.start()
        for sender in senders:
            sender.join()
        assert len(set(told)) == 40
        again = [_post(client, 1000, "both-0").json()["package"] for client in clients]
        assert len(set(again)) == 1, "the same request gets the same receipt from either"
        with Ledger.open(plant.store.inbox) as ledger:
            assert len(ledger.packages()) == before + 40
            assert set(told) <= {one.number for one in ledger.packages()}


@pytest.mark.slow
def test_a_reading_is_judged_in_ten_seconds_and_seen_in_each_within_two(
    server: _Server, plant: Plant
) -> None:
    environment = {**os.environ, "MCW_COMMIT_SECONDS": "0", "MCW_IDLE_SECONDS": "0.2"}
    command = [str(_MCW), "run", "--home", str(plant.store.home)]
    with (
        ExitStack() as stack,
        subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=environment) as runner,
    ):
        try:
            clients = _one_for_each(server, stack)
            assert runner.stderr is not None
            runner.stderr.readline()
            _until_quiet(clients)
            handed = time.monotonic()
            assert _post(clients[0], 5000, "new").status_code == 202
            seen: dict[int, float] = {}
            while len(seen) < 2:
                for number, client in enumerate(clients):
                    if number not in seen and _has_it(client):
                        seen[number] = time.monotonic()
                assert time.monotonic() < handed + 10 * _PATIENCE
                time.sleep(0.05)
            assert abs(seen[0] - seen[1]) < 2 * _PATIENCE
            tags = {client.get("/v1/assets").headers["etag"] for client in clients}
            assert len(tags) == 1
        finally:
            runner.terminate()
            runner.communicate(timeout=60)


def _has_it(client: httpx.Client) -> bool:
    asked = "/v1/readings?from=2025-06-04T11:00:00Z&column=ts&limit=1"
    return bool(client.get(asked).json()["items"])


def _until_quiet(clients: list[httpx.Client]) -> None:
    """Until what came before is taken in and judged, so that the next is timed alone."""

    def quiet() -> bool:
        waiting = clients[0].get("/v1/packages?state=received&limit=1").json()["items"]
        counted = "/v1/readings?from=2025-06-01T16:40:00Z&column=ts&limit=1000"
        return not waiting and all(
            len(client.get(counted).json()["items"]) == 40 for client in clients
        )

    until(quiet, 60 + 6 * _PATIENCE)


def test_figures_are_counted_together(server: _Server) -> None:
    def counted(client: httpx.Client) -> float:
        label = 'mcw_requests_total{method="GET",route="/v1/assets",status="200"} '
        lines = client.get("/metrics").text.splitlines()
        return next((float(li[len(label) :]) for li in lines if li.startswith(label)), 0.0)

    with ExitStack() as stack:
        clients = _one_for_each(server, stack)
        before = counted(clients[0])
        for client in clients * 5:
            client.get("/v1/assets?limit=3")
        assert [counted(client) - before for client in clients] == [10, 10]
        assert "mcw_snapshot_seq" in clients[0].get("/metrics").text


@pytest.mark.slow
def test_one_that_dies_is_replaced_and_none_outlives_the_first(plant: Plant) -> None:
    with _serving(plant.store.home, "--workers", "2") as server, ExitStack() as stack:
        _one_for_each(server, stack)
        first = server.processes()
        assert len(first) == 2
        os.kill(first[0], signal.SIGKILL)
        with httpx.Client(base_url=server.url, timeout=10) as client:
            assert client.get("/v1/assets").status_code == 200, "the other goes on"

        def replaced() -> bool:
            with httpx.Client(base_url=server.url, timeout=10) as client:
                client.get("/readyz")
            return len(server.processes()) == 3

        until(replaced, 30)
        assert any("another takes its place" in line for line in server.said)
        server.process.kill()  # nobody is left to end them: they end by themselves
        server.process.wait()
        until(lambda: not any(_alive(pid) for pid in server.processes()), 15)


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{process}/stat")
    return not state.exists() or state.read_text().rpartition(")")[2].split()[0] != "Z"


@pytest.mark.slow
def test_what_keeps_one_from_starting_ends_all(tmp_path: Path, plant: Plant) -> None:
    home = tmp_path / "store"
    shutil.copytree(plant.store.home, home)
    (home / "tables" / "snapshots" / "_delta_log").rename(tmp_path / "log")
    command = [str(_MCW), "serve", "--home", str(home), "--port", "0", "--without-keys",
               "--workers", "2"]  # fmt: skip
    ended = subprocess.run(command, capture_output=True, text=True, timeout=90, check=False)
    assert ended.returncode != 0
    assert "Serving at" not in ended.stderr
    refused = [*command[:-1], "0"]
    ended = subprocess.run(refused, capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 3
    assert "workers" in ended.stderr


@pytest.mark.slow
def test_a_file_named_as_ours_stands_in_for_nothing(tmp_path: Path, plant: Plant) -> None:
    (tmp_path / "api.py").write_text("raise SystemExit('the wrong one')\n", encoding="utf-8")
    command = [str(_MCW), "serve", "--home", str(plant.store.home), "--port", "0",
               "--without-keys", "--workers", "2"]  # fmt: skip
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, cwd=tmp_path)
    assert process.stderr is not None
    try:
        assert process.stderr.readline().startswith("Serving at")
    finally:
        process.terminate()
        process.communicate(timeout=30)
