"""Stopping cleanly: a signal is heard between two steps, never in the middle of a commit."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

_SIGNALS = (signal.SIGINT, signal.SIGTERM)


class StopAskedError(Exception):
    """Leaves a row of steps at the next boundary; whoever keeps the loop catches it."""


class Stop:
    """Whether someone asked to stop; waiting on it ends at once when they do."""

    def __init__(self) -> None:
        self._event = threading.Event()

    @property
    def asked(self) -> bool:
        """Whether to stop."""
        return self._event.is_set()

    def ask(self) -> None:
        """Ask to stop."""
        self._event.set()

    def wait(self, seconds: float) -> bool:
        """Wait that long, or until someone asks to stop; returns whether they did."""
        return self._event.wait(seconds)

    def leave_if_asked(self) -> None:
        """Raise StopAskedError where someone asked to stop."""
        if self.asked:
            raise StopAskedError


@contextmanager
def stopping_on_signals() -> Iterator[Stop]:
    """A `Stop` that SIGINT and SIGTERM ask; a second signal ends the program at once.

    Ending at once is safe too: commits are made exactly once.
    """
    stop = Stop()
    before = {number: signal.getsignal(number) for number in _SIGNALS}

    def heard(number: int, _: FrameType | None) -> None:
        stop.ask()
        signal.signal(number, signal.SIG_DFL)

    for number in _SIGNALS:
        signal.signal(number, heard)
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
