"""The same import again changes nothing, also where it takes something back."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.services.small_plant import make_plant, write_registry
from warehouse.errors import RegistryError
from warehouse.services.registry_changes import import_changes

_TAKEN_BACK = (
    "device,channel,site,asset,position,axis,mounted_from,commissioning,withdraw\n"
    "L1,1,works,M-1,motor-de,horizontal,{start},passed,true\n"
)


def test_what_was_taken_back_may_be_taken_back_again(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    text = _TAKEN_BACK.format(start="2020-01-01T00:00:00Z")
    folder = write_registry(tmp_path / "registry", mountings=text)
    first = import_changes(plant.store, folder)
    assert first.counts["mountings"]["withdrawn"] == 1
    for again in (
        import_changes(plant.store, folder, dry_run=True),
        import_changes(plant.store, folder),
    ):
        assert again.counts["mountings"] == {"new": 0, "changed": 0, "unchanged": 1, "withdrawn": 0}
        assert again.stated["mountings"] == 1
        assert not again.differences.any


def test_what_never_was_cannot_be_taken_back(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    text = _TAKEN_BACK.format(start="2019-01-01T00:00:00Z")
    folder = write_registry(tmp_path / "registry", mountings=text)
    with pytest.raises(RegistryError, match="nothing to take back"):
        import_changes(plant.store, folder)
