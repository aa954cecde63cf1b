"""Machines judged by sets that have no zones, or zones of their own kind; values as printed.

The sources of the figures stand in `test_limit_tables.py`.
"""

from __future__ import annotations

import pytest

from tests.outside.machines import assigned, judged, limits, machine

HI = "hi-9.6.4-2022"


@pytest.mark.parametrize(
    ("value", "zone", "level"),
    [
        (4.5, "below-start-up", "normal"),
        (4.6, "below-alarm", "normal"),
        (7.1, "below-alarm", "normal"),
        (7.2, "above-alarm", "alert"),
        (9.0, "above-alarm", "alert"),
        (9.1, "above-shutdown", "danger"),
    ],
)
def test_an_industrial_fan_has_levels(value: float, zone: str, level: str) -> None:
    row = judged(machine("fan", 90.0, support_horizontal="rigid"), value)
    assert (row["zone"], row["level"]) == (zone, level)
    assert (row["limit_set"], row["limit_group"]) == ("iso-14694-2003", "BV-3")
    assert (row["limit_confidence"], row["limit_verified"]) == ("M", False)
    assert "application industrial" in row["assumed"]
    assert "from memory, not verified" in row["reason"]


def test_a_fan_whose_shutdown_goes_by_its_history_is_never_danger() -> None:
    plant = machine("fan", 3.0, fan_application="hvac-agricultural", support_horizontal="rigid")
    row = judged(plant, 60.0)
    assert (row["limit_group"], row["zone"], row["level"]) == ("BV-2", "above-alarm", "alert")
    assert row["boundary_c_d"] is None
    assert "above alarm 9.00 mm/s" in row["reason"]


@pytest.mark.parametrize(
    ("application", "power", "category"),
    [
        ("residential", 0.15, "BV-1"),
        ("residential", 0.2, "BV-2"),
        ("hvac-agricultural", 3.7, "BV-2"),
        ("hvac-agricultural", 4.0, "BV-3"),
        ("industrial", 300.0, "BV-3"),
        ("transport-marine", 15.0, "BV-3"),
        ("transport-marine", 16.0, "BV-4"),
        ("transit-tunnel", 75.0, "BV-3"),
        ("transit-tunnel", 76.0, "BV-4"),
        ("petrochemical", 37.0, "BV-3"),
        ("petrochemical", 38.0, "BV-4"),
        ("semiconductor", 5.0, "BV-5"),
    ],
)
def test_the_application_of_a_fan_chooses_its_category(
    application: str, power: float, category: str
) -> None:
    row = limits(machine("fan", power, fan_application=application))
    assert row["limit_group"] == category


def test_a_disputed_value_says_so() -> None:
    plant = machine("fan", 40.0, fan_application="petrochemical", support_horizontal="flexible")
    row = judged(plant, 4.0)
    assert row["limit_group"] == "BV-4"
    assert "disputed" in row["reason"]


def test_hi_has_one_value_and_names_the_operating_region() -> None:
    plant = machine("centrifugal-pump", 100.0, pump_type="horizontal")
    row = judged(assigned(plant, HI), 3.8)
    assert (row["zone"], row["level"], row["boundary_b_c"]) == ("accepted", "normal", 3.8)
    assert (row["boundary_a_b"], row["boundary_c_d"]) == (None, None)
    assert "preferred operating region, no flow known" in row["assumed"]
    row = judged(assigned(machine("centrifugal-pump", 100.0, pump_type="horizontal"), HI), 3.9)
    assert (row["zone"], row["level"]) == ("not-accepted", "alert")
    assert "above the acceptance value 3.80 mm/s" in row["reason"]
    assert "secondary source, not verified" in row["reason"]


def test_hi_takes_the_stricter_configuration_where_none_is_known() -> None:
    row = limits(assigned(machine("centrifugal-pump", 100.0), HI))
    assert row["limit_group"] == "vertically-suspended-up-to-200-kW"
    assert "pump type vertical suspended" in row["assumed"]


@pytest.mark.parametrize(
    ("speed", "quantity"), [(590.0, "displacement"), (600.0, "displacement"), (601.0, "velocity")]
)
def test_hi_goes_by_displacement_up_to_600(speed: float, quantity: str) -> None:
    plant = machine("centrifugal-pump", 100.0, pump_type="horizontal", rated_speed=speed)
    assigned(plant, HI)
    plant.read(3.0, asset="M-1", position="m-de", band="2-1000Hz")
    plant.read(70.0, asset="M-1", position="m-de", quantity="displacement",
               detector="peak-to-peak", band="2-1000Hz")  # fmt: skip
    row = plant.condition("member", member="m")
    assert (row["quantity"], row["level"]) == (quantity, "normal")


@pytest.mark.parametrize(
    ("value", "zone", "level", "verified"),
    [
        (5.0, "A", "normal", False),  # A/B is from memory
        (8.0, "B", "normal", True),
        (8.1, "C", "alert", True),
        (12.1, "D", "danger", True),
    ],
)
def test_a_reciprocating_compressor_goes_by_the_part(
    value: float, zone: str, level: str, verified: bool
) -> None:
    plant = machine("reciprocating-compressor", 90.0, rated_speed=720.0)
    plant.point("M-1", "m", "frame", bearing_housing=False, part="frame-top")
    row = judged(plant, value, position="frame", band="2-1000Hz")
    assert (row["zone"], row["level"], row["limit_verified"]) == (zone, level, verified)
    # what is not verified says so also where it is only the lower boundary of the zone
    assert ("not verified" in row["reason"]) == (zone in "AB")


def test_a_part_nobody_registered_is_not_judged() -> None:
    row = judged(machine("reciprocating-compressor", 90.0, rated_speed=720.0), 3.0)
    assert (row["level"], row["zone"], row["basis"]) == ("unknown", None, "part-unknown")
    assert "cylinder-lateral" in row["reason"]


def test_a_reciprocating_machine_by_hand_has_a_and_b_in_one() -> None:
    plant = machine("reciprocating-compressor", 200.0, rated_speed=720.0)
    row = judged(assigned(plant, "iso-10816-6-1995/class-3"), 11.0, band="2-1000Hz")
    assert (row["zone"], row["level"]) == ("A-B", "normal")
    assert "in zone A-B: not above B/C 11.2" in row["reason"]


def test_displacement_is_for_information_where_the_set_does_not_say_that_it_governs() -> None:
    plant = assigned(machine("generator", 900.0), "iso-10816-5-2000/groups-1-and-3")
    plant.read(1.0, asset="M-1", position="m-de")
    row = judged(plant, 200.0, quantity="displacement", detector="peak-to-peak")
    assert (row["quantity"], row["zone"], row["level"]) == ("velocity", "A", "normal")


def test_a_set_of_another_kind_of_machine_is_told_as_a_proxy() -> None:
    plant = assigned(machine("gearbox", 200.0), "iso-20816-3-2022/group-2")
    row = judged(plant, 2.0)
    assert (row["zone"], row["level"]) == ("B", "normal")
    assert "proxy for a gearbox" in row["assumed"]
    assert "does not cover a gearbox" in limits(plant)["why"]


def test_a_small_motor_by_class_i_where_a_plant_chose_so() -> None:
    row = judged(assigned(machine("electric-motor", 4.0), "iso-10816-1-1995"), 2.0)
    assert (row["limit_group"], row["zone"], row["level"]) == ("class-I", "C", "alert")


@pytest.mark.parametrize(
    ("speed", "value", "zone"),
    [(600.0, 80.0, "B"), (600.0, 81.0, "C"), (600.0, 131.0, "D"), (601.0, 131.0, None)],
)
def test_a_slow_pump_goes_by_displacement_too(speed: float, value: float, zone: str | None) -> None:
    # din: 50 / 80 / 130 um peak to peak for all pumps, in addition to velocity, up to 600 r/min
    plant = machine("centrifugal-pump", 100.0, pump_category="II", rated_speed=speed)
    row = judged(plant, value, quantity="displacement", detector="peak-to-peak", band="2-1000Hz")
    assert row["zone"] == zone


@pytest.mark.parametrize(
    ("values", "limit_set"),
    [
        ({"rated_power_kw": 1.0}, None),  # din: more than 1 kW
        ({"rated_power_kw": 1.1}, "iso-10816-7-2009"),
        ({"vane_count": 2}, None),  # din: 3 vanes and more
        ({"vane_count": 3}, "iso-10816-7-2009"),
    ],
)
def test_scope_of_part_7(values: dict[str, float], limit_set: str | None) -> None:
    row = limits(machine("centrifugal-pump", 100.0, **values))
    assert row["limit_set"] == limit_set


@pytest.mark.parametrize(
    ("equipment_class", "values", "group"),
    [
        # lib, and the title page of ISO 20816-3:2022: 120 to 30,000 r/min, up to 50 MW
        ("electric-motor", {"rated_speed": 120.0}, "group-2"),
        ("electric-motor", {"rated_speed": 119.0}, None),
        ("electric-motor", {"rated_speed": 30000.0}, "group-2"),
        ("electric-motor", {"rated_speed": 30001.0}, None),
        ("generator", {"rated_power_kw": 50000.0}, "group-1"),
        ("generator", {"rated_power_kw": 50001.0}, None),
        # lib: 160 mm and more, below 315 mm; shaft height goes before power
        ("electric-motor", {"shaft_height_mm": 160.0}, "group-2"),
        ("electric-motor", {"shaft_height_mm": 314.9, "rated_power_kw": 400.0}, "group-2"),
        ("electric-motor", {"shaft_height_mm": 315.0}, "group-1"),
        # abstract of ISO 14694: fans up to 300 kW are its own
        ("fan", {"rated_power_kw": 300.0}, "BV-3"),
        ("fan", {"rated_power_kw": 300.1}, "group-1"),
    ],
)
def test_scope_and_groups_of_part_3(
    equipment_class: str, values: dict[str, float], group: str | None
) -> None:
    assert limits(machine(equipment_class, 100.0, **values))["limit_group"] == group


@pytest.mark.parametrize(
    ("speed", "band", "zone"),
    [
        (599.0, "10-1000Hz", None),  # lib: below 600 r/min the band must begin at 2 Hz
        (599.0, "2-1000Hz", "A"),
        (600.0, "10-1000Hz", "A"),
    ],
)
def test_a_slow_machine_needs_a_lower_band(speed: float, band: str, zone: str | None) -> None:
    plant = machine("electric-motor", 100.0, support_horizontal="rigid", rated_speed=speed)
    assert judged(plant, 1.0, band=band)["zone"] == zone
