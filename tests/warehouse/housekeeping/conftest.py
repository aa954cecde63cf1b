"""A plant with two of four parts taken in: made once, copied for each test."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.warehouse.housekeeping.stores import Plant


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the plant that is copied."""
    folder = tmp_path_factory.mktemp("prepared") / "plant"
    Plant.make(folder, readings=800, parts=4).take_in(0, 1)
    return folder


@pytest.fixture
def plant(prepared: Path, tmp_path: Path) -> Plant:
    """Two parts of 200 readings taken in and published, two more at hand."""
    shutil.copytree(prepared, tmp_path / "plant")
    return Plant(tmp_path / "plant")
