"""Machines that no limit set judges, and sets shown beside the one in force (rule J1)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.machines import assigned, machine
from tests.warehouse.limits.own_sets import write_own
from tests.warehouse.views.plant import Plant


def _listed(plant: Plant) -> dict[str, Any]:
    (row,) = plant.view("unjudged_machines")
    return row


@pytest.mark.parametrize(
    ("equipment_class", "power", "values", "missing", "would_fit"),
    [
        ("electric-motor", None, {}, "rated_power_kw or shaft_height_mm", "iso-20816-3-2022"),
        ("electric-motor", 15.0, {}, None, None),  # whatever the shaft height: out of scope
        ("centrifugal-pump", None, {}, "rated_power_kw", "iso-10816-7-2009"),
        ("centrifugal-pump", 0.75, {}, None, None),
        ("centrifugal-pump", 50.0, {"vane_count": 2}, None, None),
        ("fan", None, {}, "rated_power_kw", "iso-14694-2003, iso-20816-3-2022"),
        ("centrifugal-compressor", None, {}, "rated_power_kw", "iso-20816-3-2022"),
        ("gearbox", 200.0, {}, None, None),
        ("screw-compressor", 200.0, {}, None, None),
        ("roll", 200.0, {}, None, None),
        ("reciprocating-compressor", 90.0, {"rated_speed": 2000.0}, None, None),
    ],
)
def test_listed_with_what_is_missing_and_never_green(
    equipment_class: str,
    power: float | None,
    values: dict[str, Any],
    missing: str | None,
    would_fit: str | None,
) -> None:
    plant = machine(equipment_class, power, **values).read(0.1, asset="M-1", position="m-de")
    row = _listed(plant)
    assert (row["missing"], row["would_fit"], row["position"]) == (missing, would_fit, None)
    assert row["why"]
    for condition in plant.judged().conditions.to_pylist():
        assert (condition["level"], condition["zone"]) == ("unknown", None)


def test_what_is_said_to_be_missing_brings_a_set_in_force() -> None:
    assert (
        _listed(machine("electric-motor", None))["missing"] == "rated_power_kw or shaft_height_mm"
    )
    for values in ({"rated_power_kw": 30.0}, {"shaft_height_mm": 200.0}):
        assert machine("electric-motor", None, **values).view("unjudged_machines") == []


PUMPS_ONLY = 'format_version = 1\norder = ["iso-10816-7-2009"]\nreason = "pumps only"\n'


@pytest.mark.parametrize(
    ("equipment_class", "power", "why", "missing"),
    [
        (
            "fan",
            355.0,
            "it fits iso-20816-3-2022 (group-1), which the plant's own order leaves out",
            "iso-20816-3-2022 in the plant's order",
        ),
        (
            "electric-motor",
            250.0,
            "it fits iso-20816-3-2022 (group-2), which the plant's own order leaves out",
            "iso-20816-3-2022 in the plant's order",
        ),
        (
            "fan",
            None,
            "ISO 14694 (up to 300 kW) and ISO 20816-3 (above) need the rated power of a fan; the "
            "plant's own order leaves out iso-14694-2003, iso-20816-3-2022",
            "rated_power_kw and iso-14694-2003 in the plant's order or "
            "rated_power_kw and iso-20816-3-2022 in the plant's order",
        ),
        (
            "centrifugal-pump",
            None,
            "ISO 10816-7 needs the rated power, more than 1 kW and at least 3 vanes",
            "rated_power_kw",
        ),
        ("screw-compressor", 90.0, "no published set here covers screw compressors", None),
    ],
)
def test_a_set_that_the_plants_order_leaves_out_is_told(
    tmp_path: Path, equipment_class: str, power: float | None, why: str, missing: str | None
) -> None:
    plant = machine(equipment_class, power)
    plant.limits = tmp_path
    (tmp_path / "precedence.toml").write_text(PUMPS_ONLY, encoding="utf-8")
    row = _listed(plant)
    assert (row["why"], row["missing"]) == (why, missing)


def test_an_own_set_that_the_plants_order_leaves_out_is_told(tmp_path: Path) -> None:
    plant = machine("electric-motor", 250.0)
    plant.limits = write_own(tmp_path, order=PUMPS_ONLY)
    row = _listed(plant)
    assert row["why"] == (
        "it fits iso-20816-3-2022 (group-2) and works-12 (motors), which the plant's own order "
        "leaves out"
    )
    assert row["would_fit"] == "iso-20816-3-2022, works-12"
    plant.limits = write_own(tmp_path / "without", order=None)
    assert plant.view("unjudged_machines") == []  # the published order leaves none out


def test_a_reciprocating_compressor_lists_the_points_without_a_part() -> None:
    plant = machine("reciprocating-compressor", 90.0, rated_speed=720.0)
    plant.point("M-1", "m", "frame", bearing_housing=False, part="frame-top")
    row = _listed(plant)
    assert (row["position"], row["missing"]) == ("m-de", "part of the point")


def test_a_removed_machine_is_not_listed() -> None:
    plant = machine("gearbox", 200.0)
    plant.entities["assets"][0]["service_state"] = "removed"
    assert plant.view("unjudged_machines") == []


def _beside(plant: Plant) -> dict[str, dict[str, Any]]:
    return {row["limit_set"]: row for row in plant.view("limits_for_information")}


def test_other_sets_that_fit_stand_beside_the_one_in_force() -> None:
    plant = machine("centrifugal-pump", 100.0, pump_category="II", pump_type="end suction",
                    support_horizontal="rigid")  # fmt: skip
    plant.read(4.5, asset="M-1", position="m-de")
    found = _beside(plant)
    # zone B of ISO 10816-7 judges (3.2, 5.1); the others are told
    assert plant.condition("member", member="m")["zone"] == "B"
    assert "iso-10816-7-2009" not in found
    hi = found["hi-9.6.4-2022"]
    assert (hi["middle"], hi["grade"], hi["in_force"]) == (3.8, "not-accepted", "iso-10816-7-2009")
    assert (hi["confidence"], hi["verified"]) == ("V2", False)
    old = found["iso-10816-3-1998"]
    assert old["value"] == 4.5
    assert not old["verified"]


def test_a_group_that_is_our_reading_is_not_verified() -> None:
    # the values of class III are V1, where `large` begins is from memory
    plant = machine("electric-motor", 400.0).read(2.0, asset="M-1", position="m-de")
    row = _beside(plant)["iso-10816-1-1995"]
    assert (row["confidence"], row["rule_confidence"], row["verified"]) == ("V1", "M", False)


def test_shop_values_are_never_shown_for_a_machine_in_service() -> None:
    plant = machine("electric-motor", 100.0, shaft_height_mm=280.0)
    plant.read(2.0, asset="M-1", position="m-de")
    assert not {"iec-60034-14-2018", "api-610"} & _beside(plant).keys()


def test_the_set_of_the_rules_stands_beside_one_given_by_hand() -> None:
    plant = assigned(
        machine("electric-motor", 100.0, support_horizontal="rigid"),
        "iso-20816-3-2022", limit_group="group-1", position="m-de",
    )  # fmt: skip
    assigned(plant, "iso-10816-1-1995", limit_group="class-III-or-IV")
    plant.read(2.0, asset="M-1", position="m-de")
    found = _beside(plant)
    assert "iso-20816-3-2022" not in found  # it judges the point
    assert all(row["in_force"] == "iso-20816-3-2022" for row in found.values())


def test_a_band_that_cannot_show_it_is_given_no_grade() -> None:
    plant = machine("centrifugal-pump", 100.0, pump_type="end suction")
    plant.read(1.0, asset="M-1", position="m-de", band="10-100Hz")
    graded = {row["limit_set"]: row["grade"] for row in plant.view("limits_for_information")}
    assert graded["iso-10816-3-1998"] is None


def test_an_empty_plant_lists_nothing() -> None:
    assert Plant().view("unjudged_machines") == []
    assert Plant().view("limits_for_information") == []
