"""The server is killed while packages are handed over; what it acknowledged must be there, once."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import httpx

from tests.api.live import free_port
from warehouse.inbox import Ledger
from warehouse.query import open_published, run
from warehouse.services.ingest import commit_all, judge_now
from warehouse.store import open_store

_FIRST = 1_767_225_600
"""2026-01-01: after everything in the examples."""
_SENDERS = 4


@dataclass(slots=True)
class Killed:
    """What came of it: kills, packages acknowledged, lost, and readings that are there twice."""

    kills: int = 0
    acknowledged: int = 0
    lost: int = 0
    doubled: int = 0


@dataclass(slots=True)
class _Sent:
    """Moments handed over, and those acknowledged with their package."""

    next: int = _FIRST
    told: dict[int, int] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def moment(self) -> int:
        """The next moment nobody sent yet."""
        with self.lock:
            self.next += 60
            return self.next


def kill_and_count(template: Path, home: Path, kills: int, seed: int) -> Killed:
    """Kill a server so often while it receives; then take in what it holds, and count."""
    shutil.copytree(template, home)
    chance = random.Random(seed)
    sent, port = _Sent(), free_port()
    killed = Killed()
    while killed.kills < kills:
        _one_life(home, port, sent, chance.uniform(0.1, 1.5))
        killed.kills += 1
        if killed.kills % 5 == 0:
            _take_in(home)
    _take_in(home)
    _count(home, sent, killed)
    return killed


def _one_life(home: Path, port: int, sent: _Sent, seconds: float) -> None:
    command = [
        str(Path(sys.executable).parent / "mcw"), "serve", "--home", str(home),
        "--port", str(port), "--without-keys",
    ]  # fmt: skip
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    assert process.stderr is not None
    process.stderr.readline()
    ended = threading.Event()
    senders = [threading.Thread(target=_send, args=[port, sent, ended]) for _ in range(_SENDERS)]
    for sender in senders:
        sender.start()
    time.sleep(seconds)
    process.kill()
    process.wait()
    process.stderr.close()
    ended.set()
    for sender in senders:
        sender.join()


def _send(port: int, sent: _Sent, ended: threading.Event) -> None:
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=10) as client:
        while not ended.is_set():
            moment = sent.moment()
            try:
                answer = client.post(
                    "/v1/ingest?source=cooling-edge&file=killed.senml",
                    content=_package(moment),
                    headers={"Idempotency-Key": str(moment)},
                )
            except httpx.HTTPError:
                return
            if answer.status_code == 202:
                with sent.lock:
                    sent.told[moment] = answer.json()["package"]


def _package(moment: int) -> bytes:
    pack = [{"bn": "urn:dev:ops:32473-edge1-s01:", "bt": moment, "bu": "m/s", "n": "vib-h",
             "v": 0.0019}]  # fmt: skip
    return json.dumps(pack).encode()


def _take_in(home: Path) -> None:
    store = open_store(home)
    with Ledger.open(store.inbox) as ledger:
        commit_all(store, ledger)


def _count(home: Path, sent: _Sent, killed: Killed) -> None:
    store = open_store(home)
    judged = judge_now(store)
    with open_published(store, judged.snapshot) as session:
        statement = (
            f"FROM readings_current SELECT epoch(ts)::BIGINT AS at WHERE epoch(ts) > {_FIRST}"
        )
        found = Counter(run(session, statement)["at"].to_pylist())
    with Ledger.open(store.inbox) as ledger:
        states = {one.number: one.state for one in ledger.packages()}
    killed.acknowledged = len(sent.told)
    killed.lost = sum(
        not found[moment] or not states.get(package, "").startswith("committed")
        for moment, package in sent.told.items()
    )
    killed.doubled = sum(times > 1 for times in found.values())
    print(f"kills {killed.kills}: {killed.acknowledged} packages acknowledged", flush=True)
