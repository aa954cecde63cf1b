"""A private DuckDB session for one piece of work: in memory, spilling to a folder of its own."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from warehouse.settings import Settings


@contextmanager
def workspace(folder: Path, settings: Settings) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session with the configured memory and threads; its spill folder goes with it."""
    roomy = folder if os.access(folder, os.W_OK) else None  # a store one may only read
    with tempfile.TemporaryDirectory(dir=roomy, prefix="work-") as spill:
        session = duckdb.connect(
            config={
                "memory_limit": f"{settings.memory_limit_mb}MB",
                "threads": settings.threads,
                "temp_directory": spill,
            }
        )
        try:
            session.execute("SET TimeZone = 'UTC'")
            yield session
        finally:
            session.close()
