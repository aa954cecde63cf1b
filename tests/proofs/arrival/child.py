"""One process of the proof: it does one action, and kills itself at a named step if told so."""

from __future__ import annotations

import logging
import os
import signal
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import warehouse.store.compaction as compaction
import warehouse.store.delta as delta
from warehouse.errors import BusyError, StoreConflictError, StoreError
from warehouse.inbox import Ledger
from warehouse.inbox.database import Database
from warehouse.inbox.groups import Groups
from warehouse.inbox.payloads import Payloads
from warehouse.services.housekeeping import compact
from warehouse.services.ingest import Arrival, commit_all, only_committer, receive, replay
from warehouse.services.registry import import_registry
from warehouse.services.retracting import retract
from warehouse.store import Store, open_store

REFUSED = 3
"""What a process ends with that was refused cleanly: it changed nothing and said why."""
_SETTINGS = {"compact_files": 2, "chunk_rows": 1000}


@dataclass(frozen=True, slots=True)
class Order:
    """An action with its arguments, and the step at whose `count`-th passing it ends."""

    home: str
    action: str
    arguments: tuple[str, ...] = ()
    step: str | None = None
    count: int = 1


def act(order: Order) -> None:
    """Do what is ordered, or die trying."""
    logging.disable()  # who waits for whom is told a thousand times
    if order.step:
        _arm(order.step, order.count)
    store = open_store(Path(order.home), _SETTINGS)
    with Ledger.open(store.inbox) as ledger:
        try:
            _ACTIONS[order.action](store, ledger, *order.arguments)
        except StoreError as error:
            if not _is_refusal(order.action, error):
                raise
            sys.exit(REFUSED)


def _is_refusal(action: str, error: StoreError) -> bool:
    """Whether someone else was at it, or had already done it: that may be refused, no more."""
    if action == "compact":
        return isinstance(error, (BusyError, StoreConflictError))
    return action in ("retract", "undo") and "only a package that is" in error.remedy


def _receive(store: Store, ledger: Ledger, *files: str) -> None:
    paths = [Path(file) for file in files]
    receive(
        store,
        ledger,
        [Arrival(path, path.parents[1] / f"{path.name.split('-')[0]}.toml") for path in paths],
    )


def _commit(store: Store, ledger: Ledger) -> None:
    commit_all(store, ledger)


def _compact(store: Store, _: Ledger) -> None:
    for _done in compact(store):
        pass


def _retract(store: Store, ledger: Ledger, number: str) -> None:
    with only_committer(store):
        retract(store, ledger, int(number), dry_run=False)


def _undo(store: Store, ledger: Ledger, number: str) -> None:
    with only_committer(store):
        retract(store, ledger, int(number), undo=True, dry_run=False)


def _replay(store: Store, ledger: Ledger) -> None:
    with only_committer(store):
        replay(ledger)


def _register(store: Store, _: Ledger, folder: str) -> None:
    import_registry(store, Path(folder))


_ACTIONS: Mapping[str, Callable[..., None]] = {
    "receive": _receive,
    "commit": _commit,
    "compact": _compact,
    "retract": _retract,
    "undo": _undo,
    "replay": _replay,
    "register": _register,
}

_MOMENTS: Mapping[str, tuple[Any, str]] = {
    "payload": (Payloads, "copy_large"),
    "receipt": (Ledger, "receive_all"),
    "group": (Groups, "plan"),
    "counts": (Groups, "record"),
    "ledger": (Groups, "committed"),
    "finish": (Ledger, "finish"),
    "state": (Ledger, "change_state"),
    "reopen": (Ledger, "reopen"),
    "placed": (Ledger, "record_placed_by"),
    "replaced": (Ledger, "end_replacing"),
    "exchange": (delta.DeltaLog, "exchange"),
    "sync": (delta, "sync_all"),
}
"""Functions around which a process can end, before or after."""

_COMMIT = ("readings", "superseded", "ledger", "group", "rejects", "counts", "file", "finish")
_RETRACT = ("superseded", "state", "file")
_SIDES = ("after", "before")


def _sides(*names: str) -> tuple[str, ...]:
    return (*(f"{name}-{side}" for side in _SIDES for name in (*names, "sync")), "transaction")


STEPS: Mapping[str, tuple[str, ...]] = {
    "receive": ("receipt-after", "transaction", "payload-after", "receipt-before"),
    "commit": _sides(*_COMMIT),
    "compact": _sides("exchange", "file")[:-1],
    "retract": _sides(*_RETRACT),
    "undo": _sides(*_RETRACT),
    "replay": ("reopen-after", "transaction", "reopen-before"),
    "register": _sides(
        "registry", "superseded", "rejects", "readings", "replaced", "placed", "file"
    ),
}
"""Steps that each action passes; rejects, superseded, readings, registry are commits to a table."""


def _arm(step: str, count: int) -> None:
    """Wrap the functions of the named steps so that one passing of one of them is the last."""
    left = [count]

    def passing(name: str) -> None:
        if name == step:
            left[0] -= 1
            if left[0] <= 0:
                os.kill(os.getpid(), signal.SIGKILL)

    for name, (owner, function) in _MOMENTS.items():
        _around(owner, function, lambda *_, name=name: name, passing)
    for owner in (delta, compaction):
        _around(owner, "write_file", lambda *_: "file", passing)
    _around(delta.DeltaLog, "_record", lambda log, *_: log.table.name, passing)
    _around_transactions(passing)


def _around(
    owner: Any, function: str, label: Callable[..., str], passing: Callable[[str], None]
) -> None:
    original = getattr(owner, function)

    def wrapped(*arguments: Any, **named: Any) -> Any:
        name = label(*arguments)
        passing(f"{name}-before")
        result = original(*arguments, **named)
        passing(f"{name}-after")
        return result

    setattr(owner, function, wrapped)


def _around_transactions(passing: Callable[[str], None]) -> None:
    """All of a transaction of the ledger is said, and its end is not."""
    original = Database.transaction

    @contextmanager
    def wrapped(self: Database) -> Iterator[Any]:
        with original(self) as ledger:
            yield ledger
            passing("transaction")

    setattr(Database, "transaction", wrapped)  # noqa: B010
