"""Waiting for something another thread or process does, no longer than it may take."""

from __future__ import annotations

import time
from collections.abc import Callable


def until(happened: Callable[[], bool], seconds: float) -> None:
    """Wait until it has happened. Raises AssertionError where it takes longer."""
    end = time.monotonic() + seconds
    while not happened():
        assert time.monotonic() < end, f"not within {seconds} s"
        time.sleep(0.05)
