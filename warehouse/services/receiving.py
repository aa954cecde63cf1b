"""Packages handed over to the server: unpacked within bounds, received by one thread, together.

Whatever waits when the thread is free goes into one transaction of the ledger:
one wait for the disk for all of it. A receipt is told only once it is durable.
"""

from __future__ import annotations

import datetime as dt
import queue
import threading
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Final

import pyarrow as pa

from warehouse import clock
from warehouse.access import Caller
from warehouse.inbox import Delivery, Ledger, Receipt
from warehouse.inbox.payloads import SMALL_BYTES
from warehouse.inbox.upkeep import check_ledger
from warehouse.services.ingest import receive_deliveries
from warehouse.store import Store
from warehouse.workspace import own_folder

CODINGS: Final = ("gzip", "zstd", "identity")
"""How a body may be packed."""

REMEMBERED: Final = dt.timedelta(days=30)
"""A request that named itself gets its old receipt for so long."""

_TOGETHER = 50
_READ_BYTES = 1 << 20


class UnpackError(Exception):
    """What was sent cannot be unpacked."""


class UnpackedTooLargeError(Exception):
    """What was sent unpacks to more than is taken."""


@dataclass(frozen=True, slots=True)
class Content:
    """A body as it was sent: few bytes at hand, or a file."""

    head: bytes | None
    path: Path | None


class Spool:
    """A folder for a body under way, made when it is needed; it goes with the `with`."""

    def __init__(self, store: Store) -> None:
        self._inbox = store.inbox
        self._ends = ExitStack()
        self._folder: Path | None = None

    @property
    def folder(self) -> Path:
        """The folder."""
        if self._folder is None:
            self._folder = self._ends.enter_context(own_folder(self._inbox))
        return self._folder

    def writer(self) -> IO[bytes]:
        """A file for a body too large to keep at hand."""
        return (self.folder / "sent").open("wb")

    def __enter__(self) -> Spool:
        return self

    def __exit__(self, *_: object) -> None:
        self._ends.close()


def unpack(content: Content, coding: str, most: int, spool: Spool) -> Content:
    """The body unpacked, at most `most` bytes of it: whoever sends a bomb pays for no more.

    Raises UnpackError, UnpackedTooLargeError.
    """
    source = pa.BufferReader(content.head) if content.path is None else str(content.path)
    target = spool.folder / "unpacked"
    head = b""
    size = 0
    try:
        with pa.input_stream(source, compression=coding) as packed, target.open("wb") as file:
            while part := packed.read(_READ_BYTES):
                size += len(part)
                if size > most:
                    raise UnpackedTooLargeError(f"it unpacks to more than {most} bytes")
                if size <= SMALL_BYTES:
                    head += part
                file.write(part)
    except (pa.ArrowInvalid, OSError, EOFError) as error:
        raise UnpackError(f"it is not {coding}, or broken: {error}") from error
    return Content(head, None) if size <= SMALL_BYTES else Content(None, target)


@dataclass(frozen=True, slots=True)
class _Job:
    delivery: Delivery
    told: Future[Receipt]


class Reception:
    """Receives deliveries in a thread of its own. Start it before, stop it after."""

    def __init__(self, store: Store) -> None:
        self._store = Store(store.home, store.settings, store.format_version)
        self._waiting: queue.Queue[_Job | None] = queue.Queue(maxsize=1000)
        self._thread: threading.Thread | None = None
        self._ledger: Ledger | None = None

    def start(self) -> None:
        """Begin to receive."""
        self._thread = threading.Thread(target=self._work, name="receive", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Receive what waits, then end."""
        if self._thread:
            self._waiting.put(None)
            self._thread.join()

    def hand_over(self, delivery: Delivery, caller: Caller) -> Future[Receipt]:
        """Have a delivery received; the receipt, or why there is none, is told when it is.

        What is in it may touch the sites of the caller, and no other.

        Raises queue.Full where too many wait.
        """
        job = _Job(replace(delivery, sites=caller.sites), Future())
        self._waiting.put_nowait(job)
        return job.told

    def _work(self) -> None:
        ended = False
        while not ended:
            jobs = [self._waiting.get()]
            while len(jobs) < _TOGETHER and jobs[-1] is not None:
                try:
                    jobs.append(self._waiting.get_nowait())
                except queue.Empty:
                    break
            ended = jobs[-1] is None
            self._receive([job for job in jobs if job is not None])
        self._close()

    def _receive(self, jobs: list[_Job]) -> None:
        """All of them in one transaction; where that fails, each alone, so that one spoils none."""
        if not jobs:
            return
        try:
            receipts = self._record([job.delivery for job in jobs])
        except Exception as error:
            self._close()
            if len(jobs) == 1:
                jobs[0].told.set_exception(error)
                return
            for job in jobs:
                self._receive([job])
            return
        for job, receipt in zip(jobs, receipts, strict=True):
            job.told.set_result(receipt)

    def _record(self, deliveries: list[Delivery]) -> list[Receipt]:
        if self._ledger is None:
            self._ledger = Ledger.open(self._store.inbox)
            check_ledger(self._store)
            self._ledger.forget_requests(clock.now() - REMEMBERED)
        return receive_deliveries(self._store, self._ledger, deliveries)

    def _close(self) -> None:
        if self._ledger is not None:
            self._ledger.close()
            self._ledger = None
