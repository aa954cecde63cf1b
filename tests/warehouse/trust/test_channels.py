"""Axes that change places, channels that are copies, days that came twice; and what is not so."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.warehouse.trust.found import DAY, HOUR, found, noisy, steadily
from tests.warehouse.views.plant import AS_OF, Plant

HORIZONTAL: dict[str, Any] = {"axis": "horizontal", "device": "d"}
VERTICAL: dict[str, Any] = {"axis": "vertical", "device": "d"}
AXIAL: dict[str, Any] = {"axis": "axial", "device": "d"}


def _two_axes(
    first: tuple[float, float], second: tuple[float, float], late: int = 12, back: int = 0
) -> Plant:
    """Levels of two axes before and in the last `late` readings; `back` of them as before."""
    plant = Plant().train()
    for axis, (before, after), seed in ((HORIZONTAL, first, 1), (VERTICAL, second, 2)):
        values = [
            round(value / 2 * (after if 72 - late <= place < 72 - back else before), 2)
            for place, value in enumerate(noisy(72, seed=seed))
        ]
        steadily(plant, values, **axis)
    return plant


def test_axes_that_exchange_their_levels() -> None:
    plant = _two_axes((6.0, 1.5), (1.5, 6.0))
    first, second = found(plant, "axes-exchanged")
    assert {first["axis"], second["axis"]} == {"horizontal", "vertical"}
    assert (first["effect"], first["until"]) == ("distrust", None)
    assert first["since"] == AS_OF - HOUR - 11 * 8 * HOUR
    assert "at once" in first["evidence"]
    # The alert of the horizontal axis is not healed by the other axis' level.
    row = plant.condition(scope="point", position="pump-de", axis="horizontal")
    assert (row["level"], row["last_level"]) == ("unknown", "alert")
    row = plant.condition(scope="point", position="pump-de", axis="vertical")
    assert (row["level"], row["basis"]) == ("unknown", "verify")


@pytest.mark.parametrize("late", [10, 11, 12])
def test_readings_are_doubted_from_the_hour_of_the_exchange_on(late: int) -> None:
    rows = found(_two_axes((6.0, 1.5), (1.5, 6.0), late=late), "axes-exchanged")
    assert {row["since"] for row in rows} == {AS_OF - HOUR - (late - 1) * 8 * HOUR}


def test_axes_that_were_turned_back() -> None:
    plant = _two_axes((6.0, 1.5), (1.5, 6.0), late=54, back=18)
    rows = found(plant, "axes-exchanged")
    assert [row["until"] is None for row in rows] == [False, False]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ((2.0, 2.0), (1.9, 1.9)),  # alike: cannot be told
        ((6.0, 1.5), (1.5, 1.5)),  # one fell, the other did not rise
        ((6.0, 1.5), (1.5, 3.0)),
        ((6.0, 12.0), (1.5, 3.0)),  # both rose
        ((2.0, 2.0), (1.0, 1.0)),
    ],
)
def test_what_is_no_exchange(first: tuple[float, float], second: tuple[float, float]) -> None:
    assert found(_two_axes(first, second), "axes-exchanged") == []


def test_axes_of_two_devices_are_no_pair() -> None:
    plant = _two_axes((6.0, 1.5), (1.5, 6.0))
    for row in plant.readings:
        row["device"] = row["axis"]
    assert found(plant, "axes-exchanged") == []


def _copies(days: int = 30, equal: int = 30, **second: Any) -> Plant:
    values = list(noisy(3 * days))
    own = list(noisy(3 * days, seed=2))
    plant = steadily(Plant().train("P-1").train("P-2"), values, asset="P-1", device="a")
    if equal:
        own[-3 * equal :] = values[-3 * equal :]
    for back, value in enumerate(reversed(own)):
        plant.read(value, ts=AS_OF - HOUR - back * 8 * HOUR + timedelta(seconds=40),
                   **{"asset": "P-1", "device": "a"} | second)  # fmt: skip
    return plant


def test_a_channel_copied_to_another_machine_proves_no_health_of_either() -> None:
    plant = _copies(asset="P-2", device="b")
    rows = sorted(found(plant, "copied"), key=lambda row: str(row["asset"]))
    assert [(row["asset"], row["effect"], row["until"]) for row in rows] == [
        ("P-1", "distrust", None), ("P-2", "distrust", None),
    ]  # fmt: skip
    assert "are those of b horizontal at P-2 pump-de horizontal" in rows[0]["evidence"]
    assert plant.condition(asset="P-2")["level"] == "unknown"


def test_one_sensor_on_two_axes() -> None:
    rows = found(_copies(channel="2", axis="vertical"), "copied")
    assert [row["effect"] for row in rows] == ["distrust", "distrust"]


def test_two_devices_at_one_place_are_one_witness() -> None:
    rows = found(_copies(device="b"), "copied")
    assert [row["effect"] for row in rows] == ["note", "note"]


@pytest.mark.parametrize(("equal", "told"), [(0, 0), (6, 0), (9, 2)])
def test_days_that_are_equal(equal: int, told: int) -> None:
    assert len(found(_copies(equal=equal, asset="P-2", device="b"), "copied")) == told


def test_a_spell_of_copies_that_is_over_has_its_end() -> None:
    plant = _copies(asset="P-2", device="b")
    for row in plant.readings:
        if row["device"] == "b" and row["ts"] > AS_OF - 10 * DAY:
            row["value"] = round(row["value"] * 1.07, 2)
    rows = found(plant, "copied")
    assert {row["until"] is None for row in rows} == {False}
    assert all(AS_OF - 11 * DAY < row["until"] < AS_OF - 9 * DAY for row in rows)


def test_machines_at_rest_are_no_copies() -> None:
    plant = Plant().train("P-1").train("P-2")
    for asset in ("P-1", "P-2"):
        steadily(plant, [0.0] * 60, asset=asset, device=asset)
    assert found(plant, "copied") == []


AUTUMN = datetime(2025, 10, 26, tzinfo=UTC)
"""The clocks of Vienna went back at 01:00 UTC."""


def _autumn(twice: bool) -> Plant:
    plant = Plant().add("sites", site="s1", name="One", time_zone="Europe/Vienna").train()
    for day in range(-6, 7):
        for place, value in enumerate(noisy(6, seed=day + 10)):
            ts = AUTUMN + day * DAY + (place * 4 - 1) * HOUR + timedelta(seconds=place * 7)
            plant.read(value, ts=ts)
            if twice and day == 0:
                plant.read(value, ts=ts + HOUR)
    return plant


@pytest.mark.parametrize("twice", [True, False])
def test_a_day_of_a_clock_change_that_came_twice(twice: bool) -> None:
    view = _autumn(twice).view("trust_findings", AUTUMN + 7 * DAY)
    rows = [row for row in view if row["check_code"] == "day-twice"]
    assert len(rows) == twice
    if twice:
        assert "on 2025-10-26, when the clocks changed" in rows[0]["evidence"]
        assert (rows[0]["effect"], rows[0]["until"]) == ("note", None)


def test_readings_of_that_day_that_were_replaced() -> None:
    plant = _autumn(False)
    for row in list(plant.readings):
        if AUTUMN - HOUR <= row["ts"] < AUTUMN + DAY - HOUR:
            plant.read(9.0, ts=row["ts"])
            plant.superseded.append({"package": 1, "row": row["row"], "why": "revision"})
    rows = plant.view("trust_findings", AUTUMN + 7 * DAY)
    (row,) = [row for row in rows if row["check_code"] == "day-twice"]
    assert "readings were replaced by others for the same time" in row["evidence"]
