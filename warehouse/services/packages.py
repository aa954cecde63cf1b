"""Packages, sources and rejects as a caller of the server may see them."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import Any

from warehouse import clock
from warehouse.errors import NotFoundError
from warehouse.inbox import Ledger, Package
from warehouse.inbox.counts import COUNTED
from warehouse.inbox.hurry import say_awaited
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services.desk import Desk
from warehouse.services.ingest import replay
from warehouse.services.locks import holding
from warehouse.services.rejected import first_rejects
from warehouse.services.serving import State
from warehouse.services.silence import Receipts
from warehouse.store import Store

_PAUSE = threading.Event()
"""Never set: waiting for it is waiting."""


@dataclass(frozen=True, slots=True)
class ShownPackage:
    """A package, its life, and whether its bytes are kept."""

    row: dict[str, Any]
    life: list[dict[str, Any]]
    kept: bool


@contextmanager
def ledger_of(desk: Desk) -> Iterator[tuple[Store, Ledger]]:
    """The newest ledger and the store it is of, for the time of the `with`."""
    with desk.places.one() as store, newest_ledger(store) as ledger:
        yield store, ledger


def list_packages(
    desk: Desk, before: int | None, most: int, sources: Sequence[str] | None, state: str | None
) -> list[dict[str, Any]]:
    """Packages of the caller's sources, newest first."""
    with ledger_of(desk) as (_, ledger):
        seen = _sources_seen(desk, sources)
        return [_row(one) for one in ledger.newest_packages(before, most, seen, state)]


def _sources_seen(desk: Desk, wanted: Sequence[str] | None) -> set[str] | None:
    """Sources to look at: those wanted that are the caller's; None for all."""
    caller = desk.caller
    if caller.sources is None and not caller.limited:
        return None if wanted is None else set(wanted)
    own = set(caller.sources or ())
    return own if wanted is None else own & set(wanted)


def show_package(desk: Desk, number: int) -> ShownPackage:
    """A package with its life. Raises NotFoundError, also where it is not the caller's."""
    with ledger_of(desk) as (_, ledger):
        package = _package(desk, ledger, number)
        life = [
            {n: getattr(m, n) for n in ("at", "state", "attempt", "file", "error")}
            | {"counts": {n: getattr(m.counts, n) for n in COUNTED} if m.counts else None}
            for m in ledger.life(package)
        ]
        return ShownPackage(_row(package), life, ledger.payloads.kept(package))


def _package(desk: Desk, ledger: Ledger, number: int) -> Package:
    package = ledger.package(number)
    if not desk.caller.sees_source(package.source):
        raise NotFoundError("package", str(number))
    return package


def _row(package: Package) -> dict[str, Any]:
    names = (
        "number", "source", "file", "bytes", "sha256", "mapping", "state", "received_at",
        "finished_at", "attempts", "repeats", "error", "not_measured",
    )  # fmt: skip
    row = {name: getattr(package, name) for name in names}
    return row | {"counts": asdict(package.counts)}


def rejects_of(
    desk: Desk, state: State, package: int | None, most: int, source: str | None = None,
    reason: str | None = None,
) -> list[dict[str, Any]]:  # fmt: skip
    """The first rows of refused items that are still open, of a package or of all."""
    with ledger_of(desk) as (store, ledger):
        if package is not None:
            _package(desk, ledger, package)
        sources = _sources_seen(desk, None if source is None else [source])
        seen = None if sources is None else sorted(sources)
        chosen = {"sources": seen, "reason": reason, "most": most}
        return first_rejects(store, ledger, state.snapshot.versions, package, **chosen)


def reject_groups(desk: Desk) -> list[dict[str, Any]]:
    """Open refused items by source and reason, complete."""
    with ledger_of(desk) as (_, ledger):
        return [row for row in ledger.reject_counts() if desk.caller.sees_source(row["source"])]


def list_sources(desk: Desk) -> list[dict[str, Any]]:
    """Every source of the caller: its last receipt, the interval declared, whether it is silent."""
    now = clock.now()
    with ledger_of(desk) as (_, ledger):
        every = Receipts(ledger).sources(now)
    return [asdict(one) for one in every if desk.caller.sees_source(one.source)]


def replay_packages(
    desk: Desk, numbers: Sequence[int], source: str | None, reason: str | None
) -> list[int]:
    """Put packages back in line, as `mcw replay` does; returns their numbers.

    Raises BusyError while another program commits, NotFoundError.
    """
    with ledger_of(desk) as (store, ledger):
        for number in numbers:
            _package(desk, ledger, number)
        if source is not None:
            desk.check_source(source)
        why, remedy = "packages are being committed", "ask again in a few seconds"
        with holding(store, "committer", why, remedy, wait=False):
            chosen = numbers or [
                one.number
                for one in ledger.packages()
                if desk.caller.sees_source(one.source) and one.counts.rejected
            ]
            return replay(ledger, chosen, source, reason) if chosen else []


def wait_for_package(desk: Desk, number: int, seconds: float) -> dict[str, Any]:
    """A package once it was taken in, or as it stands when the time is over.

    `mcw run` is told that somebody waits, and lets it gather no longer.
    """
    end = clock.now() + dt.timedelta(seconds=seconds)
    told = False
    while True:
        with ledger_of(desk) as (store, ledger):
            package = ledger.package(number)
        if package.state == "received" and not told:
            say_awaited(store.inbox)
            told = True
        if package.state != "received" or clock.now() >= end:
            return _row(package)
        _PAUSE.wait(0.1)
