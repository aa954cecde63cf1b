"""Tables that are often seen and wrong (and figures near them): none of them may be ours.

Each id names what is seen; the right value stands beside it, with its source in
`test_limit_tables.py`.
"""

from __future__ import annotations

import pytest

from tests.outside.machines import HP_KW, assigned, boundaries, judged, limits, machine, rows

ISO_3 = "iso-20816-3-2022"
ISO_7 = "iso-10816-7-2009"
CLASSES = "iso-10816-1-1995"


def test_class_numbers_are_10816_1_and_never_10816_3() -> None:
    classes = {
        (row["lower"], row["middle"], row["upper"]) for row in rows("limit_rows", limit_set=CLASSES)
    }
    zones = {
        (row["lower"], row["middle"], row["upper"])
        for row in rows("limit_rows", limit_set=ISO_3, quantity="velocity")
    }
    assert (0.71, 1.8, 4.5) in classes
    assert not classes & zones
    (row,) = rows("limit_sets", limit_set=CLASSES)
    assert (row["status"], row["precedence"]) == ("withdrawn", None)


def test_group_2_rigid_c_d_is_4_5_and_not_7_1() -> None:
    assert boundaries(limit_set=ISO_3, group="group-2", support="rigid", quantity="velocity") == (
        1.4,
        2.8,
        4.5,
    )
    row = judged(machine("electric-motor", 100.0, support_horizontal="rigid"), 5.0)
    assert (row["zone"], row["level"], row["boundary_c_d"]) == ("D", "danger", 4.5)


def test_groups_3_and_4_are_pumps_and_not_flexible_versions() -> None:
    groups = {row["group"] for row in rows("limit_groups", limit_set=ISO_3)}
    assert groups == {"group-1", "group-2"}
    found = rows("limit_groups", limit_set="iso-10816-3-1998")
    assert {row["equipment_class"] for row in found} == {"centrifugal-pump"}
    assert {row["group"] for row in found} == {"group-3", "group-4"}
    # a motor on a flexible support stays in its group
    row = limits(machine("electric-motor", 100.0, support_horizontal="flexible"))
    assert (row["limit_group"], row["support"]) == ("group-2", "flexible")


def test_there_is_no_one_table_for_all_machines() -> None:
    # 2.3 / 4.5 / 7.1 is group 1 rigid and group 2 flexible, nothing else
    found = {
        (row["group"], row["support"])
        for row in rows("limit_rows", limit_set=ISO_3, quantity="velocity")
        if (row["lower"], row["middle"], row["upper"]) == (2.3, 4.5, 7.1)
    }
    assert found == {("group-1", "rigid"), ("group-2", "flexible")}


def test_pumps_of_part_7_know_no_rigid_and_flexible() -> None:
    for group in {row["group"] for row in rows("limit_rows", limit_set=ISO_7)}:
        where = {"limit_set": ISO_7, "group": group, "quantity": "velocity"}
        assert boundaries(**where, support="rigid") == boundaries(**where, support="flexible")


def test_a_screw_compressor_gets_no_reciprocating_limits() -> None:
    # seen: "ISO 10816-6: 4.5 / 7.1 for screw compressors"
    row = judged(machine("screw-compressor", 200.0), 2.0)
    assert (row["level"], row["basis"], row["limit_set"]) == ("unknown", "unjudged", None)
    for name in ("iso-10816-6-1995", "iso-20816-8-2018"):
        classes = {row["equipment_class"] for row in rows("limit_groups", limit_set=name)}
        assert "screw-compressor" not in classes


def test_a_reciprocating_compressor_gets_no_numbers_of_unknown_origin() -> None:
    # seen: 9/14, 12.7/20, 14/25 for the parts of ISO 20816-8
    for row in rows("limit_rows", limit_set="iso-20816-8-2018"):
        assert (row["middle"], row["upper"]) not in {(9.0, 14.0), (12.7, 20.0), (14.0, 25.0)}


def test_a_true_peak_is_never_compared_with_an_rms_limit() -> None:
    row = judged(machine("electric-motor", 100.0, support_horizontal="rigid"), 6.0, detector="peak")
    assert (row["level"], row["zone"], row["basis"]) == ("unknown", None, "peak-only")
    row = judged(machine("electric-motor", 100.0, support_horizontal="rigid"), 1.3, detector="peak")
    assert (row["level"], row["zone"]) == ("normal", "A")
    assert "provisional" in row["reason"]
    # and a fan's printed peak column is no limit of its rms: 8 mm/s is above 7.1, not 10.2
    row = judged(machine("fan", 90.0, support_horizontal="rigid"), 8.0)
    assert (row["zone"], row["boundary_b_c"]) == ("above-alarm", 7.1)


def test_factory_values_are_refused_also_by_hand() -> None:
    plant = assigned(machine("electric-motor", 100.0), "iec-60034-14-2018")
    row = judged(plant, 1.0)
    assert (row["level"], row["basis"], row["limit_set"]) == ("unknown", "unjudged", None)
    assert "for information only" in row["reason"]


def test_a_motor_of_15_kw_gets_no_group_2() -> None:
    # ISO 10816-3 (lib): more than 15 kW; 15 kW itself is outside, and so is 20 hp = 14.91 kW
    for power in (15.0, 20 * HP_KW, 4.0):
        row = judged(machine("electric-motor", power), 1.0)
        assert (row["level"], row["basis"], row["limit_set"]) == ("unknown", "unjudged", None)
    assert limits(machine("electric-motor", 15.1))["limit_group"] == "group-2"


@pytest.mark.parametrize(
    ("horsepower", "group"),
    [(250, "up-to-200-kW"), (268, "up-to-200-kW"), (270, "over-200-kW")],
)
def test_horsepower_is_converted_before_the_class_is_chosen(horsepower: int, group: str) -> None:
    # own: 250 hp = 186.42 kW, 268 hp = 199.85 kW, 270 hp = 201.34 kW
    row = limits(machine("centrifugal-pump", horsepower * HP_KW, pump_category="I"))
    assert row["limit_group"] == f"category-I-{group}"
    assert limits(machine("electric-motor", horsepower * HP_KW))["limit_group"] == "group-2"


def test_exactly_200_kw_is_the_lower_class_everywhere() -> None:
    plant = machine("centrifugal-pump", 200.0, pump_category="II", pump_type="horizontal")
    assert limits(plant)["limit_group"] == "category-II-up-to-200-kW"
    (row,) = [row for row in plant.view("fitting_limits") if row["limit_set"] == "hi-9.6.4-2022"]
    assert (row["limit_group"], row["place"]) == ("horizontal-up-to-200-kW", None)
