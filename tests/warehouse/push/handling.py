"""An outbox in the hands of a test: how a subscription stands, and time made to pass."""

from __future__ import annotations

import datetime as dt

from warehouse import clock
from warehouse.push.outbox import Outbox, Subscription
from warehouse.store import Store


def standing(store: Store, name: str = "cmms") -> Subscription:
    with Outbox.open(store.home) as outbox:
        return outbox.subscription(name)


def hurry(store: Store) -> None:
    """As if the time until the next attempt had passed."""
    with Outbox.open(store.home) as outbox:
        outbox._connection.execute("UPDATE deliveries SET next_at = '2000-01-01T00:00:00+00:00'")
        outbox._connection.execute("UPDATE subscriptions SET pause_until = NULL")


def pause(store: Store) -> None:
    """As if no time had passed since the last attempt."""
    later = (clock.now() + dt.timedelta(minutes=1)).isoformat()
    with Outbox.open(store.home) as outbox:
        outbox._connection.execute("UPDATE subscriptions SET pause_until = ?", [later])
