"""Others are told of cases and levels, each once, whatever their targets do; nothing is lost."""

from __future__ import annotations

import datetime as dt
import shutil
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from standardwebhooks.webhooks import Webhook

from tests.warehouse.push.handling import hurry, pause, standing
from tests.warehouse.push.target import Receiver, receiving
from tests.warehouse.services.small_plant import make_plant, series
from warehouse import clock
from warehouse.errors import BusyError, NotFoundError, PushError
from warehouse.push.outbox import Outbox, Subscription
from warehouse.query import open_published, run
from warehouse.services import cases
from warehouse.services.ingest import judge_now
from warehouse.services.locks import holding
from warehouse.services.pushing import DELAYS, Pusher, PushThread, Wanted, ping, subscribe
from warehouse.store import Store, open_store
from warehouse.store.snapshot import newest

_KINDS = ["opened", "confirmed", "work-requested"]
_ALLOWED = {"push_targets": "http://127.0.0.1:*", "push_seconds": 0.5}


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant with a case of three notifications, judged."""
    plant = make_plant(tmp_path_factory.mktemp("push"), {"clock": "data"})
    plant.ingest(series(0, 200, value=9.0))
    judge_now(plant.store)
    (case,) = cases.list_cases(plant.store)
    cases.act(plant.store, case["case_id"], "confirm", "A. Example", comment="heard it too")
    cases.act(plant.store, case["case_id"], "request", "A. Example", order_id="4711")
    assert [row["kind"] for row in cases.notices(plant.store)] == _KINDS
    return plant.store.home


@pytest.fixture
def store(template: Path, tmp_path: Path) -> Store:
    shutil.copytree(template, tmp_path / "store")
    return open_store(tmp_path / "store", _ALLOWED)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as receiver:
        yield receiver


def _subscribe(store: Store, receiver: Receiver, *streams: str, name: str = "cmms") -> Subscription:
    wanted = Wanted(name, receiver.url, streams or ("case",), from_start=True)
    return subscribe(store, wanted)[0]


def _act(store: Store) -> None:
    """One notification more."""
    (case,) = cases.list_cases(store)
    day = dt.date(2030, 1, 1)
    cases.act(store, case["case_id"], "defer", "A. Example", until=day)


def test_a_notification_is_told_once_signed_and_whole(store: Store, receiver: Receiver) -> None:
    one, secret = subscribe(store, Wanted("cmms", receiver.url, from_start=True))
    done = Pusher(store).once()
    assert (done.queued, done.delivered, done.failed) == (3, 3, {})
    received = receiver.received[0]
    told = Webhook(secret).verify(received.body, received.headers)
    assert received.headers["content-type"].startswith("application/cloudevents+json")
    assert received.headers["webhook-id"] == told["id"]
    notice = cases.notices(store)[0]
    assert [one.event["type"] for one in receiver.received] == [f"mcw.case.{k}" for k in _KINDS]
    assert len(set(receiver.ids())) == 3
    assert told["type"] == "mcw.case.opened"
    assert told["data"]["notice"] == notice["notice"]
    assert told["data"]["reason"] == notice["reason"]
    assert told["data"]["summary"]["action_class"] == "plan-repair"
    assert "isolation" in told["data"]["caution"]
    assert Pusher(store).once().delivered == 0
    judge_now(store)
    assert Pusher(store).once().delivered == 0
    assert standing(store).delivered == 3
    assert one.id == standing(store).id


@pytest.mark.slow
def test_what_comes_later_is_told(store: Store, receiver: Receiver) -> None:
    subscribe(store, Wanted("cmms", receiver.url))
    pusher = Pusher(store)
    assert pusher.once().delivered == 0, "what was there before is not told unless asked for"
    _act(store)
    assert pusher.once().delivered == 1
    assert receiver.received[0].event["type"] == "mcw.case.deferred"


def test_levels_are_told_to_those_who_ask(store: Store, receiver: Receiver) -> None:
    _subscribe(store, receiver, "level", name="levels")
    _subscribe(store, receiver, "case", "level", name="both")
    Pusher(store).once()
    types = sorted(one.event["type"] for one in receiver.received)
    assert types[:3] == [f"mcw.case.{kind}" for kind in sorted(_KINDS)]
    assert set(types[3:]) == {"mcw.level.changed"}
    assert len(types[3:]) == 2 * len(_levels(store))
    level = next(one.event for one in receiver.received if "level" in one.event["type"])
    assert (level["data"]["level_from"], level["subject"]) == (None, "works/M-1")
    assert "caution" in level["data"]


def _levels(store: Store) -> list[dict[str, object]]:
    snapshot = newest(store)
    assert snapshot is not None
    with open_published(store, snapshot) as session:
        told = "FROM condition_log WHERE scope = 'asset' AND level_to IS DISTINCT FROM level_from"
        rows: list[dict[str, object]] = run(session, told).to_pylist()
    return rows


def test_of_other_sites_nothing_is_told(store: Store, receiver: Receiver) -> None:
    with pytest.raises(PushError, match="not registered"):
        subscribe(store, Wanted("cmms", receiver.url, sites=("elsewhere",)))
    with Outbox.open(store.home) as outbox:
        outbox.add("other", receiver.url, ("case",), ("elsewhere",), {"case": 0, "level": 0}, "x")
    assert Pusher(store).once().delivered == 0
    assert standing(store, "other").case_after > 0


@pytest.mark.parametrize("fault", ["down", "slow", "drip", "500", "redirect", "429"])
def test_a_bad_target_is_tried_later_and_nothing_is_lost(
    store: Store, receiver: Receiver, fault: str
) -> None:
    _subscribe(store, receiver)
    told = {
        "down": "refused", "slow": "no answer within", "drip": "no answer within",
        "500": "answered 500", "redirect": "answered 307", "429": "answered 429",
    }  # fmt: skip
    if fault == "down":
        with socket.create_server(("127.0.0.1", 0)) as taken:
            dead = f"http://127.0.0.1:{taken.getsockname()[1]}/"
        with Outbox.open(store.home) as outbox:
            outbox._connection.execute("UPDATE subscriptions SET url = ?", [dead])
    receiver.wait = 1.0 if fault == "slow" else 0.0
    receiver.drip = fault == "drip"
    receiver.statuses = [{"500": 500, "redirect": 307, "429": 429}.get(fault, 204)]
    receiver.headers = {"Location": receiver.url, "Retry-After": "120"}
    begun = time.monotonic()
    done = Pusher(store).once()
    assert time.monotonic() - begun < 5
    assert done.delivered == 0
    assert told[fault].lower() in done.failed["cmms"].lower() or fault == "down"
    one = standing(store)
    assert (one.state, one.failures, one.waiting) == ("active", 1, 3)
    assert one.pause_until is not None
    wait = (one.pause_until - clock.now()).total_seconds()
    assert wait > 100 if fault in ("500", "redirect", "429") else wait < 10
    assert len(receiver.received) == (fault != "down")
    pause(store)
    assert Pusher(store).once().delivered == 0, "the target is left alone meanwhile"
    receiver.wait, receiver.drip, receiver.statuses = 0.0, False, [204]
    with Outbox.open(store.home) as outbox:
        outbox._connection.execute("UPDATE subscriptions SET url = ?", [receiver.url])
    before = len(receiver.received)
    hurry(store)
    assert Pusher(store).once().delivered == 3
    assert len(receiver.received) == before + 3
    one = standing(store)
    assert (one.failures, one.waiting, one.delivered) == (0, 0, 3)
    with Outbox.open(store.home) as outbox:
        log = outbox.log(one.id, 10)
        assert [row["attempts"] for row in log] == [1, 1, 2]
        assert [row["status"] for row in outbox.attempts(log[2]["number"])][-1] == 204


def test_one_bad_target_does_not_hold_up_another(store: Store, receiver: Receiver) -> None:
    with receiving() as slow:
        slow.wait = 2.0
        _subscribe(store, slow, name="slow")
        _subscribe(store, receiver, name="well")
        assert Pusher(store).once().delivered == 3
        assert len(receiver.received) == 3


def test_the_wait_grows_to_hours_and_ends_after_days(store: Store, receiver: Receiver) -> None:
    _subscribe(store, receiver)
    receiver.statuses = [503]
    waits = []
    for _ in range(len(DELAYS) + 1):
        Pusher(store).once()
        pause = standing(store).pause_until
        assert pause is not None
        waits.append((pause - clock.now()).total_seconds())
        hurry(store)
    for wait, delay in zip(waits, (*DELAYS, DELAYS[-1]), strict=True):
        assert 0.7 * delay < wait <= 1.2 * delay
    long_ago = (clock.now() - dt.timedelta(days=6)).isoformat()
    with Outbox.open(store.home) as outbox:
        outbox._connection.execute("UPDATE subscriptions SET failing_since = ?", [long_ago])
    Pusher(store).once()
    one = standing(store)
    assert (one.state, one.waiting) == ("disabled", 3)
    assert one.why is not None
    assert "nothing was taken since" in one.why
    receiver.statuses = [204]
    _act(store)
    assert Pusher(store).once().delivered == 0
    with Outbox.open(store.home) as outbox:
        outbox.enable(one.id)
    assert Pusher(store).once().delivered == 4, "what waited, and what came meanwhile"


def test_410_disables_and_what_waits_is_kept(store: Store, receiver: Receiver) -> None:
    _subscribe(store, receiver)
    receiver.statuses = [410]
    Pusher(store).once()
    one = standing(store)
    assert (one.state, one.waiting) == ("disabled", 3)
    assert "410" in str(one.why)
    assert Pusher(store).once().delivered == 0
    assert len(receiver.received) == 1
    receiver.statuses = [200]
    with Outbox.open(store.home) as outbox:
        outbox.enable(one.id)
    assert Pusher(store).once().delivered == 3


def test_a_message_that_is_refused_holds_up_no_other(store: Store, receiver: Receiver) -> None:
    _subscribe(store, receiver)
    receiver.statuses = [422, 204]
    done = Pusher(store).once()
    assert (done.delivered, done.failed) == (2, {"cmms": "answered 422"})
    one = standing(store)
    assert (one.failures, one.waiting) == (0, 1)
    long_ago = (clock.now() - dt.timedelta(days=6)).isoformat()
    with Outbox.open(store.home) as outbox:
        outbox._connection.execute("UPDATE deliveries SET queued_at = ?", [long_ago])
    receiver.statuses = [422]
    hurry(store)
    Pusher(store).once()
    one = standing(store)
    assert (one.given_up, one.waiting) == (1, 0)
    with Outbox.open(store.home) as outbox:
        (row,) = outbox.log(one.id, 10, "given-up")
    receiver.statuses = [204]
    with Outbox.open(store.home) as outbox:
        assert outbox.resend(one.id, [row["number"]]) == [row["event"]]
        (again,) = outbox.log(one.id, 10, "waiting")
        assert again["queued_at"].isoformat() == long_ago, "how long it waits can still be told"
    assert Pusher(store).once().delivered == 1
    assert receiver.ids()[-1] == row["event"], "the same id, so that a receiver knows it again"
    with Outbox.open(store.home) as outbox, pytest.raises(NotFoundError):
        outbox.resend(one.id, [10**6])


def test_what_is_not_allowed_is_not_told(store: Store, receiver: Receiver) -> None:
    with pytest.raises(PushError, match="push_targets"):
        subscribe(open_store(store.home), Wanted("cmms", receiver.url))
    _subscribe(store, receiver)
    strict = open_store(store.home, {"push_targets": "https://cmms.example.org"})
    done = Pusher(strict).once()
    assert "not connected to" in done.failed["cmms"]
    assert receiver.received == []
    assert standing(store).waiting == 3


def test_the_address_that_was_checked_is_the_one_connected_to(
    store: Store, receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name that leads to a listed address first and elsewhere after is looked up once."""
    port = receiver.url.rpartition(":")[2].removesuffix("/hooks")
    named = f"http://gateway.plant.example:{port}/hooks"
    subscribe(store, Wanted("named", named))
    ping(store, "named")
    asked: list[str] = []
    whole = socket.getaddrinfo

    def look_up(host: str, *more: object, **named: object) -> object:
        asked.append(host)
        if host == "gateway.plant.example":
            host = "127.0.0.1" if asked.count(host) == 1 else "192.0.2.1"
        return whole(host, *more, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(socket, "getaddrinfo", look_up)
    assert Pusher(store).once().delivered == 1
    assert asked.count("gateway.plant.example") == 1
    assert receiver.received[0].headers["host"] == f"gateway.plant.example:{port}"


def test_secrets_overlap_when_they_are_rotated(store: Store, receiver: Receiver) -> None:
    one, old = subscribe(store, Wanted("cmms", receiver.url))
    ping(store, "cmms")
    with Outbox.open(store.home) as outbox:
        new = outbox.rotate(one.id, dt.timedelta(hours=1))
    Pusher(store).once()
    for secret in (old, new):
        Webhook(secret).verify(receiver.received[0].body, receiver.received[0].headers)
    with Outbox.open(store.home) as outbox:
        last = outbox.rotate(one.id, dt.timedelta(0))
    ping(store, "cmms")
    Pusher(store).once()
    assert receiver.received[1].event["type"] == "mcw.ping.asked"
    Webhook(last).verify(receiver.received[1].body, receiver.received[1].headers)
    assert receiver.received[1].headers["webhook-signature"].count("v1,") == 1


def test_nobody_else_reads_the_secrets(store: Store, receiver: Receiver) -> None:
    _, secret = subscribe(store, Wanted("cmms", receiver.url))
    file = Outbox.file(store.home)
    assert file.stat().st_mode & 0o077 == 0
    assert file.parent.stat().st_mode & 0o077 == 0
    assert secret not in repr(standing(store))


def test_each_event_stands_once_however_often_it_is_filled(
    store: Store, receiver: Receiver
) -> None:
    one = _subscribe(store, receiver)
    Pusher(store).once()
    with Outbox.open(store.home) as outbox:  # as if it had been stopped before it noted how far
        outbox._connection.execute("UPDATE subscriptions SET case_after = 0, level_after = 0")
    assert Pusher(store).once().delivered == 0
    assert len(receiver.received) == 3
    assert standing(store).case_after == one.case_after or standing(store).case_after > 0


def test_an_older_copy_of_the_dataset_tells_nothing_by_guess(
    store: Store, receiver: Receiver
) -> None:
    _subscribe(store, receiver)
    Pusher(store).once()
    with Outbox.open(store.home) as outbox:
        outbox._connection.execute("UPDATE subscriptions SET case_after = 10000")
    assert "older copy" in Pusher(store).once().failed["dataset"]


def test_one_program_delivers_at_a_time(store: Store, receiver: Receiver) -> None:
    _subscribe(store, receiver)
    with (
        holding(store, "deliverer", wait=True),
        pytest.raises(BusyError, match="another program delivers"),
    ):
        Pusher(store).once()
    assert Pusher(store).once().delivered == 3


def test_names_are_given_once_and_what_is_removed_is_forgotten(
    store: Store, receiver: Receiver
) -> None:
    one = _subscribe(store, receiver)
    with pytest.raises(PushError, match="already"):
        _subscribe(store, receiver)
    with pytest.raises(PushError, match="cannot be told"):
        subscribe(store, Wanted("x", receiver.url, ("weather",)))
    Pusher(store).once()
    with Outbox.open(store.home) as outbox:
        outbox.remove(one.id)
        assert outbox.subscriptions() == []
        for table in ("deliveries", "attempts", "events", "secrets"):
            assert outbox._connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] == 0


def test_what_was_told_long_ago_is_forgotten(store: Store, receiver: Receiver) -> None:
    one = _subscribe(store, receiver)
    Pusher(store).once()
    with Outbox.open(store.home) as outbox:
        assert outbox.prune(clock.now() - dt.timedelta(days=30)) == 0
        assert outbox.prune(clock.now() + dt.timedelta(days=1)) == 3
        assert outbox.log(one.id, 10) == []
    assert Pusher(store).once().delivered == 0


def test_beside_the_judge_what_is_published_is_told(store: Store, receiver: Receiver) -> None:
    subscribe(store, Wanted("cmms", receiver.url))
    said: list[str] = []
    quick = open_store(store.home, {**_ALLOWED, "idle_seconds": 0.05})
    thread = PushThread(quick, said.append)
    thread.start()
    try:
        _act(store)
        until = time.monotonic() + 10
        while not receiver.received and time.monotonic() < until:
            time.sleep(0.02)
        receiver.statuses = [500]
        ping(store, "cmms")
        while not said and time.monotonic() < until:
            time.sleep(0.02)
    finally:
        thread.stop()
    assert [one.event["type"] for one in receiver.received[:1]] == ["mcw.case.deferred"]
    assert said == ["push: 0 messages delivered; cmms: answered 500"]
