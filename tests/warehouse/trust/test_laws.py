"""Laws of distrust (rule J6): it never improves a condition, and hides no bad one."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.warehouse.trust.found import HOUR
from tests.warehouse.views.plant import Plant

PUMP: dict[str, Any] = {"scope": "point", "position": "pump-de", "axis": "horizontal"}
VALUES = st.sampled_from([1.0, 4.0, 6.0, 9.0])
MARKS = st.sampled_from(["implausible", "over-range"])
READINGS = st.lists(st.tuples(VALUES, st.none() | MARKS), min_size=1, max_size=9)


def _condition(readings: list[tuple[float, str | None]], scope: str = "point") -> dict[str, Any]:
    """Readings two hours apart, the marked ones distrusted, beside a healthy motor."""
    plant = Plant().train().read(1.0, position="motor-de")
    for back, (value, mark) in enumerate(reversed(readings)):
        if mark is None:
            plant.read(value, ago=(1 + 2 * back) * HOUR)
        elif mark != "left out":
            quality = "bad" if mark == "over-range" else "suspect"
            plant.read(None if mark == "over-range" else value, ago=(1 + 2 * back) * HOUR,
                       quality=quality, reason=mark)  # fmt: skip
    return plant.condition(**(PUMP if scope == "point" else {"scope": scope}))


@pytest.mark.slow
@given(READINGS)
@settings(max_examples=8, deadline=None)
def test_distrusted_readings_leave_the_level_or_make_it_unknown(
    readings: list[tuple[float, str | None]],
) -> None:
    told = _condition(readings)
    if all(mark for _, mark in readings):
        assert told["level"] == "unknown"
        return
    without = _condition([(value, mark and "left out") for value, mark in readings])
    assert told["level"] in (without["level"], "unknown")
    if without["level"] in ("alert", "danger"):
        assert told["level"] == without["level"]  # held while its readings are fresh
    elif told["level"] == "unknown":
        assert told["last_level"] == without["level"]


@pytest.mark.slow
@given(st.lists(VALUES, min_size=1, max_size=4), st.lists(MARKS, min_size=3, max_size=5))
@settings(max_examples=5, deadline=None)
def test_a_distrusted_bad_reading_never_leaves_a_machine_green(
    before: list[float], marks: list[str]
) -> None:
    readings: list[tuple[float, str | None]] = [(value, None) for value in before]
    row = _condition([*readings, *((9.0, mark) for mark in marks)], "asset")
    assert row["level"] in ("unknown", "alert", "danger")
