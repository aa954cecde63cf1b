"""Readings that count, judged values, limits chosen, zones, change against a baseline."""

from __future__ import annotations

from datetime import date, timedelta
from math import sqrt
from typing import Any

import pytest

from tests.warehouse.views.plant import AS_OF, Plant

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)


def test_superseded_and_later_readings_do_not_count() -> None:
    plant = Plant().train().read(1.0).read(2.0).read(3.0, ago=-HOUR)
    plant.superseded.append({"package": 1, "row": 1, "why": "revision"})
    assert [row["value"] for row in plant.view("readings_current")] == [2.0]


def test_wireless_and_wired_share_a_series_route_stands_alone() -> None:
    plant = Plant().train().read(1.0).read(2.0, method="wired").read(3.0, method="route")
    found = sorted((row["method_group"], row["readings"]) for row in plant.view("series"))
    assert found == [("online", 2), ("route", 1)]


@pytest.mark.parametrize(
    ("method", "values", "expected"),
    [
        ("wireless", [9.0, 1.0, 2.0, 50.0], 2.0),  # median of the last 3: one spike is nothing
        ("route", [9.0, 1.0, 2.0, 50.0], 50.0),  # the reading itself
    ],
)
def test_judged_value(method: str, values: list[float], expected: float) -> None:
    plant = Plant().train()
    for back, value in enumerate(reversed(values)):
        plant.read(value, ago=HOUR * (back + 1), method=method)
    (row,) = plant.view("judged_values")
    assert (row["value"], row["measured_at"]) == (expected, AS_OF - HOUR)


def test_the_last_take_counts() -> None:
    plant = Plant().train()
    for take, value in ((2, 3.0), (1, 8.0)):
        plant.read(value, take=take, method="route")
    assert [row["value"] for row in plant.view("judged_values")] == [3.0]
    assert [row["readings"] for row in plant.view("daily_statistics")] == [1]


def test_old_readings_do_not_vote() -> None:
    plant = Plant().train().read(9.0, ago=5 * DAY).read(9.0, ago=4 * DAY).read(2.0)
    (row,) = plant.view("judged_values")
    assert (row["value"], row["readings_used"]) == (2.0, 1)


@pytest.mark.parametrize(
    ("detector", "factor"),
    [("derived-peak", sqrt(2)), ("derived-peak-to-peak", 2 * sqrt(2)), ("rms", 1.0)],
)
def test_derived_peaks_are_judged_as_rms(detector: str, factor: float) -> None:
    (row,) = Plant().train().read(2.0 * factor, detector=detector).view("judged_values")
    assert row["value"] == pytest.approx(2.0, abs=1e-12)


def test_stale_after_of_a_route_is_interval_and_due_window() -> None:
    plant = Plant().train().read(2.0, method="route")
    plant.add("routes", route="R", stop="1", walk_order=1, site="s1", asset="P-101",
              position="pump-de", axis="horizontal", interval_days=90.0)  # fmt: skip
    (row,) = plant.view("judged_values")
    assert row["stale_after"] == AS_OF - HOUR + 97 * DAY


def test_latest_reading_is_told_whatever_its_state() -> None:
    plant = Plant().train().read(2.0, ago=4 * DAY)
    plant.read(None, ago=3 * DAY, quality="bad", reason="over-range")
    (row,) = plant.view("latest_readings")
    assert (row["doubt"], row["doubted_now"]) == ("over-range", False)
    assert row["stale_after"] <= AS_OF


def _member(plant: Plant, **values: Any) -> dict[str, Any]:
    base: dict[str, Any] = {"site": "s1", "asset": "X", "member": "m", "role": "driven"}
    plant.add("members", **base | values)
    (row,) = [row for row in plant.view("members_limits") if row["direction"] == "horizontal"]
    return row


@pytest.mark.parametrize(
    ("member", "group"),
    [
        ({"equipment_class": "electric-motor", "rated_power_kw": 15.0}, None),
        ({"equipment_class": "electric-motor", "rated_power_kw": 15.1}, "group-2"),
        ({"equipment_class": "electric-motor", "rated_power_kw": 300.0}, "group-2"),
        ({"equipment_class": "electric-motor", "rated_power_kw": 301.0}, "group-1"),
        ({"equipment_class": "electric-motor", "shaft_height_mm": 315.0}, "group-1"),
        ({"equipment_class": "electric-motor", "shaft_height_mm": 314.0}, "group-2"),
        # the shaft height of an electrical machine goes before its power
        (
            {
                "equipment_class": "electric-motor",
                "shaft_height_mm": 315.0,
                "rated_power_kw": 250.0,
            },
            "group-1",
        ),
        ({"equipment_class": "electric-motor"}, None),
        ({"equipment_class": "fan", "rated_power_kw": 300.0}, "BV-3"),
        ({"equipment_class": "fan"}, None),
        ({"equipment_class": "fan", "rated_power_kw": 301.0}, "group-1"),
        ({"equipment_class": "gearbox", "rated_power_kw": 400.0}, None),
        ({"equipment_class": "screw-compressor", "rated_power_kw": 400.0}, None),
        ({"equipment_class": "reciprocating-compressor", "rated_power_kw": 400.0}, "compressor"),
        ({"equipment_class": "reciprocating-compressor", "rated_speed": 1801.0}, None),
        ({"equipment_class": "reciprocating-pump", "rated_power_kw": 400.0}, None),
        ({"equipment_class": "centrifugal-compressor", "rated_power_kw": 400.0}, "group-1"),
        (
            {"equipment_class": "electric-motor", "rated_power_kw": 99.0, "rated_speed": 100.0},
            None,
        ),
        (
            {"equipment_class": "centrifugal-pump", "rated_power_kw": 99.0, "vane_count": 2},
            None,
        ),
        (
            {"equipment_class": "centrifugal-pump", "rated_power_kw": 99.0},
            "category-I-up-to-200-kW",
        ),
        (
            {
                "equipment_class": "centrifugal-pump",
                "rated_power_kw": 201.0,
                "pump_category": "II",
            },
            "category-II-over-200-kW",
        ),
    ],
)
def test_limit_group_by_rule(member: dict[str, Any], group: str | None) -> None:
    row = _member(Plant(), **member)
    assert row["limit_group"] == group
    assert row["chosen_by"] == ("rule" if group else None)
    assert row["why"]


def test_assumed_inputs_are_named() -> None:
    row = _member(Plant(), equipment_class="centrifugal-pump", rated_power_kw=99.0)
    assert row["assumed"] == "category I, never below 600 r/min"
    row = _member(
        Plant(),
        equipment_class="electric-motor",
        rated_power_kw=99.0,
        rated_speed=1480.0,
        assumed="rated_power_kw",
    )
    assert (row["assumed"], row["support"]) == ("rigid support, rated power", "rigid")


def test_support_goes_by_direction() -> None:
    plant = Plant().add(
        "members", site="s1", asset="X", member="m", role="driver", equipment_class="generator",
        rated_power_kw=99.0, support_horizontal="flexible", support_vertical="rigid",
    )  # fmt: skip
    found = {row["direction"]: row["support"] for row in plant.view("members_limits")}
    assert found == {
        "axial": "rigid",
        "horizontal": "flexible",
        "vertical": "rigid",
        "radial": "rigid",
    }


@pytest.mark.parametrize(
    ("assigned", "limit_set", "group"),
    [
        ("iso-20816-3-2022/group-2", "iso-20816-3-2022", "group-2"),
        ("iso-20816-3-2022/group-7", None, None),
        ("nobody-knows", None, None),
    ],
)
def test_hand_assignment_wins(assigned: str, limit_set: str | None, group: str | None) -> None:
    plant = Plant().add(
        "limit_assignments", site="s1", asset="X", member="m", limit_set=assigned,
        assigned_from=AS_OF - DAY, assigned_by="A. Nalyst", reason="proxy by power",
    )  # fmt: skip
    row = _member(plant, equipment_class="gearbox", rated_power_kw=99.0)
    assert (row["limit_set"], row["limit_group"], row["chosen_by"]) == (limit_set, group, "hand")
    assert "A. Nalyst" in row["why"]


def test_an_ended_assignment_does_not_count() -> None:
    plant = Plant().add(
        "limit_assignments", site="s1", asset="X", member="m", assigned_from=AS_OF - 2 * DAY,
        limit_set="iso-20816-3-2022/group-2", assigned_to=AS_OF - DAY, assigned_by="A", reason="r",
    )  # fmt: skip
    assert _member(plant, equipment_class="gearbox")["limit_set"] is None


def _zone(plant: Plant) -> dict[str, Any]:
    (row,) = plant.view("severity_zones")
    return row


@pytest.mark.parametrize(
    ("axis", "position", "basis"),
    [
        ("axial", "pump-de", "severity"),  # thrust end
        ("axial", "motor-de", "change-only"),
        ("radial-cross", "motor-de", "severity"),
        (None, "motor-de", "severity"),
    ],
)
def test_axial_zones_at_thrust_ends_only(axis: str | None, position: str, basis: str) -> None:
    row = _zone(Plant().train().read(1.0, axis=axis, position=position))
    assert row["basis"] == basis
    assert row["zone"] == ("A" if basis == "severity" else None)


def test_no_zone_away_from_a_bearing_housing() -> None:
    plant = Plant().train().point("P-101", "motor", "frame", bearing_housing=False)
    assert _zone(plant.read(9.0, position="frame"))["basis"] == "change-only"


@pytest.mark.parametrize(
    ("lowest", "band", "value", "basis", "level"),
    [
        (599.0, "10-1000Hz", 1.0, "band-blind", "unknown"),
        (600.0, "10-1000Hz", 1.0, "severity", "normal"),  # below 600 is below, 600 is not
        (599.0, "2-1000Hz", 1.0, "severity", "normal"),
        (599.0, "10-1000Hz", 6.0, "severity", "danger"),  # may raise
        (1480.0, "10-500Hz", 1.0, "band-blind", "unknown"),
        (1480.0, "20-1000Hz", 1.0, "band-blind", "unknown"),
        (1480.0, "2-2000Hz", 1.0, "severity", "normal"),
        (1480.0, None, 1.0, "band-blind", "unknown"),
    ],
)
def test_band_blind(lowest: float, band: str | None, value: float, basis: str, level: str) -> None:
    plant = Plant().train().read(value, position="motor-de", band=band)
    plant.entities["members"][0]["min_speed"] = lowest
    row = _zone(plant)
    assert (row["basis"], row["level"]) == (basis, level)
    assert (row["zone"] is None) == (basis == "band-blind")


@pytest.mark.parametrize(("speed", "zone"), [(600.0, "B"), (601.0, None)])
def test_pump_displacement_counts_at_low_speed_only(speed: float, zone: str | None) -> None:
    plant = (
        Plant()
        .train()
        .read(60.0, quantity="displacement", detector="peak-to-peak", band="2-1000Hz")
    )
    plant.entities["members"][1]["rated_speed"] = speed
    (row,) = plant.view("severity_zones")
    assert row["zone"] == zone
    if zone is None:  # what no limit is for is told, not passed over
        assert (row["basis"], row["level"]) == ("unjudged", "unknown")
        assert "has no limit of displacement peak-to-peak at 601 r/min" in row["reason"]


def test_since_is_the_first_day_of_the_unbroken_run() -> None:
    values = [3.0, *[1.0] * 6, 3.0, 5.0, 3.5, 3.5, 3.5]  # B/C 2.8: left once 6 are below 2.52
    row = _zone(Plant().train().daily(values, position="motor-de"))
    assert (row["zone"], row["since"]) == ("C", date(2026, 2, 27))  # three of four above


_WELL = [1.0] * 33
"""A reading a day: three of run-in, thirty for the baseline."""


def _hf(values: list[float], **place: Any) -> dict[str, Any]:
    plant = Plant().train()
    plant.daily(values, quantity="acceleration", band="1000-10000Hz", **place)
    (row,) = plant.view("hf_change")
    return row


@pytest.mark.parametrize(
    ("last", "level", "basis"),
    [
        (2.0, "unknown", "change-only"),
        (2.01, "watch", "hf-change"),
        (4.0, "watch", "hf-change"),
        (4.01, "alert", "hf-change"),
        (99.0, "alert", "hf-change"),  # never danger
    ],
)
def test_hf_change(last: float, level: str, basis: str) -> None:
    row = _hf(_WELL + [last] * 3)
    assert (row["level"], row["basis"], row["baseline"]) == (level, basis, 1.0)
    assert row["ratio"] == last


def test_hf_since_is_the_first_day_on_which_it_lasted() -> None:
    row = _hf([*_WELL, 2.5, 1.0, 2.5, 4.5, 2.1])
    assert (row["level"], row["since"]) == ("watch", date(2026, 2, 28))


def test_one_spike_and_one_dip_change_nothing() -> None:
    assert _hf([*_WELL, 1.0, 9.0, 1.0])["level"] == "unknown"
    assert _hf([*_WELL, *[3.0] * 6, 1.0])["level"] == "watch"
    assert _hf([*_WELL, *[3.0] * 6, *[1.0] * 5])["level"] == "watch"
    assert _hf([*_WELL, *[3.0] * 6, *[1.0] * 6])["level"] == "unknown"


def test_hf_needs_its_baseline() -> None:
    short = _hf([1.0] * 20)
    assert short["basis"] == "no-baseline"
    assert "17 of 14 days, 17 of 30 readings after 72 h of run-in" in short["reason"]
    assert _hf([1.0] * 3 + [5.0], method="route")["level"] == "alert"
    assert _hf([1.0] * 2 + [5.0], method="route")["basis"] == "no-baseline"


def test_an_exchanged_machine_gets_a_new_baseline() -> None:
    plant = Plant().train().daily([1.0] * 20 + [5.0] * 35, quantity="acceleration")
    plant.add("installations", serial="2", site="s1", asset="P-101", member="pump",
              installed_from=AS_OF - 35 * DAY)  # fmt: skip
    (row,) = plant.view("hf_change")
    assert (row["baseline"], row["level"]) == (5.0, "unknown")
