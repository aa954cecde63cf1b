"""The outbox: subscriptions, what is to be told to each, and every attempt; durable.

One SQLite file, `HOME/push/outbox.sqlite`, apart from the dataset and from
backups: it holds the secrets of signatures, and a copy of a store must tell
nobody anything. What is queued and how far a log was read stand in one
transaction, so that each event is queued once for each subscription.
"""

from __future__ import annotations

import datetime as dt
import secrets
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from warehouse import clock
from warehouse.errors import NotFoundError, PushError
from warehouse.inbox.database import connect, whole
from warehouse.push.envelope import Event
from warehouse.push.signing import new_secret
from warehouse.refusals import plain_refusals
from warehouse.sql import load_statements

_SQL = load_statements("warehouse.push", "outbox")
_LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789"
_ANY = 2**62
Row = dict[str, Any]
_BY = "disabled by "
"""How the reason begins where somebody disabled a subscription, and its target did not."""


@dataclass(frozen=True, slots=True)
class Subscription:
    """Who is told of what, and how it goes; all but its secrets.

    `case_after` and `level_after` are the last numbers of `case_events` and
    `condition_log` that were looked at for it; `next_at` is when something is tried next, and
    `trouble` what came of the last attempt of what still waits.
    """

    id: str
    name: str
    url: str
    streams: tuple[str, ...]
    sites: frozenset[str] | None
    case_after: int
    level_after: int
    state: str
    why: str | None
    created_at: dt.datetime
    created_by: str
    failures: int
    failing_since: dt.datetime | None
    pause_until: dt.datetime | None
    waiting: int
    delivered: int
    given_up: int
    last_delivered_at: dt.datetime | None
    next_at: dt.datetime | None
    trouble: str | None

    @property
    def active(self) -> bool:
        """Whether it is told anything."""
        return self.state == "active"

    @property
    def put_off(self) -> bool:
        """Whether a person wants it told nothing for now."""
        return not self.active and (self.why or "").startswith(_BY)

    def after(self, stream: str) -> int:
        """How far the log of a stream was looked at for it."""
        return self.case_after if stream == "case" else self.level_after

    def sees(self, site: str) -> bool:
        """Whether it is told of a site."""
        return self.sites is None or site in self.sites


@dataclass(frozen=True, slots=True)
class Due:
    """Something to be told now.

    `begun_at` is since when it is tried: since it was queued, or since somebody wanted it anew.
    """

    number: int
    subscription: str
    event: str
    attempts: int
    begun_at: dt.datetime
    body: bytes


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of one attempt; `status` is None where no answer came."""

    at: dt.datetime
    milliseconds: int
    status: int | None
    told: str


class Outbox:
    """The outbox of a store; open it with `with`. One thread uses it."""

    def __init__(self, file: Path, connection: sqlite3.Connection) -> None:
        self._file, self._connection = file, connection

    @classmethod
    def file(cls, home: Path) -> Path:
        """Where it lies."""
        return home / "push" / "outbox.sqlite"

    @classmethod
    @contextmanager
    def open(cls, home: Path) -> Iterator[Outbox]:
        """The outbox of the store at `home`, made where there is none."""
        file = cls.file(home)
        with plain_refusals(file.parent):
            file.parent.mkdir(mode=0o700, exist_ok=True)
            if not file.exists():
                file.touch(mode=0o600)
            with closing(connect(file)) as connection:
                connection.execute("PRAGMA journal_mode = WAL")
                connection.execute("PRAGMA foreign_keys = ON")
                connection.executescript(_SQL["tables"])
                outbox = cls(file, connection)
                outbox._complete()
                yield outbox

    def _complete(self) -> None:
        """Give an outbox of before the column it lacks; programs may do so at the same time."""
        if not self._all("has_anew"):
            with whole(self._connection):
                if not self._all("has_anew"):
                    self._do("add_anew")

    def _do(self, statement: str, **values: Any) -> int:
        return self._connection.execute(_SQL[statement], values).rowcount

    def _all(self, statement: str, **values: Any) -> list[Row]:
        rows = self._connection.execute(_SQL[statement], values).fetchall()
        return [dict(row) for row in rows]

    # ---- who is told ------------------------------------------------------------------------

    def add(
        self, name: str, url: str, streams: Sequence[str], sites: Sequence[str] | None,
        after: Mapping[str, int], person: str,
    ) -> tuple[Subscription, str]:  # fmt: skip
        """A new subscription and its secret, which is told this once.

        Raises PushError where there is one of that name.
        """
        number = "".join(secrets.choice(_LETTERS) for _ in range(8))
        now, secret = clock.now(), new_secret()
        if any(one.name == name for one in self.subscriptions()):
            raise PushError([f"there is a subscription {name!r} already; choose another name"])
        with whole(self._connection):
            self._do(
                "add", id=number, name=name, url=url, streams=" ".join(sorted(set(streams))),
                sites="\n".join(sorted(set(sites))) if sites else None,
                case_after=after["case"], level_after=after["level"],
                created_at=now.isoformat(), created_by=person,
            )  # fmt: skip
            self._do("add_secret", id=number, secret=secret, at=now.isoformat())
        return self.subscription(number), secret

    def subscriptions(self) -> list[Subscription]:
        """Every one, in the order they were made."""
        return [_subscription(row) for row in self._all("every")]

    def subscription(self, number: str) -> Subscription:
        """The one of that id or name. Raises NotFoundError."""
        for one in self.subscriptions():
            if number in (one.id, one.name):
                return one
        raise NotFoundError("subscription", number)

    def rotate(self, number: str, overlap: dt.timedelta) -> str:
        """A new secret; those of before go on signing besides for the overlap."""
        now, secret = clock.now(), new_secret()
        with whole(self._connection):
            self._do("forget_secrets", now=now.isoformat())
            self._do("end_secrets", id=number, ends_at=(now + overlap).isoformat())
            self._do("add_secret", id=number, secret=secret, at=now.isoformat())
        return secret

    def secrets(self, number: str) -> list[str]:
        """Secrets that are good now, the newest first."""
        rows = self._all("secrets", id=number, now=clock.now().isoformat())
        return [str(row["secret"]) for row in rows]

    def enable(self, number: str) -> None:
        """Tell it again, beginning with what waits."""
        with whole(self._connection):
            self._do("enable", id=number)
            self._do("hurry", id=number, now=clock.now().isoformat())

    def disable(self, number: str, whose: str) -> None:
        """Tell it nothing until it is enabled; what waits, waits on. `whose` wish that is."""
        self._do("disable", id=number, why=f"{_BY}{whose}")

    def remove(self, number: str) -> None:
        """Forget a subscription, its secrets and what it was told."""
        with whole(self._connection):
            self._do("remove", id=number)
            self._do("prune_events")

    # ---- what is told -----------------------------------------------------------------------

    def queue(self, events: Mapping[str, Sequence[Event]], after: Mapping[str, int]) -> int:
        """Queue events for subscriptions, and record how far the logs were looked at.

        All of it or nothing; how many were queued that were not queued before.
        """
        now, queued = clock.now().isoformat(), 0
        with whole(self._connection):
            for number, told in events.items():
                for event in told:
                    self._keep(event)
                    queued += self._do("queue", id=number, event=event.id, now=now)
                self._do(
                    "go_on_from", id=number, case_after=after["case"], level_after=after["level"]
                )
        return queued

    def queue_one(self, number: str, event: Event) -> None:
        """Queue one event that is of no log."""
        with whole(self._connection):
            self._keep(event)
            self._do("queue", id=number, event=event.id, now=clock.now().isoformat())

    def _keep(self, event: Event) -> None:
        self._do(
            "keep_event", id=event.id, type=event.type, subject=event.subject,
            time=event.time.isoformat(), body=event.body,
        )  # fmt: skip

    def any_due(self) -> list[str]:
        """Ids of subscriptions that something is to be told to now."""
        return [str(row["id"]) for row in self._all("any_due", now=clock.now().isoformat())]

    def due(self, number: str) -> Due | None:
        """What a subscription is to be told next; None where nothing is due."""
        for row in self._all("due", id=number, now=clock.now().isoformat()):
            begun = dt.datetime.fromisoformat(row.pop("begun_at"))
            return Due(**row, begun_at=begun)
        return None

    # ---- what came of it --------------------------------------------------------------------

    def delivered(self, due: Due, tried: Tried) -> None:
        """It was taken."""
        with whole(self._connection):
            self._note(due, tried)
            self._do("delivered", number=due.number, at=tried.at.isoformat())
            self._do("well_again", id=due.subscription)

    def failed(self, due: Due, tried: Tried, again: dt.datetime, pause: bool) -> None:
        """It was not taken; it is tried again then. With `pause` nothing else is told before."""
        with whole(self._connection):
            self._note(due, tried)
            self._do("try_again", number=due.number, next_at=again.isoformat())
            if pause:
                self._do(
                    "failing", id=due.subscription, at=tried.at.isoformat(),
                    pause_until=again.isoformat(),
                )  # fmt: skip

    def refused(self, due: Due, tried: Tried, why: str) -> None:
        """The target wants no more, or has failed for too long: it is told nothing further."""
        with whole(self._connection):
            self._note(due, tried)
            self._do("try_again", number=due.number, next_at=tried.at.isoformat())
            self._do("disable", id=due.subscription, why=why)

    def given_up(self, due: Due, tried: Tried) -> None:
        """It was refused for so long that it is not tried any more, unless it is sent again."""
        with whole(self._connection):
            self._note(due, tried)
            self._do("give_up", number=due.number, at=tried.at.isoformat())

    def _note(self, due: Due, tried: Tried) -> None:
        self._do(
            "tried", number=due.number, at=tried.at.isoformat(),
            milliseconds=tried.milliseconds, status=tried.status, told=tried.told,
        )  # fmt: skip

    def log(
        self, number: str, limit: int, state: str | None = None, before: int | None = None
    ) -> list[Row]:
        """What it was told or is to be told, the newest first, with the last attempt."""
        rows = self._all("log", id=number, state=state, before=before or _ANY, limit=limit)
        return [_with_times(row) for row in rows]

    def attempts(self, delivery: int) -> list[Row]:
        """Every attempt of a delivery, in order."""
        return [_with_times(row) for row in self._all("attempts", number=delivery)]

    def resend(self, number: str, deliveries: Sequence[int]) -> list[str]:
        """Have deliveries sent once more, with the same id and content; ids of their events.

        All of them or none. Raises NotFoundError.
        """
        events, now = [], clock.now().isoformat()
        with whole(self._connection):
            for delivery in deliveries:
                found = self._all("delivery", id=number, number=delivery)
                if not found:
                    raise NotFoundError("delivery", str(delivery))
                self._do("resend", id=number, number=delivery, now=now)
                events.append(str(found[0]["event"]))
        return events

    def prune(self, before: dt.datetime) -> int:
        """Forget deliveries that were done before then; how many."""
        with whole(self._connection):
            gone = self._do("prune", before=before.isoformat())
            if gone:
                self._do("prune_events")
        return gone


def _subscription(row: Row) -> Subscription:
    sites = row.pop("sites")
    return Subscription(
        **{
            **_with_times(row),
            "streams": tuple(row["streams"].split()),
            "sites": None if sites is None else frozenset(sites.split("\n")),
        }
    )


def _with_times(row: Row) -> Row:
    return {
        name: dt.datetime.fromisoformat(value)
        if value is not None and (name == "at" or name.endswith(("_at", "_since", "_until")))
        else value
        for name, value in row.items()
    }
