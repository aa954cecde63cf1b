"""One process of the proof: receive, commit, retract or compact; killed at a named step if told.

`python -m tests.proofs.arrival.child HOME STEP COUNT ACTION [ARGUMENT ...]`; at the
COUNT-th passing of STEP the process kills itself with SIGKILL. STEP `-` is none.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import warehouse.store.delta as delta
from warehouse.inbox import Ledger
from warehouse.services.housekeeping import compact
from warehouse.services.ingest import Arrival, commit_all, only_committer, receive
from warehouse.services.retracting import retract
from warehouse.store import Store, open_store

STEPS = (
    "receipt",
    "group",
    "rejects-before",
    "rejects-after",
    "superseded-before",
    "superseded-after",
    "readings-before",
    "readings-after",
    "sync",
    "recorded",
    "ledger",
    "finish",
)


def _arm(step: str, count: int) -> None:
    """Wrap the functions of the named steps so that one passing of one of them is the last."""
    left = [count]

    def passing(name: str) -> None:
        if name == step:
            left[0] -= 1
            if left[0] <= 0:
                os.kill(os.getpid(), signal.SIGKILL)

    _around(Ledger, "_keep", lambda *_: "receipt", passing, after=True)
    _around(Ledger, "plan", lambda *_: "group", passing, after=True)
    _around(Ledger, "record_group", lambda *_: "recorded", passing, after=True)
    _around(Ledger, "group_committed", lambda *_: "ledger", passing, after=False)
    _around(Ledger, "finish", lambda *_: "finish", passing, after=False)
    _around(delta, "sync_all", lambda *_: "sync", passing, after=True)
    for after in (False, True):
        suffix = "after" if after else "before"
        for method in ("append", "replace"):
            _around(
                delta.DeltaLog,
                method,
                lambda log, *_, suffix=suffix: f"{log.table.name}-{suffix}",
                passing,
                after=after,
            )


def _around(
    owner: Any,
    name: str,
    label: Callable[..., str],
    passing: Callable[[str], None],
    *,
    after: bool,
) -> None:
    original = getattr(owner, name)

    def wrapped(*args: Any, **kwargs: Any) -> Any:
        if not after:
            passing(label(*args))
        result = original(*args, **kwargs)
        if after:
            passing(label(*args))
        return result

    setattr(owner, name, wrapped)


def _receive(store: Store, ledger: Ledger, arguments: list[str]) -> None:
    for argument in arguments:
        path = Path(argument)
        mapping = path.parents[1] / f"{path.name.split('-')[0]}.toml"
        receive(store, ledger, [Arrival(path, mapping)])


def main() -> None:
    """Do one action, or die trying."""
    home, step, count, action, *arguments = sys.argv[1:]
    _arm(step, int(count))
    store = open_store(Path(home), {"compact_files": 2})
    with Ledger.open(store.inbox) as ledger:
        if action == "receive":
            _receive(store, ledger, arguments)
        elif action == "commit":
            commit_all(store, ledger)
        elif action == "retract":
            with only_committer(store):
                retract(store, ledger, int(arguments[0]), dry_run=False)
        elif action == "compact":
            for _ in compact(store):
                pass


if __name__ == "__main__":
    main()
