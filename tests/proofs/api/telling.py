"""Deliveries are killed and targets misbehave; in the end each message was taken, from one row."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from standardwebhooks.webhooks import Webhook, WebhookVerificationError

from tests.warehouse.push.handling import hurry, standing
from tests.warehouse.push.target import Receiver, receiving
from warehouse.push.envelope import STREAMS
from warehouse.push.outbox import Outbox
from warehouse.services.push_events import happened_after
from warehouse.services.pushing import Pusher, Wanted, subscribe
from warehouse.store import Store, open_store
from warehouse.store.snapshot import newest

_SETTINGS = {"push_targets": "http://127.0.0.1:*", "push_seconds": 0.5, "key_rate": 0}


@dataclass(slots=True)
class Told:
    """What came of it: kills, events, lost ones, rows too many, messages changed or forged."""

    kills: int = 0
    events: int = 0
    lost: int = 0
    doubled: int = 0
    forged: int = 0

    @property
    def sound(self) -> bool:
        """Whether all of them were told, each from one row, as it was."""
        return bool(self.events) and not (self.lost or self.doubled or self.forged)


def tell_and_kill(template: Path, home: Path, kills: int, seed: int) -> Told:
    """Kill `mcw deliver` so often against a target of many moods; then let it finish, and count."""
    shutil.copytree(template, home)
    toml = home / "mcw.toml"
    lines = [f"{n} = {v!r}".replace("'", '"') for n, v in _SETTINGS.items()]
    toml.write_text(toml.read_text(encoding="utf-8") + "\n" + "\n".join(lines) + "\n", "utf-8")
    store, chance = open_store(home), random.Random(seed)
    told = Told()
    with receiving() as receiver:
        wanted = Wanted("target", receiver.url, ("case", "level"), from_start=True)
        _, secret = subscribe(store, wanted)
        while told.kills < kills:
            _one_life(home, receiver, chance)
            told.kills += 1
            hurry(store)
        receiver.statuses, receiver.wait, receiver.drip = [204], 0.0, False
        _finish(store)
        _count(store, receiver, secret, told)
    print(f"push: {told.kills} kills, {told.events} events told", flush=True)
    return told


def _one_life(home: Path, receiver: Receiver, chance: random.Random) -> None:
    receiver.statuses = chance.choices([204, 200, 500, 503, 429, 307, 422, 404], k=500)
    receiver.wait = chance.choice([0.0, 0.0, 0.02, 1.0])
    receiver.drip = chance.random() < 0.1
    command = [str(Path(sys.executable).parent / "mcw"), "deliver", "--home", str(home)]
    process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    before, until = len(receiver.received), time.monotonic() + 20
    while len(receiver.received) == before and process.poll() is None and time.monotonic() < until:
        time.sleep(0.01)  # once it is at it, it is killed somewhere in it
    time.sleep(chance.uniform(0.0, 0.3))
    process.kill()
    process.wait()


def _finish(store: Store) -> None:
    until = time.monotonic() + 60
    while standing(store, "target").waiting and time.monotonic() < until:
        with Outbox.open(store.home) as outbox:
            outbox.enable(standing(store, "target").id)
        Pusher(store).once(wait=True)


def _count(store: Store, receiver: Receiver, secret: str, told: Told) -> None:
    snapshot = newest(store)
    assert snapshot is not None
    with Outbox.open(store.home) as outbox:
        log = outbox.log(standing(store, "target").id, 100_000)
    inbox_id = log[0]["event"].partition(".")[0]
    expected = {
        happened.event.id
        for stream in STREAMS
        for happened in happened_after(store, snapshot, stream, 0, inbox_id)
    }
    told.events = len(expected)
    taken = {row["event"] for row in log if row["state"] == "delivered"}
    told.lost = len(expected - (taken & set(receiver.ids())))
    told.doubled = len(log) - len(expected)
    bodies: dict[str, bytes] = {}
    for one in receiver.received:
        same = bodies.setdefault(one.headers["webhook-id"], one.body) == one.body
        try:
            Webhook(secret).verify(one.body, one.headers)
        except WebhookVerificationError:
            same = False
        told.forged += not same
