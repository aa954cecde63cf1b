"""The plant these tests begin with, and one confined process for all that only need that."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.warehouse.faults.confined import Confined, confined
from tests.warehouse.faults.plants import Sent


@pytest.fixture(scope="package")
def bounded() -> Iterator[Confined]:
    """`mcw` in a process whose files may be bounded, and whom permissions bind."""
    with confined() as process:
        yield process


@pytest.fixture
def sent(tmp_path: Path) -> Sent:
    """Two files taken in and judged."""
    return Sent.begin(tmp_path / "plant")
