"""The unit table in itself (its factors are checked against published ones in tests/outside)."""

from __future__ import annotations

import math

import pytest

from schemas.codes import DETECTOR, DIMENSIONLESS_DETECTORS, QUANTITY
from schemas.units import (
    UNIT_CODES,
    UNITS,
    VIBRATION_QUANTITIES,
    Unit,
    canonical_unit,
    unit_kind,
)


@pytest.mark.parametrize("unit", UNITS.values(), ids=lambda unit: f"{unit.kind}:{unit.code}")
def test_row_is_usable(unit: Unit) -> None:
    assert math.isfinite(unit.factor)
    assert unit.factor > 0, "the sign of a value would turn"
    assert unit.offset == 0 or unit.kind == "temperature"
    assert unit.name.strip() == unit.name != ""
    canonical = UNITS[unit.kind, unit.canonical]
    assert (canonical.factor, canonical.offset) == (1.0, 0.0)


def test_one_canonical_unit_a_kind() -> None:
    kinds = {unit.kind for unit in UNITS.values()}
    for kind in kinds:
        assert len({unit.canonical for unit in UNITS.values() if unit.kind == kind}) == 1


def test_key_is_kind_and_code() -> None:
    assert all(key == (unit.kind, unit.code) for key, unit in UNITS.items())
    assert {code for _, code in UNITS} == UNIT_CODES


def test_a_code_of_two_kinds_is_told_apart_by_the_kind() -> None:
    assert UNITS["ratio", "1"].factor == 100
    assert UNITS["number", "1"].factor == 1
    assert UNITS["number", "%"].factor == 0.01


@pytest.mark.parametrize("quantity", QUANTITY)
@pytest.mark.parametrize("detector", DETECTOR)
def test_every_quantity_and_detector_has_a_canonical_unit(quantity: str, detector: str) -> None:
    expected = "number" if detector in DIMENSIONLESS_DETECTORS else unit_kind(quantity, "value")
    assert unit_kind(quantity, detector) == expected
    assert (expected, canonical_unit(quantity, detector)) in UNITS


@pytest.mark.parametrize(
    ("quantity", "detector", "unit"),
    [
        ("velocity", "rms", "mm/s"),
        ("acceleration", "peak", "m/s2"),
        ("acceleration-envelope", "rms", "m/s2"),
        ("displacement", "peak-to-peak", "um"),
        ("acceleration", "kurtosis", "1"),
        ("velocity", "crest-factor", "1"),
        ("temperature", "value", "Cel"),
        ("speed", "value", "/min"),
        ("load", "value", "%"),
    ],
)
def test_canonical_units(quantity: str, detector: str, unit: str) -> None:
    assert canonical_unit(quantity, detector) == unit


def test_unknown_quantity_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        unit_kind("loudness", "rms")


def test_vibration_quantities_are_quantities() -> None:
    assert set(QUANTITY) > VIBRATION_QUANTITIES
    assert "temperature" not in VIBRATION_QUANTITIES
    assert "gap" not in VIBRATION_QUANTITIES, "a mean distance has no band"
