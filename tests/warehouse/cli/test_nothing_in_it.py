"""A file that says nothing is no failure, and is told; a registry file of no known name is one."""

from __future__ import annotations

from pathlib import Path

from tests.warehouse.faults.confined import mcw_here
from tests.warehouse.services.small_plant import make_plant, series, write_mapping, write_registry


def test_a_file_with_its_header_only_is_taken_in_and_told(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    empty = plant.arrive("empty.csv", []).file
    mapping = write_mapping(tmp_path)
    home = ("--home", plant.store.home)
    ended = mcw_here("ingest", empty, "--mapping", mapping, *home)
    assert ended.code == 0
    assert "empty.csv: there is no reading in it" in ended.err
    full = plant.arrive("full.csv", series(0, 2)).file
    assert "no reading" not in mcw_here("ingest", full, "--mapping", mapping, *home).err


def test_a_registry_file_of_no_known_name_is_a_fault(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    folder = write_registry(tmp_path / "more")
    (folder / "devices.csv").rename(folder / "device.csv")
    ended = mcw_here("registry", "import", folder, "--home", plant.store.home)
    assert ended.code != 0
    assert "device.csv: is no kind of thing; allowed: " in ended.err
    assert "devices.csv" in ended.err
