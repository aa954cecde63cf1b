"""Numbers and times at the edge of what the engine can hold cost themselves only. Invented data."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.warehouse.normalise.small import TEMPERATURE, mapping_text, take

SPEED = {"quantity": '"speed"', "detector": '"value"', "band": ""}
GOOD = {"n": "D:1", "u": "mm/s", "v": 2}
PACK = mapping_text(
    adapter="senml",
    time='from = "time"\nformat = "epoch-seconds"',
    measures='[[measure]]\nfrom = "value"\n',
)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("1e308", "Hz"), ("-1e308", "Hz"), ("1.7976931348623157e308", "/s"), ("123456789e300", "Hz")],
)
def test_value_that_is_no_finite_number_once_converted_is_refused(text: str, unit: str) -> None:
    mapping = mapping_text(unit=f'"{unit}"', **SPEED)
    taken = take(f"t,v\n2025-06-01T10:00,{text}\n2025-06-01T10:01,25\n", mapping)
    assert taken.values == [1500.0]
    assert taken.counts.rejected_by_reason == {"bad-number": 1}


@pytest.mark.parametrize("text", ["1e308", "-0", "5e-324", "1e-400", "123456789012345678"])
def test_value_of_any_finite_size_is_kept(text: str) -> None:
    mapping = mapping_text(**{**TEMPERATURE, "unit": '"Cel"'})
    assert take(f"t,v\n2025-06-01T10:00,{text}\n", mapping).values == [float(text)]


@pytest.mark.parametrize("sign", ["", "-"])
@pytest.mark.parametrize("form", ["epoch-seconds", "epoch-milliseconds"])
@pytest.mark.parametrize(
    "text", ["9223372036854.775807", "9223372036854775.807", "99999999999999.999999", "1e31"]
)
def test_time_beyond_the_engine_costs_its_line_only(sign: str, form: str, text: str) -> None:
    mapping = mapping_text(time=f'from = "t"\nformat = "{form}"')
    good = 1_748_772_000 * (1 if form == "epoch-seconds" else 1_000)
    taken = take(f"t,v\n{sign}{text},1.0\n{good},2.0\n", mapping)
    assert taken.values == [2.0]
    assert {row["reason"] for row in taken.rejects} <= {"bad-time", "time-out-of-range"}
    assert taken.counts.rejected == 1


@pytest.mark.parametrize(
    "record",
    [
        {"t": -1e12},
        {"t": 1e300},
        {"bt": -9.99e11, "t": -9.99e11},
        {"bt": 9.9e11, "t": 9.9e11},
        {"t": "soon"},
        {"v": "NaN"},
        {"bv": 1e308, "v": 1e308},
        {"bv": "x"},
    ],
)
def test_odd_senml_record_is_refused_by_itself(record: dict[str, Any]) -> None:
    after = {**GOOD, "bt": 1_748_772_000, "bv": 0}
    taken = take(json.dumps([{**GOOD, **record}, after]), PACK)
    assert taken.values == [2.0]
    assert taken.counts.rejected == 1
    assert set(taken.counts.rejected_by_reason) <= {"bad-time", "bad-number", "time-out-of-range"}
    assert taken.counts.blank == 0
