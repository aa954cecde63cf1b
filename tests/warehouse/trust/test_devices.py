"""The device itself: is it heard, how long does it last, is its clock right, what does it mark."""

from __future__ import annotations

from typing import Any

import pytest

from tests.warehouse.trust.found import DAY, HOUR, found, noisy, steadily
from tests.warehouse.views.plant import AS_OF, Plant

CHARGE: dict[str, Any] = {
    "quantity": "battery-charge", "detector": "value", "band": None, "axis": None, "channel": "b",
}  # fmt: skip


def _hours(*ago: float, plant: Plant | None = None, **place: Any) -> Plant:
    plant = plant or Plant().train()
    for hours in ago:
        plant.read(2.0, ago=hours * HOUR, **place)
    return plant


@pytest.mark.parametrize(("last", "silent"), [(12.0, False), (12.1, True)])
def test_three_observed_intervals_make_a_device_silent(last: float, silent: bool) -> None:
    rows = found(_hours(last + 8, last + 4, last), "silent")
    assert [(row["device"], row["series_id"]) for row in rows] == (
        [("dev-pump-de", None)] if silent else []
    )
    if silent:
        assert rows[0]["since"] == AS_OF - last * HOUR
        assert (rows[0]["site"], rows[0]["asset"], rows[0]["effect"]) == ("s1", "P-101", "note")
        assert "due every 4.00 h" in rows[0]["evidence"]


def test_a_longer_declared_interval_counts() -> None:
    plant = _hours(21, 17, 13)
    plant.add("devices", device="dev-pump-de", kind="k", method="wireless", interval_minutes=300.0)
    assert found(plant, "silent") == []


def test_one_channel_falls_silent_while_its_device_speaks() -> None:
    plant = _hours(33, 29, 25, 21, axis="axial", channel="x")
    (row,) = found(_hours(33, 29, 25, 21, 17, 13, 9, 5, 1, plant=plant), "silent")
    assert (row["axis"], row["channel"], row["quantity"]) == ("axial", "x", "velocity")


def test_a_machine_left_out_on_the_walk_is_told_once() -> None:
    plant = Plant().train("P-1").train("P-2")
    for visit in range(6):
        for axis in ("axial", "horizontal"):
            for asset in ("P-1", "P-2"):
                if asset == "P-1" or visit > 3:
                    plant.read(2.0, ago=visit * 7 * DAY + HOUR, asset=asset, axis=axis,
                               channel=f"{asset} {axis}", device="m", method="route")  # fmt: skip
    (row,) = found(plant, "silent")
    assert (row["asset"], row["position"], row["axis"]) == ("P-2", None, None)
    assert row["since"] == AS_OF - 28 * DAY - HOUR


def test_a_device_that_never_spoke_is_told() -> None:
    plant = Plant().train().add("devices", device="mute", kind="k", method="wireless")
    plant.add("mountings", device="mute", channel="1", site="s1", asset="P-101",
              position="pump-de", mounted_from=AS_OF - DAY, commissioning="passed")  # fmt: skip
    (row,) = found(plant, "silent")
    assert (row["device"], row["since"], row["position"]) == ("mute", None, "pump-de")


def test_a_sensor_that_moved_or_was_taken_off_is_not_silent_at_its_old_place() -> None:
    plant = Plant().train("P-1").train("P-2")
    _hours(48, 44, 40, plant=plant, asset="P-1", device="d")
    _hours(9, 5, 1, plant=plant, asset="P-2", device="d")
    _hours(96, 92, 88, plant=plant, asset="P-1", device="gone")
    plant.add("mountings", device="gone", channel="horizontal", site="s1", asset="P-1",
              position="pump-de", mounted_from=AS_OF - 9 * DAY, mounted_to=AS_OF - 3 * DAY,
              commissioning="passed")  # fmt: skip
    assert found(plant, "silent") == []


def _battery(*charges: float, every: int = 1) -> Plant:
    plant = Plant().train()
    for back, charge in enumerate(reversed(charges)):
        plant.read(charge, ago=back * every * DAY + HOUR, **CHARGE)
    return plant


def test_a_low_battery_is_told_with_its_days() -> None:
    falling = [40 - 0.5 * day for day in range(60)]  # 10.5 % at the end, 3.5 % a week
    plant = _battery(*falling)
    (row,) = found(plant, "battery")
    assert row["since"] == AS_OF - HOUR - 18 * DAY  # the first reading below 20 %
    assert "10.5 % charge, low is below 20.0 %" in row["evidence"]
    (life,) = plant.view("battery_life")
    assert life["days_left"] == pytest.approx(11.0)  # (10.5 - 5) / 0.5
    assert life["days_left_low"] <= life["days_left"] <= life["days_left_high"]


def test_a_battery_that_ends_within_the_plan_is_told_before_it_is_low() -> None:
    (row,) = found(_battery(*[80 - day for day in range(50)]), "battery")  # 31 % at the end
    assert "26.0 d at its own rate" in row["evidence"]


@pytest.mark.parametrize(
    ("charges", "told"),
    [
        ([90.0] * 80, "days left: not to be told, its charge is flat or too noisy"),
        ([90.0, 60.0, 75.0, 88.0] * 20, "days left: not to be told, its charge is flat or too"),
        ([90.0] * 20, "days left: not to be told, fewer than 4 weeks of this battery"),
        ([90 - 0.03 * day for day in range(80)], "lasts more than 365 d at its own rate"),
    ],
)  # fmt: skip
def test_days_are_not_told_where_they_cannot_be(charges: list[float], told: str) -> None:
    plant = _battery(*charges)
    (life,) = plant.view("battery_life")
    assert life["told"].startswith(told)
    assert life["days_left"] is None
    assert found(plant, "battery") == []


def test_the_last_weeks_count_where_a_battery_falls_faster_and_faster() -> None:
    bent = [90.0] * 56 + [90 - 2.0 * day for day in range(28)]
    (life,) = _battery(*bent).view("battery_life")
    assert life["weeks"] == 4
    assert life["days_left"] == pytest.approx((36 - 5) / 2.0)


def test_another_battery_starts_anew() -> None:
    changed = [30 - 0.5 * day for day in range(40)] + [99.0] * 10
    (life,) = _battery(*changed).view("battery_life")
    assert life["weeks"] is None
    assert found(_battery(*changed), "battery") == []


def test_a_voltage_is_compared_with_its_own_and_gives_no_days() -> None:
    plant = Plant().train()
    volt = CHARGE | {"quantity": "battery-voltage"}
    for back in range(80):
        plant.read(3.2 if back < 8 else 3.6, ago=back * DAY + HOUR, **volt)
    (row,) = found(plant, "battery")
    assert "3.20 V, 3.60 V when it was new; days left: not to be told" in row["evidence"]


@pytest.mark.parametrize(
    ("usual", "lately", "told"),
    [(-80.0, -80.0, False), (-80.0, -89.0, False), (-80.0, -90.0, True), (-112.0, -112.0, True)],
)
def test_signal(usual: float, lately: float, told: bool) -> None:
    plant = Plant().train()
    signal = CHARGE | {"quantity": "signal-strength"}
    plant.add("devices", device="dev-pump-de", kind="k", method="wireless", interval_minutes=720.0)
    for back in range(25):
        plant.read(lately if back < 7 else usual, ago=back * DAY + HOUR, **signal)
    rows = found(plant, "signal-weak")
    assert len(rows) == told
    if told:
        assert "7 of 14 messages came" in rows[0]["evidence"]


@pytest.mark.parametrize(("lead", "told"), [(4, False), (90, True), (-90, False)])
def test_a_clock_that_is_ahead(lead: int, told: bool) -> None:
    plant = Plant().train()
    for back in range(12):
        ts = AS_OF - back * DAY - 5 * HOUR
        plant.read(2.0, ts=ts, received_at=ts - lead * HOUR / 60, ts_source="device")
    rows = found(plant, "clock-ahead")
    assert len(rows) == told
    if told:
        assert "12 of 12 readings" in rows[0]["evidence"]
        assert "by 90.0 min" in rows[0]["evidence"]


def test_marks_are_told_while_they_last_and_for_a_while_after() -> None:
    marked: dict[str, Any] = {"quality": "bad", "reason": "over-range"}
    plant = Plant().train().read(2.0, ago=9 * HOUR).read(None, ago=5 * HOUR, **marked)
    (row,) = found(plant.read(None, **marked), "over-range")
    assert (row["since"], row["until"], row["effect"]) == (AS_OF - 5 * HOUR, None, "distrust")
    plant = Plant().train().read(None, ago=20 * DAY, **marked).read(2.0)
    (row,) = found(plant, "over-range")
    assert row["until"] == AS_OF - 20 * DAY
    plant = Plant().train().read(None, ago=40 * DAY, **marked).read(2.0)
    assert found(plant, "over-range") == []


def test_a_provisional_mounting_is_one_finding() -> None:
    plant = Plant().train()
    for axis in ("axial", "horizontal"):
        plant.read(2.0, axis=axis, quality="suspect", reason="provisional-mounting")
    (row,) = found(plant, "provisional-mounting")
    assert (row["device"], row["axis"], row["position"]) == ("dev-pump-de", None, "pump-de")


def test_stopped_or_loose_since_when() -> None:
    plant = Plant().train().daily([2.5] * 10, last_days_ago=1)
    for hours in (5, 4, 3, 2):
        plant.read(0.05, ago=hours * HOUR)
    (row,) = found(plant, "stopped-or-loose")
    assert (row["since"], row["until"], row["effect"]) == (AS_OF - 5 * HOUR, None, "distrust")
    assert "velocity 0.05 mm/s, usually 2.50" in row["evidence"]


def test_a_healthy_sensor_has_no_findings() -> None:
    plant = steadily(Plant().train(), list(noisy(200)))
    for back in range(60):
        plant.read(90 - back * 0.1, ago=back * DAY + HOUR, **CHARGE)
    assert found(plant) == []
