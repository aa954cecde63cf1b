"""The checks of a new sensor: each by its rule, and a mounting on its way to counting."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.warehouse.services.small_plant import (
    REGISTRY,
    Plant,
    copy_plant,
    make_plant,
    write_registry,
)
from warehouse.errors import CommissioningError, NotFoundError
from warehouse.services import commissioning
from warehouse.services.ingest import judge_now
from warehouse.services.registry import import_registry
from warehouse.work import commissioning as rules

_FIGURES = {
    "tap_least_ratio": 2.0, "compare_share": 0.2, "compare_velocity": 0.5, "first_readings": 5.0,
    "interval_share": 1.25, "first_read_low_share": 0.02, "first_read_high_share": 3.0,
}  # fmt: skip
_KIND = {"quantity": "velocity", "detector": "rms", "band": "10-1000Hz", "unit": "mm/s"}
_AT = dt.datetime(2025, 6, 1, 10, tzinfo=dt.UTC)


def _axis(channel: str, axis: str, answer: float | None, usual: float | None) -> dict[str, Any]:
    return {"channel": channel, "axis": axis, "answer": answer, "usual": usual} | _KIND


@pytest.mark.parametrize(
    ("x", "y", "outcome", "words"),
    [
        ((9.0, 2.0), (2.2, 2.0), "passed", "channel x (axial) rose most"),
        ((3.0, 2.0), (9.0, 2.0), "failed", "axes exchanged"),
        ((3.0, 2.0), (3.1, 2.0), "failed", "no axis answered"),
        ((None, 2.0), (9.0, 2.0), "not-yet", "no reading of this channel"),
    ],
)
def test_the_axis_that_rose_most_answered(
    x: tuple[Any, Any], y: tuple[Any, Any], outcome: str, words: str
) -> None:
    rows = [_axis("x", "axial", *x), _axis("y", "vertical", *y)]
    found = rules.tapped("x", "axial", rows, _FIGURES)
    assert (found.outcome, words in found.found) == (outcome, True)


def _near(value: float) -> list[dict[str, Any]]:
    return [{"ts": _AT, "value": value} | _KIND]


@pytest.mark.parametrize(
    ("value", "handheld", "outcome"),
    [
        (4.8, 4.0, "passed"),  # 20 % of 4.0 is 0.8
        (4.81, 4.0, "failed"),
        (1.5, 1.0, "passed"),  # 0.5 mm/s is wider than 20 % of 1.0
        (1.51, 1.0, "failed"),
    ],
)
def test_a_handheld_reading_agrees_within_a_fifth_or_half_a_millimetre(
    value: float, handheld: float, outcome: str
) -> None:
    kind = ("velocity", "rms", "10-1000Hz")
    assert rules.compared(kind, handheld, _near(value), _FIGURES).outcome == outcome


def test_another_band_is_not_compared() -> None:
    found = rules.compared(("velocity", "rms", "2-1000Hz"), 1.0, _near(1.0), _FIGURES)
    assert found.outcome == "not-yet"
    assert "10-1000Hz" in found.found


@given(st.floats(0.01, 100), st.floats(0.01, 100))
def test_agreement_never_depends_on_the_sign_of_the_difference(a: float, b: float) -> None:
    kind = ("velocity", "rms", "10-1000Hz")
    above = rules.compared(kind, a, _near(a + b), _FIGURES).outcome
    assert above == rules.compared(kind, a, _near(a - b), _FIGURES).outcome


@pytest.mark.parametrize(
    ("minutes", "readings", "declared", "outcome"),
    [
        (10.0, 9, 10.0, "passed"),
        (12.5, 9, 10.0, "passed"),
        (13.0, 9, 10.0, "failed"),
        (10.0, 4, 10.0, "not-yet"),
        (10.0, 9, None, "not-yet"),
    ],
)
def test_readings_come_at_the_declared_interval(
    minutes: float, readings: int, declared: float | None, outcome: str
) -> None:
    row = {"minutes": minutes, "longest": minutes, "readings": readings, "declared": declared}
    assert rules.interval_seen(row, _FIGURES).outcome == outcome


@pytest.mark.parametrize(
    ("changed", "outcome", "words"),
    [
        ({}, "passed", "velocity rms"),
        ({"value": 0.0}, "failed", "reads nothing"),
        ({"value": 0.05}, "failed", "too low for electric-motor"),  # 2 % of 2.8 is 0.056
        ({"value": 13.6}, "failed", "too high"),  # 3 times 4.5 is 13.5
        ({"different": 1}, "failed", "the same"),
        ({"unusable": 1}, "failed", "cannot be used"),
        ({"readings": 4}, "not-yet", "fewer than 5"),
    ],
)
def test_first_readings_are_such_as_the_class_shows(
    changed: dict[str, Any], outcome: str, words: str
) -> None:
    row = {"readings": 5, "value": 1.2, "different": 5, "unusable": 0, "b_c": 2.8, "c_d": 4.5,
           "equipment_class": "electric-motor"}  # fmt: skip
    found = rules.plausible([row | _KIND | changed], _FIGURES)
    assert (found.outcome, words in found.found) == (outcome, True)


def test_running_is_proven_by_a_steady_reading_only() -> None:
    unknown = {"state": "unknown", "readings": 3, "last_at": _AT}
    assert rules.proven_running([unknown]).outcome == "not-yet"
    assert rules.proven_running([unknown, unknown | {"state": "steady"}]).outcome == "passed"


def test_checks_of_before_a_new_start_count_no_more() -> None:
    done = [{"step": "tap", "outcome": "passed"}, {"step": "compare", "outcome": "waived"}]
    assert rules.open_checks(done, ("tap", "compare", "running")) == {"running": "not done"}
    moved = [*done, {"step": "start", "outcome": "noted"}]
    assert list(rules.open_checks(moved, ("tap", "compare"))) == ["tap", "compare"]


@pytest.fixture(name="tapped", scope="module")
def _tapped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A two-axis sensor, provisional, read every ten minutes; tapped along channel 1 at ten.

    Made and judged once, copied from then on.
    """
    folder = tmp_path_factory.mktemp("tapped")
    plant = make_plant(folder / "plant", {"clock": "data"})
    told = write_registry(
        folder / "registry",
        devices="device,kind,method,interval_minutes,plate_code,picture\n"
        "L1,sensor,wired,10,QR-77,photos/L1.jpg\n",
        mountings=REGISTRY["mountings"].replace("passed", "provisional"),
    )
    import_registry(plant.store, told)
    readings = []
    for step in range(13):
        ts = f"{_AT - dt.timedelta(minutes=60 - 10 * step):%Y-%m-%dT%H:%M:%SZ}"
        tap = step == 6
        readings += [("L1", "1", ts, f"{9 if tap else 1.2 + step / 100:.2f}")]
        readings += [("L1", "2", ts, f"{1.6 if tap else 1.0 + step / 100:.2f}")]
    plant.ingest(readings)
    judge_now(plant.store)
    return plant.store.home


@pytest.fixture(name="plant")
def _plant(tapped: Path, tmp_path: Path) -> Plant:
    return copy_plant(tapped, tmp_path / "plant")


def _level(plant: Plant) -> Any:
    judge_now(plant.store)
    (row,) = plant.ask(
        "SELECT level, basis FROM condition_current WHERE scope = 'member' AND asset = 'M-1'"
    )
    return row["level"], row["basis"]


def test_a_sensor_counts_once_it_has_passed(plant: Plant) -> None:
    store, by = plant.store, "A. Example"
    assert _level(plant)[0] == "unknown"
    assert commissioning.tap(store, "L1", "1", _AT, by)["outcome"] == "passed"
    assert commissioning.tap(store, "L1", "2", _AT, by)["outcome"] == "failed"
    near = _AT + dt.timedelta(minutes=30)
    for channel, value in (("1", 1.3), ("2", 1.1)):
        step = commissioning.compare(
            store, "L1", channel, near, value, "mm/s", "velocity", "rms", "10-1000Hz", by
        )
        assert step["outcome"] == "passed"
    steps = commissioning.check(store, "L1", None, by)
    assert {(s["step"], s["outcome"]) for s in steps} == {
        ("running", "not-yet"), ("interval", "passed"), ("plausible", "passed"),
    }  # fmt: skip
    with pytest.raises(CommissioningError) as told:
        commissioning.pass_mountings(store, "L1", None, by)
    assert told.value.faults == [
        "running of channel 1 is not-yet",
        "tap of channel 2 is failed",
        "running of channel 2 is not-yet",
    ]
    for channel, name in (("1", "running"), ("2", "running"), ("2", "tap")):
        commissioning.waive(store, "L1", channel, name, by, "seen on the spot")
    commissioning.pass_mountings(store, "L1", None, by)
    assert commissioning.list_mountings(store) == []
    assert _level(plant) == ("normal", "severity")
    assert {row["quality"] for row in plant.ask("SELECT quality FROM readings_current")} == {"good"}
    assert len(plant.ask("SELECT * FROM commissioning_steps")) == 15


def test_a_moved_sensor_starts_anew(plant: Plant) -> None:
    store, by = plant.store, "A. Example"
    for name in ("tap", "compare", "running", "interval", "plausible"):
        commissioning.waive(store, "L1", "1", name, by, "only for this test")
    commissioning.pass_mountings(store, "L1", "1", by)
    with pytest.raises(CommissioningError, match="has passed"):
        commissioning.fail(store, "L1", "1", by, "loose")
    commissioning.start(store, "L1", "1", by, "moved")
    shown = commissioning.show_mounting(store, "L1", "1")
    assert shown["mounting"]["commissioning"] == "provisional"
    assert {row["outcome"] for row in shown["checks"]} == {None}
    doubted = plant.ask("SELECT DISTINCT reason FROM readings_current WHERE channel = '1'")
    assert doubted == [{"reason": "provisional-mounting"}]


def test_what_does_not_fit_is_refused(plant: Plant) -> None:
    store, by = plant.store, "A. Example"
    with pytest.raises(NotFoundError, match="L9"):
        commissioning.show_mounting(store, "L9", "1")
    with pytest.raises(CommissioningError, match="does not measure velocity rms"):
        commissioning.compare(store, "L1", "1", _AT, 1, "Cel", "velocity", "rms", None, by)
    with pytest.raises(CommissioningError, match="named person"):
        commissioning.fail(store, "L1", "1", " ", "loose")
    with pytest.raises(CommissioningError, match="for a reason"):
        commissioning.waive(store, "L1", "1", "tap", by, " ")
    assert plant.ask("SELECT * FROM commissioning_steps") == []


def test_plate_and_picture_are_on_record(plant: Plant) -> None:
    (row,) = plant.ask("SELECT plate_code, picture FROM devices")
    assert row == {"plate_code": "QR-77", "picture": "photos/L1.jpg"}
