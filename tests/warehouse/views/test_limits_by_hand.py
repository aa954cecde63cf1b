"""Limit sets given by hand to a machine or one point of it, from and until (rules J1, J12, M2)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.outside.machines import assigned, limits, machine
from tests.warehouse.views.plant import AS_OF, Plant

DAY = timedelta(days=1)
GROUP_1 = {"limit_set": "iso-20816-3-2022", "limit_group": "group-1"}


def _motor(**values: Any) -> Plant:
    """A motor of 100 kW, group 2 by rule, with two bearing housings."""
    plant = machine("electric-motor", 100.0, support_horizontal="rigid", **values)
    return plant.point("M-1", "m", "m-nde")


def _points(plant: Plant, as_of: datetime = AS_OF) -> dict[str, dict[str, Any]]:
    rows = plant.view("points_limits", as_of)
    return {row["position"]: row for row in rows if row["direction"] == "horizontal"}


def test_a_point_has_its_own_set_and_the_others_keep_the_members() -> None:
    plant = assigned(_motor(), **GROUP_1, position="m-de")
    for position in ("m-de", "m-nde"):
        plant.read(3.0, asset="M-1", position=position)  # B of group 1, C of group 2
    zones = {
        row["evidence_position"]: (row["zone"], row["limit_group"])
        for row in plant.judged().conditions.to_pylist()
        if row["scope"] == "point"
    }
    assert zones == {"m-de": ("B", "group-1"), "m-nde": ("C", "group-2")}
    found = _points(plant)
    assert (found["m-de"]["chosen_by"], found["m-nde"]["chosen_by"]) == ("hand", "rule")
    assert found["m-de"]["why"] == "assigned by N. Obody: agreed"


def test_a_point_goes_before_its_member() -> None:
    plant = assigned(_motor(), **GROUP_1)
    assigned(plant, "iso-10816-1-1995", limit_group="class-II", position="m-de")
    found = {position: row["limit_group"] for position, row in _points(plant).items()}
    assert found == {"m-de": "class-II", "m-nde": "group-1"}


@pytest.mark.parametrize(
    ("as_of", "zone", "group"),
    [
        (datetime(2025, 1, 31, 12, tzinfo=UTC), "C", "group-2"),  # before: by rule
        (datetime(2025, 2, 1, 12, tzinfo=UTC), "B", "group-1"),
        (datetime(2025, 2, 28, 12, tzinfo=UTC), "B", "group-1"),
        (datetime(2025, 3, 1, 12, tzinfo=UTC), "C", "group-2"),  # ended, exclusive
    ],
)
def test_a_moment_in_the_past_is_judged_by_what_was_in_force_then(
    as_of: datetime, zone: str, group: str
) -> None:
    plant = assigned(
        _motor(), **GROUP_1,
        assigned_from=datetime(2025, 2, 1, tzinfo=UTC),
        assigned_to=datetime(2025, 3, 1, tzinfo=UTC),
    )  # fmt: skip
    plant.read(3.0, asset="M-1", position="m-de", ts=as_of - timedelta(hours=1))
    row = plant.condition("member", as_of=as_of, member="m")
    assert (row["zone"], row["limit_group"]) == (zone, group)


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"limit_set": "iso-9"}, "limit set iso-9, assigned by N. Obody, is not loaded"),
        (
            {"limit_set": "iso-20816-3-2022", "limit_group": "group-7"},
            "limit set iso-20816-3-2022/group-7, assigned by N. Obody, has no group group-7",
        ),
        (
            {"limit_set": "iso-10816-6-1995"},
            "limit set iso-10816-6-1995, assigned by N. Obody, has no group that fits by rule, "
            "and none is named",
        ),
        (
            {"limit_set": "temperature-common-practice"},
            "limit set temperature-common-practice, assigned by N. Obody, says nothing of "
            "vibration",
        ),
        (
            {"limit_set": "api-610"},
            "limit set api-610, assigned by N. Obody, is for information only: its values are "
            "none of a machine in service",
        ),
    ],
)
@pytest.mark.parametrize("position", [None, "m-de"])
def test_what_cannot_be_used_judges_nothing_and_says_why(
    values: dict[str, str], why: str, position: str | None
) -> None:
    plant = assigned(_motor(), **values, position=position)
    plant.read(1.0, asset="M-1", position="m-de")
    row = plant.condition("point", position="m-de")
    assert (row["level"], row["zone"], row["basis"]) == ("unknown", None, "unjudged")
    assert why in row["reason"]
    (listed,) = plant.view("unjudged_machines")
    assert (listed["position"], listed["why"], listed["missing"]) == (position, why, None)


def test_a_rule_that_is_not_verified_says_so() -> None:
    row = limits(machine("electric-motor", 100.0))
    assert row["why"] == "electric-motor, 100 kW"
    plant = machine("centrifugal-pump", 100.0, pump_type="vertical in-line")
    fitting = {row["limit_set"]: row["rule_confidence"] for row in plant.view("fitting_limits")}
    assert (fitting["iso-10816-7-2009"], fitting["hi-9.6.4-2022"]) == ("V1", "M")


def test_what_was_assumed_stands_in_the_reason() -> None:
    plant = machine("centrifugal-pump", 100.0)
    plant.read(3.0, asset="M-1", position="m-de")
    row = plant.condition("member", member="m")
    assert "assumed: category I)" in row["reason"]


@pytest.mark.parametrize(
    ("equipment_class", "values", "given", "assumed"),
    [
        (
            "centrifugal-pump",
            {"assumed": "rated_power_kw pump_category support_horizontal"},
            {
                "limit_set": "iso-10816-7-2009",
                "limit_group": "category-I-up-to-200-kW",
                "position": "m-de",
            },
            None,
        ),
        (
            "centrifugal-pump",
            {},
            {"limit_set": "iso-10816-7-2009/category-II-up-to-200-kW"},
            None,
        ),
        (
            "centrifugal-pump",
            {},
            {"limit_set": "iso-10816-7-2009"},  # the group by rule, which goes by the category
            "category I",
        ),
        (
            "fan",
            {"assumed": "fan_application rated_power_kw"},
            {"limit_set": "iso-14694-2003", "limit_group": "BV-4"},
            "rigid support",
        ),
        (
            "electric-motor",
            {"assumed": "shaft_height_mm", "shaft_height_mm": 200.0},
            GROUP_1,
            "rigid support",
        ),
    ],
)
def test_nothing_is_assumed_of_what_an_assigned_group_makes_irrelevant(
    equipment_class: str, values: dict[str, Any], given: dict[str, str], assumed: str | None
) -> None:
    plant = assigned(machine(equipment_class, 100.0, **values), **given)
    (row,) = [
        row
        for row in plant.view("members_limits")
        if row["chosen_by"] == "hand" and row["direction"] == "horizontal"
    ]
    assert row["assumed"] == assumed


@pytest.mark.parametrize("position", [None, "m-de"])
def test_a_category_given_by_hand_is_not_told_as_assumed(position: str | None) -> None:
    plant = machine("centrifugal-pump", 100.0)
    assigned(plant, "iso-10816-7-2009", limit_group="category-I-up-to-200-kW", position=position)
    plant.read(3.0, asset="M-1", position="m-de")
    row = plant.condition("member", member="m")
    assert "category-I-up-to-200-kW" in row["reason"]
    assert ("category I" in row["reason"], row["assumed"]) == (False, None)
