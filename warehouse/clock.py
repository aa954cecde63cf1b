"""The clock of this machine: the one place that reads it for what is recorded or judged by it."""

from __future__ import annotations

import datetime as dt

TOLERANCE = dt.timedelta(minutes=5)
"""What two looks at the clock may differ by, where it is put right while programs run."""
EARLIEST = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
"""No machine that runs this program lives before: it was not written yet."""


def now() -> dt.datetime:
    """What the clock says, UTC."""
    return dt.datetime.now(dt.UTC)
