"""The desk: everything one caller may ask of a served store, and nothing else.

Routes hold a desk and never the store: whatever they ask, the caller's sites
and sources are in it. What reads tables waits for one of a few places, so that
many questions at once do not take the memory of all.
"""

from __future__ import annotations

import datetime as dt
import queue
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import duckdb

from warehouse.access import Caller
from warehouse.errors import BusyError, NotFoundError
from warehouse.query import open_published, open_relations
from warehouse.services.memory import Memory
from warehouse.services.serving import Serving, State
from warehouse.store import Snapshot, Store

_WAIT_SECONDS = 10.0


class Places:
    """The few places for requests that read tables, each with a store of its own.

    The log of a table is one thread's at a time; so is a place.
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self.tables = Memory(8)
        """Tables that are being paged through, none of them large."""
        self._free: queue.LifoQueue[Store] = queue.LifoQueue()
        for _ in range(store.settings.heavy_requests):
            self._free.put(replace(store, _logs={}))

    @contextmanager
    def one(self) -> Iterator[Store]:
        """A place for the time of the `with`. Raises BusyError where none is free in time."""
        try:
            store = self._free.get(timeout=_WAIT_SECONDS)
        except queue.Empty:
            raise BusyError(
                self.store.home,
                "too many questions are being answered",
                "ask again in a few seconds",
            ) from None
        try:
            yield store
        finally:
            self._free.put(store)


@dataclass(frozen=True, slots=True)
class Desk:
    """What one caller asks."""

    serving: Serving
    places: Places
    caller: Caller

    def newest(self) -> State | None:
        """The newest published state, without what is not the caller's; None before the first."""
        state = self.serving.current
        return None if state is None else state.seen_by(self.caller)

    def state(self, seq: int) -> State | None:
        """An earlier state, likewise; None where it is gone."""
        state = self.serving.held(seq)
        return None if state is None else state.seen_by(self.caller)

    def now(self, state: State) -> dt.datetime:
        """What `now` means to the judge of this store."""
        return self.serving.now(state)

    @contextmanager
    def session(
        self, snapshot: Snapshot, asks: Iterable[str]
    ) -> Iterator[duckdb.DuckDBPyConnection]:
        """A session for statements about a published state, without what is not the caller's."""
        with (
            self.places.one() as store,
            open_published(store, snapshot, self.caller, asks) as session,
        ):
            yield session

    @contextmanager
    def relations(
        self, snapshot: Snapshot, names: Collection[str]
    ) -> Iterator[duckdb.DuckDBPyConnection]:
        """As `session`, with the views named and what they stand on only."""
        with (
            self.places.one() as store,
            open_relations(store, snapshot, names, self.caller) as session,
        ):
            yield session

    def check_source(self, source: str) -> None:
        """Raises NotFoundError where a source is not the caller's business."""
        if not self.caller.sees_source(source):
            raise NotFoundError("source", source)
