"""From daily values to what is told of a trend: windows, bins, steps, words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from scipy import stats

from schemas.tables.conditions import TREND
from tests.warehouse.trends.series import noise
from tests.warehouse.views.plant import AS_OF, Plant

DAY = timedelta(days=1)
MOTOR: dict[str, Any] = {"scope": "point", "position": "motor-de", "axis": "horizontal"}
"""A 55 kW motor on rigid support: A/B 1.4, B/C 2.8, C/D 4.5 mm/s."""

RISE = [1.5 + 0.03 * day for day in range(30)]


def _motor(values: list[float], **place: Any) -> Plant:
    return Plant().train().daily(values, position="motor-de", **place)


def _trend(plant: Plant, **when: Any) -> dict[str, Any]:
    (row,) = plant.view("trends", **when)
    assert row["state"] in TREND
    return row


def test_a_rise_in_zone_b_is_a_watch() -> None:
    row = _motor(RISE).condition(**MOTOR)
    assert (row["zone"], row["level"], row["basis"]) == ("B", "watch", "trend")
    assert "rising 0.90 mm/s in 30 days" in row["reason"]
    assert (row["trend_state"], row["trend_window_days"], row["trend_days"]) == ("rising", 30, 30)
    assert row["trend_p"] < 1e-4
    assert row["trend_p_fleet"] < 1e-4


def test_less_than_a_tenth_of_b_c_in_30_days_is_no_watch() -> None:
    row = _motor([1.5 + 0.008 * day for day in range(30)]).condition(**MOTOR)
    assert (row["level"], row["basis"], row["trend_state"]) == ("normal", "severity", "level")
    assert row["trend_reason"].startswith("no significant rise or fall: +0.24 mm/s in 30 days")


def test_a_rise_in_zone_a_or_c_is_told_and_changes_no_level() -> None:
    for start, zone, level in ((0.2, "A", "normal"), (3.0, "C", "alert")):
        row = _motor([start + 0.03 * day for day in range(30)]).condition(**MOTOR)
        assert (row["zone"], row["level"], row["basis"]) == (zone, level, "severity")
        assert (row["trend_state"], "rising" in row["reason"]) == ("rising", True)


def test_a_fall_is_told_and_is_no_watch() -> None:
    row = _motor(RISE[::-1]).condition(**MOTOR)
    assert (row["level"], row["trend_state"], row["trend_boundary"]) == ("normal", "falling", None)


def test_time_to_the_next_boundary_by_a_straight_line() -> None:
    # a growth that slows down: the straight line crosses first, the logarithm later
    values = [1.5 + 0.03 * day for day in range(30)]
    plant = _motor(values)
    row = _trend(plant)
    last, slope = values[-1], 0.03
    straight = (2.8 - last) / slope
    logarithm = np.log(values)
    slope_of_logarithm = stats.theilslopes(logarithm, np.arange(30)).slope
    level = np.median(logarithm - slope_of_logarithm * np.arange(-29, 1))
    curved = (np.log(2.8) - level) / slope_of_logarithm
    assert row["boundary"] == "B/C"
    assert row["boundary_days"] == pytest.approx(min(straight, curved))
    assert row["form"] == ("linear" if straight < curved else "log-linear")
    # which of both goes on nobody knows: the bounds hold either
    assert row["boundary_days_low"] <= row["boundary_days"]
    assert row["boundary_days_high"] >= max(straight, curved)
    assert "at the present rate at B/C 2.80 in 10 days (95 % of both lines: " in row["reason"]
    assert "remaining life" not in row["reason"]


def test_growth_in_per_cent_crosses_by_its_logarithm() -> None:
    # ln y = a + b t, t = (ln 2.8 - a) / b: exact growth of 2 % a day from 1.45
    values = [1.45 * 1.02**day for day in range(30)]
    row = _trend(_motor(values))
    assert row["form"] == "log-linear"
    assert row["boundary_days"] == pytest.approx(np.log(2.8 / values[-1]) / np.log(1.02))


def test_no_time_beyond_the_window() -> None:
    row = _trend(_motor([1.5 + 0.01 * day for day in range(30)]))
    assert (row["state"], row["boundary"], row["boundary_days"]) == ("rising", "B/C", None)
    assert "at the present rate not at B/C 2.80 within 30 days" in row["reason"]


def test_a_slow_rise_is_found_in_the_long_window() -> None:
    values = list(1.5 + 0.0095 * np.arange(90) + 0.1 * noise(1, 90, 0.0, seed=4)[0])
    row = _trend(_motor(values))
    assert (row["state"], row["window_days"], row["days"]) == ("rising", 90, 90)


def test_what_rose_earlier_and_stands_still_now_rises_no_longer() -> None:
    rng = noise(1, 90, 0.0, seed=6)[0] * 0.01
    values = [min(1.5 + 0.02 * day, 2.6) for day in range(90)] + rng
    assert _trend(_motor(list(values)))["state"] == "level"


def test_a_step_is_told_as_a_step_with_its_day_and_size() -> None:
    values = list(1.5 + 0.02 * noise(1, 40, 0.0, seed=8)[0])
    values += list(2.1 + 0.02 * noise(1, 20, 0.0, seed=9)[0])
    row = _motor(values).condition(**MOTOR)
    assert (row["trend_step_on"], row["trend_state"]) == (date(2026, 2, 10), "level")
    assert row["trend_step_size"] == pytest.approx(0.6, abs=0.03)
    assert (row["level"], row["trend_days"]) == ("normal", 20)
    assert "; a step of +0." in row["reason"]
    assert "mm/s on 2026-02-10; since then no significant rise or fall" in row["reason"]


def test_a_slope_behind_a_step_is_taken_behind_it_only() -> None:
    values = [1.0 + 0.001 * (day % 3) for day in range(40)]
    values += [1.6 + 0.02 * day for day in range(25)]
    row = _trend(_motor(values))
    assert (row["state"], row["step_on"], row["days"]) == ("rising", date(2026, 2, 5), 25)
    assert row["per_30_days"] == pytest.approx(0.6)


def test_too_few_days_since_a_step_are_told_and_not_judged() -> None:
    row = _trend(_motor([1.0 + 0.01 * (day % 2) for day in range(40)] + [2.0, 2.01] * 4))
    assert row["state"] == "not-judged"
    assert row["reason"] == (
        "a step of +0.99 mm/s on 2026-02-22; since then trend not judged: 8 daily values in 90 "
        "days, 14 are needed (or 6 over more than 30 days)"
    )


@pytest.mark.parametrize(
    ("values", "state", "reason"),
    [
        (13, "not-judged", "13 daily values in 90 days, 14 are needed"),
        (14, "level", "from 14 daily values in 30 days"),
    ],
)
def test_online_needs_fourteen_daily_values(values: int, state: str, reason: str) -> None:
    row = _trend(_motor([2.0] * values))
    assert (row["state"], reason in row["reason"]) == (state, True)


def test_a_standby_machine_is_judged_over_the_quarter() -> None:
    plant = Plant().train()
    for visit in range(18):  # every fifth day: six in 30 days, eighteen in 90
        plant.read(2.6 - 0.07 * visit, ago=5 * visit * DAY + DAY / 24, position="motor-de")
    row = _trend(plant)
    assert (row["state"], row["window_days"], row["days"]) == ("rising", 90, 18)


def test_a_machine_that_runs_once_a_fortnight_is_judged_like_a_route() -> None:
    plant = Plant().train()
    for visit in range(6):
        plant.read(2.6 - 0.2 * visit, ago=14 * visit * DAY + DAY / 24, position="motor-de")
    row = _trend(plant)
    assert (row["state"], row["window_days"], row["days"]) == ("rising", 365, 6)
    assert "from 6 values in 365 days" in row["reason"]


def test_six_days_in_a_row_are_no_route() -> None:
    assert _trend(_motor([1.5, 1.6, 1.7, 1.8, 1.9, 2.0]))["state"] == "not-judged"


@pytest.mark.parametrize(("visits", "state"), [(5, "not-judged"), (6, "rising")])
def test_a_route_needs_six_visits(visits: int, state: str) -> None:
    plant = Plant().train()
    for visit in range(visits):
        plant.read(
            2.7 - 0.3 * visit, ago=timedelta(days=28 * visit, hours=1), method="route",
            position="motor-de",
        )  # fmt: skip
    row = _trend(plant)
    assert row["state"] == state
    if state == "not-judged":
        assert row["reason"] == (
            "trend not judged: 5 visits in 365 days, 6 over more than 30 days are needed"
        )


def test_the_window_ends_at_as_of() -> None:
    plant = _motor([1.0] * 20 + [9.0] * 20)
    row = _trend(plant, as_of=AS_OF - 20 * DAY)
    assert (row["days"], row["per_30_days"]) == (20, 0)


def test_gaps_between_days_count_as_time() -> None:
    plant = Plant().train()
    days = [0, 1, 2, 3, 5, 8, 9, 12, 13, 17, 18, 21, 24, 26, 29]
    values = [2.0, 2.1, 2.0, 2.3, 2.2, 2.6, 2.5, 2.9, 2.7, 3.1, 3.3, 3.2, 3.6, 3.5, 3.9]
    for day, value in zip(days, values, strict=True):
        plant.read(value, ago=timedelta(days=29 - day, hours=1))
    assert _trend(plant)["per_30_days"] == pytest.approx(30 * stats.theilslopes(values, days).slope)


def test_derived_peaks_are_told_as_rms() -> None:
    row = _motor([2**0.5 * value for value in RISE], detector="derived-peak").condition(**MOTOR)
    assert row["trend_per_30_days"] == pytest.approx(0.9)
    assert row["trend_step_on"] is None


def _at_speeds(speeds: list[float], values: list[float]) -> Plant:
    """One reading a day at its speed, which is told five minutes before."""
    plant = Plant().train()
    for back, (speed, value) in enumerate(zip(reversed(speeds), reversed(values), strict=True)):
        ago = timedelta(days=back, hours=1)
        plant.speed(speed, ago=ago + timedelta(minutes=5)).read(value, ago=ago, position="motor-de")
    return plant


def test_only_days_in_the_usual_bin_are_compared() -> None:
    # the machine is run faster every third day, and the more so of late
    speeds = [1480.0 if day % 3 else 1000.0 for day in range(60)]
    values = [2.0 + 0.05 * (day % 2) if day % 3 else 1.5 + 0.03 * day for day in range(60)]
    row = _at_speeds(speeds, values).condition(**MOTOR)
    assert (row["trend_state"], row["trend_days"]) == ("level", 20)
    assert row["operating_bin"] == "speed 1406 to 1554 r/min"


def test_a_day_in_two_bins_counts_with_its_readings_in_the_usual_one() -> None:
    plant = Plant().train()
    for speed, value, hours in ((1480.0, 2.0, 1), (1480.0, 2.2, 3), (900.0, 9.0, 5)):
        ago = timedelta(hours=hours)
        plant.speed(speed, ago=ago + timedelta(minutes=15))
        plant.speed(speed, ago=ago + timedelta(minutes=5))
        plant.read(value, ago=ago, position="motor-de")
    (whole,) = plant.view("daily_statistics")
    (in_bin,) = plant.view("trend_values")
    assert (whole["judged"], whole["in_bin"]) == (3, 2)
    assert (whole["slowest"], whole["fastest"]) == (900.0, 1480.0)
    assert in_bin["value"] == pytest.approx(2.1)


def test_a_speed_that_may_vary_and_is_not_told_gives_no_trend() -> None:
    plant = _motor(RISE)
    plant.entities["members"][0] |= {"min_speed": 600.0, "max_speed": 1480.0}
    row = plant.condition(**MOTOR)
    assert (row["level"], row["trend_state"]) == ("normal", "not-judged")
    assert row["trend_reason"] == "trend not judged: the speed may vary and none is told"


def test_a_machine_without_a_daily_value_says_so() -> None:
    row = _trend(Plant().train().read(2.0, quality="bad", reason="over-range"))
    assert row["reason"] == "trend not judged: no daily value of steady running in 365 days"
