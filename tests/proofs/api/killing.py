"""The server is killed while packages are handed over; what it acknowledged must be there, once."""

from __future__ import annotations

import datetime as dt
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
from tests.warehouse.services.small_plant import make_plant, write_mapping
from warehouse.inbox import Ledger
from warehouse.query import open_published, run
from warehouse.services.ingest import commit_all, judge_now
from warehouse.services.mappings import keep_mapping
from warehouse.store import open_store

_FIRST = 1_767_225_600
"""2026-01-01: after everything in the small plant."""
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


def kill_and_count(home: Path, kills: int, seed: int, seconds: float) -> Killed:
    """Kill a server so often while it receives; then take in what it holds, and count.

    On a busy machine as often as `seconds` allow.
    """
    _make(home)
    chance = random.Random(seed)
    sent, port = _Sent(), free_port()
    killed, until = Killed(), time.monotonic() + seconds
    while killed.kills < kills and time.monotonic() < until:
        _one_life(home, port, sent, chance.uniform(0.1, 1.5))
        killed.kills += 1
        if killed.kills % 5 == 0:
            _take_in(home)
    _take_in(home)
    _count(home, sent, killed)
    return killed


def _make(home: Path) -> None:
    """A plant of one machine: a server over it starts fast, and judging it takes no time."""
    plant = make_plant(home.parent / f"{home.name}-plant", {"clock": "data"})
    shutil.copytree(plant.store.home, home)
    store = open_store(home)
    text = write_mapping(plant.folder).read_text(encoding="utf-8")
    keep_mapping(store, "logger", text, None)
    judge_now(store)


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
                    "/v1/ingest?source=logger&file=killed.csv",
                    content=_package(moment),
                    headers={"Idempotency-Key": str(moment)},
                )
            except httpx.HTTPError:
                return
            if answer.status_code == 202:
                with sent.lock:
                    sent.told[moment] = answer.json()["package"]


def _package(moment: int) -> bytes:
    at = dt.datetime.fromtimestamp(moment, dt.UTC)
    return f"device,channel,time,value\nL1,1,{at:%Y-%m-%dT%H:%M:%S},1.90\n".encode()


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
