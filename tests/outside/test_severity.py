"""Published severity values, typed here again from their sources, against what we compute.

Sources (named in each id):
 lib   a public acoustics library that transcribes ISO 10816-3:2009 clause by clause, and its tests
 din   one-page German summary of DIN ISO 10816-7:2009-08
 el    an electronics distributor's article on DIN ISO 10816-3
 trade trade fact, common practice, no source
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.outside.machines import HP_KW, judged, machine
from warehouse.limits import alarm_setting, trip_ceiling, zone
from warehouse.limits.severity import is_significant_change, rms_of_derived_peak


@pytest.mark.parametrize(
    ("value", "boundaries", "expected"),
    [
        pytest.param(3.0, (1.4, 2.8, 4.5), "C", id="lib-group-2-rigid-3.0"),
        pytest.param(3.0, (3.5, 7.1, 11.0), "A", id="lib-group-1-flexible-3.0"),
        pytest.param(2.0, (2.3, 4.5, 7.1), "A", id="lib-group-1-rigid-2.0"),
        pytest.param(95.0, (29, 57, 90), "D", id="lib-group-1-rigid-95-um"),
        pytest.param(4.5, (2.3, 4.5, 7.1), "B", id="lib-on-the-boundary-is-better"),
        pytest.param(4.5000001, (2.3, 4.5, 7.1), "C", id="lib-just-above-the-boundary"),
        pytest.param(4.5 * 2**0.5 / 2**0.5, (1.4, 2.8, 4.5), "C", id="own-boundary-converted"),
    ],
)
def test_zone(value: float, boundaries: tuple[float, float, float], expected: str) -> None:
    assert zone(value, *boundaries) == expected


@pytest.mark.parametrize(
    ("baseline", "expected"),
    [
        pytest.param(2.0, 3.125, id="lib-baseline-2.0"),
        pytest.param(5.0, 5.625, id="own-capped-at-1.25-b-c"),
        pytest.param(0.8, 1.925, id="el-baseline-0.8"),
        pytest.param(None, 4.5, id="own-choice-no-baseline"),
    ],
)
def test_alarm_setting_for_b_c_4_5(baseline: float | None, expected: float) -> None:
    assert alarm_setting(4.5, baseline) == pytest.approx(expected, abs=1e-12)


def test_trip_ceiling_lib() -> None:
    assert trip_ceiling(7.1) == pytest.approx(8.875, abs=1e-12)


def test_significant_change_lib() -> None:
    # Exactly 25 % of B/C is not exceeding; a fall counts as a rise does.
    assert not is_significant_change(3.125, 2.0, 4.5)
    assert is_significant_change(3.126, 2.0, 4.5)
    assert is_significant_change(2.0, 3.2, 4.5)


@pytest.mark.parametrize(
    ("power", "support", "value", "expected"),
    [
        pytest.param(100.0, "rigid", 3.0, ("C", "alert"), id="lib-group-2-rigid"),
        pytest.param(400.0, "flexible", 3.0, ("A", "normal"), id="lib-group-1-flexible"),
        pytest.param(100.0, None, 3.0, ("C", "alert"), id="own-unknown-support-is-rigid"),
        pytest.param(300.0, "rigid", 2.8, ("B", "normal"), id="lib-300-kW-is-group-2"),
        pytest.param(300.1, "rigid", 2.8, ("B", "normal"), id="lib-above-300-kW-is-group-1"),
        pytest.param(300.1, "rigid", 4.6, ("C", "alert"), id="lib-above-300-kW-c"),
        pytest.param(300.0, "rigid", 4.6, ("D", "danger"), id="lib-300-kW-d"),
    ],
)
def test_judged_by_iso_20816_3(
    power: float, support: str | None, value: float, expected: tuple[str, str]
) -> None:
    row = judged(machine("electric-motor", power, support_horizontal=support), value)
    assert (row["zone"], row["level"]) == expected


def test_displacement_governs_where_it_is_worse_lib() -> None:
    plant = machine("electric-motor", 400.0, support_horizontal="rigid")
    plant.read(2.0, asset="M-1", position="m-de")
    row = judged(plant, 95.0, quantity="displacement")
    assert (row["zone"], row["level"], row["quantity"]) == ("D", "danger", "displacement")


@pytest.mark.parametrize(
    ("power_kw", "value", "expected"),
    [
        pytest.param(200.0, 5.1, "B", id="din-exactly-200-kW-is-the-lower-class"),
        pytest.param(200.0, 5.2, "C", id="din-200-kW-c"),
        pytest.param(250 * HP_KW, 5.2, "C", id="trade-250-hp-lower-class"),
        pytest.param(268 * HP_KW, 5.2, "C", id="trade-268-hp-lower-class"),
        pytest.param(270 * HP_KW, 5.2, "B", id="trade-270-hp-upper-class"),
    ],
)
def test_pump_power_class(power_kw: float, value: float, expected: str) -> None:
    plant = machine(
        "centrifugal-pump",
        power_kw,
        role="driven",
        pump_category="II",
        vane_count=5,
    )
    assert judged(plant, value)["zone"] == expected


def test_derived_peak_0_06_in_s_is_zone_a_trade() -> None:
    mm_s = 0.06 * 25.4
    assert rms_of_derived_peak(mm_s) == pytest.approx(1.08, abs=0.005)
    row = judged(
        machine("electric-motor", 100.0, support_horizontal="rigid"), mm_s, detector="derived-peak"
    )
    assert row["value"] == pytest.approx(1.0776, abs=1e-4)
    assert (row["zone"], row["level"], row["detector"]) == ("A", "normal", "rms")


@pytest.mark.parametrize("in_s", [0.002, 0.004], ids=lambda v: f"trade-{v}-in-s")
def test_smooth_unloaded_machine_proven_running_is_neither_stuck_nor_stopped(
    in_s: float,
) -> None:
    plant = machine("electric-motor", 100.0, support_horizontal="rigid")
    # Loaded before: the smooth value is far below its own history, and not by 25.4, which would
    # rightly be doubted as a slip of unit.
    for day in range(1, 20):
        ago = timedelta(days=day)
        plant.read(1.9, asset="M-1", position="m-de", ago=ago)
        plant.speed(1480.0, asset="M-1", position="m-de", ago=ago)
    for hours in range(1, 9):  # often enough to have settled
        plant.speed(1480.0, asset="M-1", position="m-de", ago=timedelta(hours=hours))
        plant.read(in_s * 25.4, asset="M-1", position="m-de", ago=timedelta(hours=hours))
    row = plant.condition("member", member="m")
    assert (row["level"], row["zone"], row["running_state"]) == ("normal", "A", "steady")
    assert row["distrust"] is None
