"""Requests of callers about cases, remembered by name: the same again acts no second time.

What a request is about to record is written down, durably, before it is
recorded. Whoever was stopped in between finds by that whether it was. The file
lies beside the keys, apart from the dataset.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from typing import Any, Final

from warehouse import clock
from warehouse.refusals import plain_refusals
from warehouse.sql import load_statements
from warehouse.store import Store

_SQL = load_statements("warehouse.services", "requests")
REMEMBERED: Final = dt.timedelta(days=30)
"""A request that named itself is known again for so long."""


@dataclass(frozen=True, slots=True)
class Request:
    """A request that names itself: whose, by which name, and what it asks in short."""

    caller: str
    name: str
    digest: str


@dataclass(frozen=True, slots=True)
class Remembered:
    """What is known of it: what it asked, the action it was about to record, its answer."""

    digest: str
    action: int
    answer: str | None


class Requests:
    """The requests of one store. Whoever uses it holds the inbox alone."""

    def __init__(self, store: Store) -> None:
        self._file = store.home / "doors" / "requests.sqlite"

    def find(self, request: Request) -> Remembered | None:
        """The request of that caller and name; None where there was none lately."""
        with self._open() as file:
            row = file.execute(_SQL["find"], _named(request)).fetchone()
        return Remembered(*row) if row else None

    def intend(self, request: Request, action: int) -> None:
        """Write down, durably, which action a request is about to record."""
        now = clock.now()
        with self._open() as file:
            file.execute(_SQL["forget"], {"before": (now - REMEMBERED).isoformat()})
            values = {"digest": request.digest, "action": action, "at": now.isoformat()}
            file.execute(_SQL["intend"], {**_named(request), **values})

    def answer(self, request: Request, answer: str) -> None:
        """Remember what was answered."""
        with self._open() as file:
            file.execute(_SQL["answer"], {**_named(request), "answer": answer})

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        with plain_refusals(self._file.parent):
            self._file.parent.mkdir(mode=0o700, exist_ok=True)
            with closing(sqlite3.connect(self._file, timeout=30, isolation_level=None)) as file:
                file.execute("PRAGMA synchronous = FULL")
                file.execute(_SQL["table"])
                yield file


def _named(request: Request) -> Mapping[str, Any]:
    return {"caller": request.caller, "name": request.name}
