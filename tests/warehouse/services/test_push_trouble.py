"""Trouble of targets as `mcw run` says it: once, until it is over or another."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.warehouse.push.handling import hurry, standing
from tests.warehouse.push.target import Receiver, receiving
from warehouse import clock
from warehouse.push.outbox import Outbox
from warehouse.services.pushing import Pusher, PushThread, Wanted, ping, subscribe
from warehouse.store import Store, create_store

_SETTINGS = {"push_targets": "http://127.0.0.1:*", "push_seconds": 0.5, "idle_seconds": 0.02}


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """A store in which nothing was judged: pings are told all the same."""
    return create_store(tmp_path / "store", _SETTINGS)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as receiver:
        yield receiver


def test_the_same_trouble_is_said_once_until_something_is_taken(
    store: Store, receiver: Receiver
) -> None:
    subscribe(store, Wanted("cmms", receiver.url))
    ping(store, "cmms")
    said: list[str] = []
    thread = PushThread(store, said.append)
    thread.start()
    try:
        for status in (503, 503, 204, 503):
            tried, receiver.statuses = len(receiver.received), [status]
            if status == 204 or not standing(store).waiting:
                ping(store, "cmms")
            hurry(store)
            _wait(lambda before=tried: len(receiver.received) > before)  # type: ignore[misc]
            failing = status == 503
            _wait(lambda bad=failing: (standing(store).failures > 0) is bad)  # type: ignore[misc]
            time.sleep(0.2)  # rounds in which nothing is due
            if failing:
                one = standing(store)
                assert (one.trouble, one.failing_since is None) == ("answered 503", False)
                assert one.next_at is not None
                assert one.next_at > clock.now()
    finally:
        thread.stop()
    trouble = "push: 0 messages delivered; cmms: answered 503"
    assert said == [trouble, trouble]


def _wait(done: Callable[[], bool]) -> None:
    until = time.monotonic() + 10
    while not done():
        assert time.monotonic() < until
        time.sleep(0.02)


def test_an_outbox_of_before_is_completed(store: Store, receiver: Receiver) -> None:
    subscribe(store, Wanted("cmms", receiver.url))
    ping(store, "cmms")
    receiver.statuses = [500]
    Pusher(store).once()
    with Outbox.open(store.home) as outbox:
        outbox._connection.execute("ALTER TABLE deliveries DROP COLUMN anew_at")
    receiver.statuses = [200]
    with Outbox.open(store.home) as outbox:
        one = standing(store)
        before = [row["queued_at"] for row in outbox.log(one.id, 10)]
        outbox.enable(one.id)
        assert [row["queued_at"] for row in outbox.log(one.id, 10)] == before
    assert Pusher(store).once().delivered == len(before)
