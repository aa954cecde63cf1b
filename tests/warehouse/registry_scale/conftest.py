"""Stores made once, copied for each test."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.registry_scale.plant import copy_store, store_with_readings
from warehouse.store import Store


@pytest.fixture(scope="package")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Store:
    """400 readings of 20 channels; not to be changed."""
    store, _ = store_with_readings(tmp_path_factory.mktemp("filled"), 400)
    return store


@pytest.fixture
def measured(filled: Store, tmp_path: Path) -> Store:
    """A copy of `filled`."""
    return copy_store(filled, tmp_path / "measured")
