"""Subscriptions for whoever manages them over HTTP."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from typing import Any

from warehouse.push.outbox import Outbox, Subscription
from warehouse.services.desk import Desk
from warehouse.services.pushing import Wanted, ping, subscribe

Row = dict[str, Any]


@contextmanager
def _outbox(desk: Desk) -> Iterator[Outbox]:
    with Outbox.open(desk.places.store.home) as outbox:
        yield outbox


def plain(one: Subscription) -> Row:
    """A subscription as plain values."""
    sites = None if one.sites is None else sorted(one.sites)
    return {**asdict(one), "streams": list(one.streams), "sites": sites}


def subscriptions_of(desk: Desk) -> list[Row]:
    """Every subscription."""
    with _outbox(desk) as outbox:
        return [plain(one) for one in outbox.subscriptions()]


def subscription_of(desk: Desk, number: str) -> Row:
    """One subscription. Raises NotFoundError."""
    with _outbox(desk) as outbox:
        return plain(outbox.subscription(number))


def add(
    desk: Desk, name: str, url: str, streams: tuple[str, ...], sites: tuple[str, ...],
    from_start: bool,
) -> tuple[Row, str]:  # fmt: skip
    """A new subscription and its secret. Raises PushError with every fault."""
    with desk.places.one() as store:
        one, secret = subscribe(store, Wanted(name, url, streams, sites, from_start))
    return plain(one), secret


def switch(desk: Desk, number: str, on: bool) -> Row:
    """Enable or disable a subscription. Raises NotFoundError."""
    with _outbox(desk) as outbox:
        one = outbox.subscription(number)
        if on and not one.active:
            outbox.enable(one.id)
        elif not on and one.active:
            outbox.disable(one.id, desk.caller.name)
        return plain(outbox.subscription(one.id))


def remove(desk: Desk, number: str) -> None:
    """Forget a subscription. Raises NotFoundError."""
    with _outbox(desk) as outbox:
        outbox.remove(outbox.subscription(number).id)


def rotate(desk: Desk, number: str, overlap_hours: float) -> str:
    """A new secret of a subscription. Raises NotFoundError."""
    with _outbox(desk) as outbox:
        one = outbox.subscription(number)
        return outbox.rotate(one.id, dt.timedelta(hours=overlap_hours))


def log_of(desk: Desk, number: str, limit: int, state: str | None, before: int | None) -> list[Row]:
    """What a subscription was told, the newest first. Raises NotFoundError."""
    with _outbox(desk) as outbox:
        return outbox.log(outbox.subscription(number).id, limit, state, before)


def send_again(desk: Desk, number: str, deliveries: Sequence[int]) -> list[str]:
    """Have deliveries sent once more; the ids of their events. Raises NotFoundError."""
    with _outbox(desk) as outbox:
        return outbox.resend(outbox.subscription(number).id, deliveries)


def try_target(desk: Desk, number: str) -> str:
    """Queue a message that tells nothing; its event id. Raises NotFoundError."""
    return ping(desk.places.store, number)
