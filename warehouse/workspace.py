"""Folders for intermediate files, and private DuckDB sessions that spill into one."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
from filelock import FileLock, Timeout

from warehouse.settings import Settings

_PREFIX = "work-"
_IN_USE = "in-use"
_YOUNG_SECONDS = 60.0
"""A younger folder may belong to a program that is just about to hold its lock."""


@contextmanager
def own_folder(folder: Path) -> Iterator[Path]:
    """A folder below `folder` for intermediate files; it goes when the `with` ends.

    Where `folder` may only be read, it is made elsewhere. As long as it is used
    it holds a lock: what a killed program left behind can be told from it.
    """
    roomy = folder if os.access(folder, os.W_OK) else None
    with (
        tempfile.TemporaryDirectory(dir=roomy, prefix=_PREFIX) as name,
        FileLock(Path(name) / _IN_USE),
    ):
        yield Path(name)


def clear_abandoned(folder: Path) -> None:
    """Remove what killed programs left in `folder`."""
    for found in folder.glob(f"{_PREFIX}*"):
        try:
            if abs(time.time() - found.stat().st_mtime) > _YOUNG_SECONDS:
                with FileLock(found / _IN_USE, timeout=0):
                    pass
                shutil.rmtree(found, ignore_errors=True)
        except (Timeout, OSError):
            continue  # in use, gone meanwhile, or another user's


@contextmanager
def workspace(folder: Path, settings: Settings) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session with the configured memory and threads; its spill folder goes with it."""
    with own_folder(folder) as spill:
        session = duckdb.connect(
            config={
                "memory_limit": f"{settings.memory_limit_mb}MB",
                "threads": settings.threads,
                "temp_directory": str(spill),
            }
        )
        try:
            session.execute("SET TimeZone = 'UTC'")
            # a spawned process looks like a shell to the engine
            session.execute("SET enable_progress_bar = false")
            yield session
        finally:
            session.close()
