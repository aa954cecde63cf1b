"""Limit sets given by hand, as the registry takes them: for a member or a point, for a time."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.services.small_plant import REGISTRY, write_registry
from warehouse.errors import RegistryError
from warehouse.registry.stored import stored_entities
from warehouse.services.registry_changes import export_registry, import_changes
from warehouse.store import Store, create_store

HEAD = (
    "site,asset,member,position,limit_set,limit_group,assigned_from,assigned_to,assigned_by,"
    "reason\n"
)
GROUP = "iso-20816-3-2022,group-1"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return create_store(tmp_path / "store")


def _give(store: Store, tmp_path: Path, *lines: str) -> None:
    folder = tmp_path / "given"
    text = HEAD + "".join(f"{line},N. Obody,agreed\n" for line in lines)
    import_changes(store, write_registry(folder, limit_assignments=text))


def _faults(store: Store, tmp_path: Path, *lines: str) -> list[str]:
    with pytest.raises(RegistryError) as caught:
        _give(store, tmp_path, *lines)
    return caught.value.faults


def test_a_member_and_a_point_of_it_have_their_own(store: Store, tmp_path: Path) -> None:
    _give(
        store,
        tmp_path,
        f"works,M-1,motor,,{GROUP},2024-01-01T00:00:00Z,2025-01-01T00:00:00Z",
        f"works,M-1,motor,,{GROUP},2025-01-01T00:00:00Z,",  # the one before has ended
        f"works,M-1,motor,motor-de,{GROUP},2024-06-01T00:00:00Z,",
    )
    found = stored_entities(store)["limit_assignments"].to_pylist()
    assert [row["position"] for row in found].count("motor-de") == 1
    assert len(found) == 3
    export_registry(store, tmp_path / "exported")
    assert not import_changes(store, tmp_path / "exported", dry_run=True).differences.any


def test_overlaps_name_both(store: Store, tmp_path: Path) -> None:
    (fault,) = _faults(
        store,
        tmp_path,
        f"works,M-1,motor,,{GROUP},2024-01-01T00:00:00Z,2025-01-01T00:00:00Z",
        "works,M-1,motor,,works-12,,2024-12-31T00:00:00Z,",
    )
    assert fault == (
        "limit_assignments.csv line 3: works/M-1/motor gets the limit set works-12 from "
        "2024-12-31T00:00Z while limit_assignments.csv line 2 gives it iso-20816-3-2022 until "
        "2025-01-01T00:00Z"
    )


def test_an_overlap_with_what_is_registered_is_told(store: Store, tmp_path: Path) -> None:
    _give(store, tmp_path, f"works,M-1,motor,motor-de,{GROUP},2024-01-01T00:00:00Z,")
    (fault,) = _faults(store, tmp_path, f"works,M-1,motor,motor-de,{GROUP},2025-01-01T00:00:00Z,")
    assert "while the registry gives it iso-20816-3-2022 until further notice" in fault
    # the older one ended in the same import makes room
    _give(
        store,
        tmp_path,
        f"works,M-1,motor,motor-de,{GROUP},2024-01-01T00:00:00Z,2025-01-01T00:00:00Z",
        f"works,M-1,motor,motor-de,{GROUP},2025-01-01T00:00:00Z,",
    )


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (f"works,M-1,motor,pump-de,{GROUP},2024-01-01T00:00:00Z,", "pump-de is not in points"),
        (f"works,M-1,pump,,{GROUP},2024-01-01T00:00:00Z,", "works/M-1/pump is not in members"),
        (
            f"works,M-1,fan,motor-de,{GROUP},2024-01-01T00:00:00Z,",
            "works/M-1/motor-de sits on motor, not on fan",
        ),
        (
            f"works,M-1,motor,,{GROUP},2024-01-01T00:00:00Z,2023-01-01T00:00:00Z",
            "assigned_to does not lie after assigned_from",
        ),
    ],
)
def test_what_does_not_fit_is_told(store: Store, tmp_path: Path, line: str, told: str) -> None:
    assert any(told in fault for fault in _faults(store, tmp_path, line))


def test_who_and_why_are_needed(store: Store, tmp_path: Path) -> None:
    text = HEAD + f"works,M-1,motor,,{GROUP},2024-01-01T00:00:00Z,,,\n"
    folder = write_registry(tmp_path / "given", limit_assignments=text)
    with pytest.raises(RegistryError) as caught:
        import_changes(store, folder)
    columns = ("assigned_by", "reason")
    for fault, column in zip(caught.value.faults, columns, strict=True):
        assert fault.endswith(f"column {column}: is blank; a value is needed")


def test_files_without_the_newer_columns_are_read(store: Store, tmp_path: Path) -> None:
    text = (
        "site,asset,member,limit_set,assigned_from,assigned_by,reason\n"
        "works,M-1,motor,iso-20816-3-2022/group-1,2024-01-01T00:00:00Z,N. Obody,agreed\n"
    )
    import_changes(store, write_registry(tmp_path / "given", **REGISTRY, limit_assignments=text))
    (row,) = stored_entities(store)["limit_assignments"].to_pylist()
    assert (row["position"], row["limit_group"]) == (None, None)
