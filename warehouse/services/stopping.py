"""Stopping cleanly: work that commits hears a signal between two steps, other work ends at once."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

_SIGNALS = (signal.SIGINT, signal.SIGTERM)
SIGNALLED = 128
"""A program that a signal ended has this and the signal's number as its exit code."""


class StopAskedError(Exception):
    """Leaves a row of steps at the next boundary; whoever keeps the loop catches it."""

    def __init__(self, number: int = signal.SIGTERM) -> None:
        super().__init__(f"asked to stop by {signal.Signals(number).name}")
        self.exit_code = SIGNALLED + number


class EndedError(BaseException):
    """Ends the program where it stands; no `except Exception` on the way takes it for a fault."""

    def __init__(self, number: int) -> None:
        super().__init__(f"ended by {signal.Signals(number).name}")
        self.exit_code = SIGNALLED + number


class Stop:
    """Whether someone asked to stop; waiting on it ends at once when they do."""

    def __init__(self) -> None:
        self._event = threading.Event()
        self._number = int(signal.SIGTERM)

    @property
    def asked(self) -> bool:
        """Whether to stop."""
        return self._event.is_set()

    def ask(self, number: int = signal.SIGTERM) -> None:
        """Ask to stop."""
        self._number = number
        self._event.set()

    def wait(self, seconds: float) -> bool:
        """Wait that long, or until someone asks to stop; returns whether they did."""
        return self._event.wait(seconds)

    def leave_if_asked(self) -> None:
        """Raise StopAskedError where someone asked to stop."""
        if self.asked:
            raise StopAskedError(self._number)


_heard_by: list[Stop] = []
"""Those that the signals of this process ask; signals belong to the process, so does this."""


def leave_if_asked() -> None:
    """Raise StopAskedError where a signal asked this process to stop at the next boundary."""
    for stop in _heard_by:
        stop.leave_if_asked()


@contextmanager
def stopping_on_signals() -> Iterator[Stop]:
    """A `Stop` that SIGINT and SIGTERM ask; a second signal ends the program at once.

    Ending at once is safe too: commits are made exactly once.
    """
    stop = Stop()

    def heard(number: int, _: FrameType | None) -> None:
        stop.ask(number)
        signal.signal(number, signal.SIG_DFL)
        # The descriptor, not the stream: the signal may have come while that was written to.
        os.write(2, b"stopping after this step; once more ends at once, which loses nothing\n")

    with _handled_by(heard):
        _heard_by.append(stop)
        try:
            yield stop
        finally:
            _heard_by.remove(stop)


@contextmanager
def ending_on_signals() -> Iterator[None]:
    """SIGINT and SIGTERM end what is done here where it stands; raises EndedError."""
    heard: list[int] = []

    def hear(number: int, _: FrameType | None) -> None:
        signal.signal(number, signal.SIG_DFL)
        if not heard:
            heard.append(number)
            raise EndedError(number)

    with _handled_by(hear):
        try:
            yield
        except BaseException:
            if heard:  # a library may have made an error of its own of it
                raise EndedError(heard[0]) from None
            raise


@contextmanager
def _handled_by(handler: Callable[[int, FrameType | None], Any]) -> Iterator[None]:
    before = {number: signal.signal(number, handler) for number in _SIGNALS}
    try:
        yield
    finally:
        for number, earlier in before.items():
            signal.signal(number, earlier)
