"""A store is made once, found again, and refused where it is not ours to open."""

from __future__ import annotations

from pathlib import Path

import pytest
from deltalake import DeltaTable

from schemas import FORMAT_VERSION
from schemas.tables import TABLES
from warehouse.errors import (
    SettingsError,
    StoreError,
    StoreMissingError,
    StoreVersionError,
)
from warehouse.store import Store, create_store, open_store


def test_a_new_store_has_every_table_empty_and_described(tmp_path: Path) -> None:
    store = create_store(tmp_path / "store")
    assert {path.name for path in store.tables.iterdir()} == set(TABLES)
    for name, table in TABLES.items():
        delta = DeltaTable(store.tables / name)
        assert delta.file_uris() == []
        assert delta.metadata().description == table.purpose
        assert [field.name for field in delta.schema().fields] == table.arrow_with_partitions.names


def test_a_store_is_opened_with_its_own_settings(tmp_path: Path) -> None:
    create_store(tmp_path / "store", {"clock": "data"})
    assert open_store(tmp_path / "store").settings.clock == "data"
    assert open_store(tmp_path / "store", {"clock": "wall"}).settings.clock == "wall"


def test_a_second_store_in_the_same_folder_is_refused(tmp_path: Path) -> None:
    create_store(tmp_path / "store")
    with pytest.raises(StoreError, match="there is a store already; choose another folder"):
        create_store(tmp_path / "store")


def test_a_missing_store_names_place_and_remedy(tmp_path: Path) -> None:
    with pytest.raises(StoreMissingError, match="mcw init") as caught:
        open_store(tmp_path / "nowhere")
    assert str(tmp_path / "nowhere") in caught.value.message
    assert caught.value.exit_code == 6


def _declare(store: Store, version: str) -> None:
    identity = store.home / "store.toml"
    text = identity.read_text(encoding="utf-8")
    declared = f"format_version = {FORMAT_VERSION}"
    identity.write_text(text.replace(declared, f"format_version = {version}"))


def test_a_newer_format_version_is_refused(tmp_path: Path) -> None:
    store = create_store(tmp_path / "store")
    _declare(store, "999")
    with pytest.raises(StoreVersionError, match=f"reads up to version {FORMAT_VERSION}"):
        open_store(store.home)


@pytest.mark.parametrize("version", ["0", '"1"', "true", "[", ""])
def test_what_is_no_format_version_is_refused(tmp_path: Path, version: str) -> None:
    store = create_store(tmp_path / "store")
    _declare(store, version)
    with pytest.raises(StoreError, match="names no format version"):
        open_store(store.home)


def test_a_file_in_the_way_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    with pytest.raises(StoreError, match="Not a directory"):
        create_store(tmp_path / "file" / "store")


def test_faulty_settings_make_no_store(tmp_path: Path) -> None:
    (tmp_path / "mcw.toml").write_text('clock = "sun"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match="clock"):
        create_store(tmp_path)
    assert not (tmp_path / "store.toml").exists()
    (tmp_path / "mcw.toml").write_text('clock = "data"\n', encoding="utf-8")
    assert create_store(tmp_path).settings.clock == "data"
