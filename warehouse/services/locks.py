"""Locks of a store: who works alone on what, who holds it, and waiting for them in plain sight.

The operating system gives a lock back when its holder ends, however it ends. A
holder that was only suspended keeps it, so whoever waits says for whom.
"""

from __future__ import annotations

import json
import logging
import os
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from warehouse import clock
from warehouse.errors import BusyError
from warehouse.refusals import plain_refusals
from warehouse.services.stopping import leave_if_asked
from warehouse.store import Store

_PATIENCE_SECONDS = 2.0
_SAID_AGAIN_SECONDS = 60.0
_LOOK_SECONDS = 0.05
_LOCKS = ("runner", "committer", "housekeeper")
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Holder:
    """A program that holds a lock: its process, what it was started as, and since when."""

    process: int
    host: str
    doing: str
    since: str

    @property
    def alive(self) -> bool:
        """Whether the process is there, as far as this machine can tell."""
        if self.host != socket.gethostname() or sys.platform == "win32":
            return True
        try:
            os.kill(self.process, 0)
        except ProcessLookupError:
            return False
        except OSError:
            return True  # another user's
        return True

    def words(self) -> str:
        """The holder in plain words."""
        text = f"process {self.process} ({self.doing}) on {self.host} since {self.since}"
        if self.host == socket.gethostname() and _is_suspended(self.process):
            text += f", which is suspended: let it go on (kill -CONT {self.process}), or end it"
        return text


def _is_suspended(process: int) -> bool:
    with suppress(OSError, IndexError):
        state = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2]
        return state.split()[0] == "T"
    return False


@contextmanager
def holding(
    store: Store, name: str, why: str = "", remedy: str = "", *, wait: bool
) -> Iterator[None]:
    """Hold a lock of the store for the time of the `with`; what the machine refuses is told.

    With `wait` the end of another holder is waited for, who is named after two
    seconds. Raises BusyError without, StopAskedError where a signal asks to stop.
    """
    with plain_refusals(store.home):
        lock = FileLock(store.inbox / f"{name}.lock")
        signature = store.inbox / f"{name}.json"
        _acquire(lock, signature, BusyError(store.home, why, remedy) if not wait else None)
        try:
            _sign(signature)
            yield
        finally:
            with suppress(OSError):
                signature.unlink(missing_ok=True)
            lock.release()


def _acquire(lock: FileLock, signature: Path, busy: BusyError | None) -> None:
    say_at = time.monotonic() + _PATIENCE_SECONDS
    while True:
        try:
            lock.acquire(timeout=0)
            return
        except Timeout:
            if busy is not None:
                raise BusyError(busy.place, busy.why + _by(signature), busy.remedy) from None
        leave_if_asked()
        if time.monotonic() >= say_at:
            say_at = time.monotonic() + _SAID_AGAIN_SECONDS
            _log.warning("waiting for another program%s", _by(signature))
        time.sleep(_LOOK_SECONDS)


def _by(signature: Path) -> str:
    holder = _read(signature)
    return f": {holder.words()}" if holder else ""


def _sign(signature: Path) -> None:
    """Leave word who holds the lock. The lock holds without: on a full disk nobody is named."""
    now = clock.now().isoformat(timespec="seconds")
    holder = Holder(os.getpid(), socket.gethostname(), _command(), now)
    with suppress(OSError):
        signature.write_text(json.dumps(asdict(holder)), encoding="utf-8")


def _command() -> str:
    program = Path(sys.argv[0]).name or "python"
    words = [word for word in sys.argv[1:3] if not word.startswith("-")]
    return " ".join([program, *words[:1]])


def _read(signature: Path) -> Holder | None:
    with suppress(OSError, ValueError, TypeError):
        return Holder(**json.loads(signature.read_text(encoding="utf-8")))
    return None


def at_work(store: Store) -> list[str]:
    """Who holds a lock of the store now, in plain words."""
    found = {name: _read(store.inbox / f"{name}.json") for name in _LOCKS}
    return [f"{name}: {one.words()}" for name, one in found.items() if one and one.alive]
