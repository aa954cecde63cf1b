"""One confined process for all tests that only need it to be without rights or large files."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.warehouse.faults.confined import Confined, confined


@pytest.fixture(scope="package")
def bounded() -> Iterator[Confined]:
    """`mcw` in a process whose files may be bounded, and whom permissions bind."""
    with confined() as process:
        yield process
