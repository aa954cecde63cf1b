"""A registry folder comes in whole, or not at all and every fault is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.services.small_plant import REGISTRY, make_plant, write_registry
from warehouse.errors import RegistryError, SourceMissingError
from warehouse.registry.stored import stored_entities
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store

_MOUNTED = "device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning\n"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return create_store(tmp_path / "store")


def _faults(store: Store, tmp_path: Path, **replaced: str) -> list[str]:
    with pytest.raises(RegistryError) as caught:
        import_registry(store, write_registry(tmp_path / "registry", **replaced))
    assert all(rows.num_rows == 0 for rows in stored_entities(store).values())
    return caught.value.faults


def test_a_good_folder_is_counted_and_stored(store: Store, tmp_path: Path) -> None:
    counts = import_registry(store, write_registry(tmp_path / "registry"))
    assert counts == {
        "sites": 1,
        "assets": 2,
        "members": 2,
        "points": 2,
        "devices": 1,
        "mountings": 2,
    }
    entities = stored_entities(store)
    assert entities["sites"].to_pylist() == [
        {
            "site": "works",
            "name": "Works",
            "time_zone": "Europe/Vienna",
            "enterprise": None,
            "display_profile": None,
        }
    ]
    assert entities["members"]["rated_power_kw"].to_pylist() == [90.0, 90.0]
    assert entities["shafts"].num_rows == 0


def test_every_fault_of_every_cell_is_listed_at_once(store: Store, tmp_path: Path) -> None:
    faults = _faults(
        store,
        tmp_path,
        sites="site,name,time_zone\nWorks Ü,Works,Mars/Olympus\n",
        assets="site,asset,name,service_state\nworks,M-1,Machine,asleep\nworks,M-2,,in-service\n",
        members="site,asset,member,role,equipment_class,rated_power_kw\n"
        "works,M-1,motor,driver,electric-motor,much\n",
        points="site,asset,position,member,bearing_housing,thrust_end\n"
        "works,M-1,motor-de,motor,maybe,true\n",
        mountings=_MOUNTED
        + "L1,1,works,M-1,motor-de,sideways,2020-01-01T00:00:00,,passed\n"
        + "L1,2,works,M-1,motor-de,axial,yesterday,,passed\n",
    )
    expected = [
        ("sites.csv line 2 column site", "'Works Ü' is no slug"),
        ("sites.csv line 2 column time_zone", "'Mars/Olympus' is no IANA time zone"),
        ("assets.csv line 2 column service_state", "'asleep' is not one of in-service"),
        ("assets.csv line 3 column name", "is blank; a value is needed"),
        ("members.csv line 2 column rated_power_kw", "'much' is no power"),
        ("points.csv line 2 column bearing_housing", "'maybe' is not one of true, false"),
        ("mountings.csv line 2 column axis", "'sideways' is not one of axial"),
        ("mountings.csv line 2 column mounted_from", "'2020-01-01T00:00:00' has no offset"),
        ("mountings.csv line 3 column mounted_from", "'yesterday' is no ISO 8601 time"),
    ]
    for place, why in expected:
        assert [f for f in faults if f.startswith(place) and why in f], (place, faults)
    assert len(faults) == len(expected)


def test_columns_missing_and_unknown_are_told_with_the_allowed_ones(
    store: Store, tmp_path: Path
) -> None:
    faults = _faults(store, tmp_path, sites="site,naem,time_zone\nworks,Works,UTC\n")
    assert any("sites.csv" in f and "lacks the column name" in f for f in faults)
    assert any("unknown column naem; allowed: site, name, time_zone" in f for f in faults)


def test_broken_references_are_each_told(store: Store, tmp_path: Path) -> None:
    faults = _faults(
        store,
        tmp_path,
        members="site,asset,member,role,equipment_class\n"
        "works,M-1,motor,driver,electric-motor\nworks,M-9,motor,driver,electric-motor\n",
        mountings=_MOUNTED
        + "L7,1,works,M-1,motor-de,axial,2020-01-01T00:00:00Z,,passed\n"
        + "L1,1,works,M-1,fan-de,axial,2020-01-01T00:00:00Z,,passed\n",
    )
    assert any("members.csv line 3" in f and "works/M-9 is not in assets" in f for f in faults)
    assert any("points.csv line 3" in f and "is not in members" in f for f in faults)
    assert any("mountings.csv line 2" in f and "L7 is not in devices" in f for f in faults)
    assert any("mountings.csv line 3" in f and "works/M-1/fan-de is not in points" in f
               for f in faults)  # fmt: skip
    assert len(faults) == 4


def test_a_key_that_stands_twice_names_both_lines(store: Store, tmp_path: Path) -> None:
    twice = REGISTRY["devices"] + "L2,logger,wired\nL1,other,wired\n"
    (fault,) = _faults(store, tmp_path, devices=twice)
    assert "devices.csv line 4" in fault
    assert "devices.csv line 2" in fault


def test_overlapping_mountings_name_both(store: Store, tmp_path: Path) -> None:
    (fault,) = _faults(
        store,
        tmp_path,
        mountings=_MOUNTED
        + "L1,1,works,M-1,motor-de,axial,2020-01-01T00:00:00Z,2021-01-01T00:00:00Z,passed\n"
        + "L1,2,works,M-1,motor-de,axial,2020-06-01T00:00:00Z,,passed\n"
        + "L1,1,works,M-2,motor-de,axial,2020-12-31T00:00:00Z,,passed\n",
    )
    assert "mountings.csv line 4" in fault
    assert "mountings.csv line 2" in fault
    assert "device L1 channel 1" in fault
    assert "works/M-1" in fault


def test_mountings_that_touch_do_not_overlap(store: Store, tmp_path: Path) -> None:
    text = (
        _MOUNTED
        + "L1,1,works,M-1,motor-de,axial,2020-01-01T00:00:00Z,2021-01-01T00:00:00Z,passed\n"
        + "L1,1,works,M-2,motor-de,axial,2021-01-01T00:00:00Z,,passed\n"
    )
    counts = import_registry(store, write_registry(tmp_path / "registry", mountings=text))
    assert counts["mountings"] == 2


def test_mounted_to_before_mounted_from_is_told(store: Store, tmp_path: Path) -> None:
    (fault,) = _faults(
        store,
        tmp_path,
        mountings=_MOUNTED
        + "L1,1,works,M-1,motor-de,axial,2020-01-01T00:00:00Z,2019-01-01T00:00:00Z,passed\n",
    )
    assert "mountings.csv line 2" in fault
    assert "mounted_to does not lie after mounted_from" in fault


def test_overlap_with_what_is_registered_is_told(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    later = "L1,1,works,M-2,motor-de,horizontal,2024-01-01T00:00:00Z,,passed\n"
    folder = tmp_path / "more"
    folder.mkdir()
    (folder / "mountings.csv").write_text(_MOUNTED + later, encoding="utf-8")
    with pytest.raises(RegistryError, match="mounted from 2024-01-01") as caught:
        import_registry(plant.store, folder)
    assert "works/M-1" in caught.value.message
    assert stored_entities(plant.store)["mountings"].num_rows == 2


def test_references_may_point_into_what_is_registered(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    folder = tmp_path / "more"
    folder.mkdir()
    (folder / "shafts.csv").write_text(
        "site,asset,shaft,ratio\nworks,M-1,main,1\n", encoding="utf-8"
    )
    assert import_registry(plant.store, folder) == {"shafts": 1}


def test_an_entity_imported_again_replaces_the_old_one(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    folder = write_registry(
        tmp_path / "again", sites="site,name,time_zone\nworks,New name,Europe/Vienna\n"
    )
    import_registry(plant.store, folder)
    sites = stored_entities(plant.store)["sites"].to_pylist()
    assert [row["name"] for row in sites] == ["New name"]


@pytest.mark.parametrize("content", [b"", b"site,name,time_zone\n\xff\xfe,x,UTC\n"])
def test_an_unreadable_file_is_a_fault_like_any_other(
    store: Store, tmp_path: Path, content: bytes
) -> None:
    folder = write_registry(tmp_path / "registry")
    (folder / "sites.csv").write_bytes(content)
    with pytest.raises(RegistryError, match=r"sites\.csv"):
        import_registry(store, folder)


def test_a_row_with_too_many_cells_names_its_line(store: Store, tmp_path: Path) -> None:
    faults = _faults(store, tmp_path, sites="site,name,time_zone\nworks,Works,UTC,more\n")
    assert any(f.startswith("sites.csv line 2") for f in faults)


def test_a_folder_without_registry_files_names_those_looked_for(
    store: Store, tmp_path: Path
) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(SourceMissingError, match=r"sites\.csv, assets\.csv"):
        import_registry(store, tmp_path / "empty")


def test_a_folder_that_is_not_there_is_named(store: Store, tmp_path: Path) -> None:
    with pytest.raises(SourceMissingError, match="nowhere"):
        import_registry(store, tmp_path / "nowhere")
