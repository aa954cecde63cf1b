"""Which changes of a machine's condition came with other limits, and what is said of them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.warehouse.views.fleet_history import rows
from tests.warehouse.views.plant import AS_OF, Plant, Row

_PLACE = {"site": "s1", "asset": "P-101", "member": "pump"}
_RIGID: Row = {
    "limit_set": "iso-10816-7-2009", "limit_group": "category-2",
    "limit_edition": "ISO 10816-7:2009",
    "support": "rigid", "boundary_a_b": 3.2, "boundary_b_c": 5.1, "boundary_c_d": 8.5,
}  # fmt: skip
_HIGHER = _RIGID | {"support": "flexible", "boundary_c_d": 10.5}
_NONE: Row = dict.fromkeys(_RIGID)
_WORKS = _RIGID | {"limit_set": "works", "limit_group": None, "limit_edition": "Works 12"}


def _told(*points: Row) -> Plant:
    """A plant of whose pump these limits were told, one judging step a day."""
    plant = Plant().train()
    for snapshot, point in enumerate(points, 1):
        common = _PLACE | {
            "snapshot": snapshot, "event": "told", "level": "alert", "basis": "severity",
            "reason": "x", "next_step": "x", "caution": "x", "data_versions": "{}",
            "as_of": AS_OF - timedelta(days=9 - snapshot), "quantity": "velocity",
            "detector": "rms", "unit": "mm/s",
        }  # fmt: skip
        number = len(plant.issued)
        place = {"scope": "point", "position": "pump-de", "axis": "horizontal"}
        plant.issued += [
            common | {"seq": number + 1, "scope": "member", "change": 100 + snapshot},
            common | place | {"seq": number + 2} | point,
        ]
    return plant


def _changes(*points: Row, **assigned: Any) -> list[tuple[int, str]]:
    plant = _told(*points)
    if assigned:
        plant.add("limit_assignments", **_PLACE | assigned)
    return [(row["change"], row["words"]) for row in rows(plant, "limit_changes")]


def test_other_support_and_boundaries_are_told_with_what_was_before() -> None:
    words = (
        "ISO 10816-7:2009 category-2, rigid support, boundaries 3.20 / 5.10 / 8.50 mm/s -> "
        "ISO 10816-7:2009 category-2, flexible support, boundaries 3.20 / 5.10 / 10.5 mm/s"
    )
    assert _changes(_RIGID, _RIGID, _HIGHER, _HIGHER) == [(103, words)]


def test_what_says_nothing_of_limits_changes_none() -> None:
    silent = _NONE | {"basis": "no-fresh-reading"}
    assert _changes(_RIGID, silent, _RIGID) == []
    assert [change for change, _ in _changes(_RIGID, silent, _HIGHER)] == [103]
    bare = dict.fromkeys(("boundary_a_b", "boundary_b_c", "boundary_c_d"))
    assert _changes(_RIGID | bare, _HIGHER | bare) == [], "no value is held against them"
    other = _HIGHER | {"quantity": "displacement", "unit": "um"}
    assert _changes(_RIGID, other) == [], "limits of another quantity are no other limits"


def test_a_set_given_by_hand_is_told_with_who_gave_it_and_why() -> None:
    unjudged = _NONE | {"basis": "unjudged"}
    hand = {"limit_set": "works", "assigned_from": AS_OF - timedelta(days=90),
            "assigned_by": "N. Obody", "reason": "agreed"}  # fmt: skip
    (found,) = _changes(unjudged, _WORKS, **hand)
    assert found[1].startswith("none -> Works 12, rigid support, boundaries 3.20 / 5.10 / 8.50")
    assert found[1].endswith("mm/s, assigned by N. Obody (agreed)")
    (found,) = _changes(_WORKS, _RIGID, **hand)
    assert "assigned" not in found[1]
    (found,) = _changes(_WORKS, _WORKS | {"boundary_a_b": 3.0}, **hand)
    assert "assigned" not in found[1], "the assignment is the same as before"
