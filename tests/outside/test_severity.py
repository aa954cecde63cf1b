"""Published severity values, typed here again from their sources, against what we compute.

Sources (named in each id):
 lib   a public acoustics library that transcribes ISO 10816-3:2009 clause by clause, and its tests
 din   one-page German summary of DIN ISO 10816-7:2009-08
 el    an electronics distributor's article on DIN ISO 10816-3
 trade trade fact, common practice, no source
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.warehouse.views.plant import Plant
from warehouse.limits import alarm_setting, load_limits, trip_ceiling, zone
from warehouse.limits.severity import is_significant_change, rms_of_derived_peak

ISO_3 = "iso-20816-3-2022"
ISO_7 = "iso-10816-7-2009"
HP_KW = 0.74569987

# Tables A.1 and A.2 of ISO 10816-3:2009 (lib): group, support, quantity, A/B, B/C, C/D.
TABLE_3 = [
    ("group-1", "rigid", "velocity", 2.3, 4.5, 7.1),
    ("group-1", "rigid", "displacement", 29, 57, 90),
    ("group-1", "flexible", "velocity", 3.5, 7.1, 11.0),
    ("group-1", "flexible", "displacement", 45, 90, 140),
    ("group-2", "rigid", "velocity", 1.4, 2.8, 4.5),
    ("group-2", "rigid", "displacement", 22, 45, 71),
    ("group-2", "flexible", "velocity", 2.3, 4.5, 7.1),
    ("group-2", "flexible", "displacement", 37, 71, 113),
]
# ISO 10816-7:2009 (din): A/B, B/C, C/D, ALARM, TRIP and the four acceptance values as printed.
TABLE_7 = {
    "category-I-up-to-200-kW": (2.5, 4.0, 6.6, 5.0, 8.3, 2.5, 3.4, 3.3, 4.0),
    "category-I-over-200-kW": (3.5, 5.0, 7.6, 6.3, 9.5, 3.5, 4.4, 4.3, 5.0),
    "category-II-up-to-200-kW": (3.2, 5.1, 8.5, 6.4, 10.6, 3.2, 4.2, 4.2, 5.1),
    "category-II-over-200-kW": (4.2, 6.1, 9.5, 7.6, 11.9, 4.2, 5.2, 5.2, 6.1),
}


def _rows(table: str, **wanted: Any) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = load_limits()[table].to_pylist()
    return [row for row in rows if all(row[key] == value for key, value in wanted.items())]


@pytest.mark.parametrize(
    ("group", "support", "quantity", "a_b", "b_c", "c_d"),
    [pytest.param(*row, id="lib-" + "-".join(map(str, row[:3]))) for row in TABLE_3],
)
def test_iso_20816_3_row_is_as_published(
    group: str, support: str, quantity: str, a_b: float, b_c: float, c_d: float
) -> None:
    (row,) = _rows("limit_rows", limit_set=ISO_3, group=group, support=support, quantity=quantity)
    assert (row["a_b"], row["b_c"], row["c_d"], row["detector"]) == (a_b, b_c, c_d, "rms")
    assert (row["confidence"], row["verified"]) == ("V1", True)


def test_iso_20816_3_has_no_other_row() -> None:
    # Groups 3 and 4 (pumps) stand in the withdrawn 1998 edition only.
    assert len(_rows("limit_rows", limit_set=ISO_3)) == len(TABLE_3)


@pytest.mark.parametrize("group", TABLE_7, ids=lambda group: f"din-{group}")
def test_iso_10816_7_row_is_as_printed(group: str) -> None:
    expected = TABLE_7[group]
    for support in ("rigid", "flexible"):  # Part 7 knows no split
        (row,) = _rows(
            "limit_rows", limit_set=ISO_7, group=group, support=support, quantity="velocity"
        )
        found = tuple(row[key] for key in ("a_b", "b_c", "c_d", "alarm", "trip"))
        assert found == expected[:5]
    places = [(p, r) for p in ("in-situ", "factory") for r in ("preferred", "allowable")]
    for (place, region), value in zip(places, expected[5:], strict=True):
        (row,) = _rows(
            "limit_acceptance",
            limit_set=ISO_7,
            group=group,
            place=place,
            operating_region=region,
            quantity="velocity",
        )
        assert row["value"] == value


@pytest.mark.parametrize("group", TABLE_7, ids=lambda group: f"din-{group}")
def test_iso_10816_7_low_speed_displacement_is_as_printed(group: str) -> None:
    for row in _rows("limit_rows", limit_set=ISO_7, group=group, quantity="displacement"):
        found = tuple(row[key] for key in ("a_b", "b_c", "c_d", "alarm", "trip"))
        assert found == (50, 80, 130, 100, 160)
        assert (row["detector"], row["unit"], row["speed_up_to"]) == ("peak-to-peak", "um", 600)


def test_printed_alarm_and_trip_are_not_recomputed() -> None:
    # din: 1.25 x 5.0 = 6.25, printed 6.3; 1.25 x 9.5 = 11.875, printed 11.9
    (row,) = _rows(
        "limit_rows",
        limit_set=ISO_7,
        group="category-I-over-200-kW",
        support="rigid",
        quantity="velocity",
    )
    assert row["alarm"] != pytest.approx(1.25 * row["b_c"], abs=1e-9)


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


def _motor(power_kw: float | None, **values: Any) -> Plant:
    plant = Plant().add("sites", site="s1", name="One", time_zone="UTC")
    plant.add("assets", site="s1", asset="M-1", name="M", service_state="in-service")
    plant.add(
        "members",
        **{
            "site": "s1",
            "asset": "M-1",
            "member": "m",
            "role": "driver",
            "equipment_class": "electric-motor",
            "rated_power_kw": power_kw,
            "rated_speed": 1480.0,
        }
        | values,
    )
    return plant.point("M-1", "m", "m-de", thrust_end=True)


def _read(plant: Plant, value: float, **values: Any) -> dict[str, Any]:
    plant.read(value, asset="M-1", position="m-de", **values)
    return plant.condition("member", member="m")


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
    row = _read(_motor(power, support_horizontal=support), value)
    assert (row["zone"], row["level"]) == expected


def test_displacement_governs_where_it_is_worse_lib() -> None:
    plant = _motor(400.0, support_horizontal="rigid")
    plant.read(2.0, asset="M-1", position="m-de")
    row = _read(plant, 95.0, quantity="displacement")
    assert (row["zone"], row["level"], row["quantity"]) == ("D", "danger", "displacement")


@pytest.mark.parametrize(
    ("power_kw", "value", "expected"),
    [
        pytest.param(200.0, 5.1, "B", id="din-exactly-200-kW-is-the-lower-class"),
        pytest.param(200.0, 5.2, "C", id="din-200-kW-c"),
        pytest.param(268 * HP_KW, 5.2, "C", id="trade-268-hp-lower-class"),
        pytest.param(270 * HP_KW, 5.2, "B", id="trade-270-hp-upper-class"),
    ],
)
def test_pump_power_class(power_kw: float, value: float, expected: str) -> None:
    plant = _motor(
        power_kw,
        equipment_class="centrifugal-pump",
        role="driven",
        pump_category="II",
        vane_count=5,
    )
    assert _read(plant, value)["zone"] == expected


def test_derived_peak_0_06_in_s_is_zone_a_trade() -> None:
    mm_s = 0.06 * 25.4
    assert rms_of_derived_peak(mm_s) == pytest.approx(1.08, abs=0.005)
    row = _read(_motor(100.0, support_horizontal="rigid"), mm_s, detector="derived-peak")
    assert row["value"] == pytest.approx(1.0776, abs=1e-4)
    assert (row["zone"], row["level"], row["detector"]) == ("A", "normal", "rms")


@pytest.mark.parametrize("in_s", [0.002, 0.004], ids=lambda v: f"trade-{v}-in-s")
def test_smooth_unloaded_machine_proven_running_is_neither_stuck_nor_stopped(
    in_s: float,
) -> None:
    plant = _motor(100.0, support_horizontal="rigid")
    for day in range(1, 20):  # loaded before: the smooth value is far below its own history
        ago = timedelta(days=day)
        plant.read(1.2, asset="M-1", position="m-de", ago=ago)
        plant.speed(1480.0, asset="M-1", position="m-de", ago=ago)
    for hours in (1, 2, 3):
        plant.speed(1480.0, asset="M-1", position="m-de", ago=timedelta(hours=hours))
        plant.read(in_s * 25.4, asset="M-1", position="m-de", ago=timedelta(hours=hours))
    row = plant.condition("member", member="m")
    assert (row["level"], row["zone"], row["running_state"]) == ("normal", "A", "steady")
    assert row["distrust"] is None


# Tables that are often seen and wrong (standards facts 1.7): none of their numbers may be ours.
@pytest.mark.parametrize(
    ("limit_set", "group", "support", "key", "wrong"),
    [
        pytest.param(ISO_3, "group-2", "rigid", "c_d", 7.1, id="group-2-rigid-c-d-7.1"),
        pytest.param(ISO_3, "group-2", "rigid", "a_b", 0.71, id="class-I-headed-10816-3"),
        pytest.param(ISO_3, "group-2", "rigid", "b_c", 4.5, id="one-table-for-all"),
        pytest.param(ISO_7, "category-I-over-200-kW", "flexible", "b_c", 7.1, id="pump-flexible"),
    ],
)
def test_wrong_tables_are_not_used(
    limit_set: str, group: str, support: str, key: str, wrong: float
) -> None:
    (row,) = _rows(
        "limit_rows", limit_set=limit_set, group=group, support=support, quantity="velocity"
    )
    assert row[key] != wrong


def test_screw_compressor_does_not_get_the_part_6_numbers_of_the_web() -> None:
    row = _read(_motor(100.0, equipment_class="screw-compressor"), 2.0)
    assert (row["level"], row["basis"], row["limit_set"]) == ("unknown", "unjudged", None)


def test_a_true_peak_is_never_judged_worse() -> None:
    # 1.7: a peak limit compared with an rms reading, and the other way round
    row = _read(_motor(100.0, support_horizontal="rigid"), 6.0, detector="peak")
    assert (row["level"], row["zone"], row["basis"]) == ("unknown", None, "peak-only")
    row = _read(_motor(100.0, support_horizontal="rigid"), 1.3, detector="peak")
    assert (row["level"], row["zone"]) == ("normal", "A")
    assert "provisional" in row["reason"]
