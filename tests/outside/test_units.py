"""The unit table against published definitions, and against another library's reading of UCUM.

Sources: the international inch (25.4 mm) and pound (0.45359237 kg) by the agreement of 1959,
NIST SP 811 appendix B; standard gravity by the 3rd CGPM (1901); UCUM section 4 (`ucum-cs.units`)
for `[in_i]`, `[mil_i]`, `[g]`, `[degF]`, `[HP]`, `[psi]`, `[gal_us]`.
"""

from __future__ import annotations

import math
import warnings
from fractions import Fraction
from typing import Any

import pint
import pytest

from schemas.units import UNITS, Unit


def _convert(kind: str, code: str, value: float) -> float:
    unit = UNITS[kind, code]
    return value * unit.factor + unit.offset


INCH_MM = Fraction("25.4")
GRAVITY = Fraction("9.80665")
POUND_KG = Fraction("0.45359237")

EXACT: dict[tuple[str, str], Fraction] = {
    ("velocity", "[in_i]/s"): INCH_MM,
    ("velocity", "[mil_i]/s"): INCH_MM / 1000,
    ("acceleration", "[g]"): GRAVITY,
    ("acceleration", "m[g]"): GRAVITY / 1000,
    ("length", "[mil_i]"): INCH_MM,
    ("length", "[in_i]"): INCH_MM * 1000,
    # pound-force per square inch: lb x g / in2, in kPa
    ("pressure", "[psi]"): POUND_KG * GRAVITY / (INCH_MM / 1000) ** 2 / 1000,
    # 550 foot pound-force per second, in kW
    ("power", "[HP]"): 550 * 12 * (INCH_MM / 1000) * POUND_KG * GRAVITY / 1000,
    # US gallon of 231 cubic inches
    ("flow", "[gal_us]/min"): 231 * (INCH_MM / 1000) ** 3 * 60,
    ("temperature", "[degF]"): Fraction(5, 9),
}


@pytest.mark.parametrize("key", EXACT, ids=str)
def test_factor_is_the_exact_definition(key: tuple[str, str]) -> None:
    assert UNITS[key].factor == pytest.approx(float(EXACT[key]), rel=2e-16, abs=0)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(32, 0), (212, 100), (-40, -40), (-459.67, -273.15), (98.6, 37), (180, 82.2222222222)],
)
def test_fixed_points_of_the_fahrenheit_scale(fahrenheit: float, celsius: float) -> None:
    assert _convert("temperature", "[degF]", fahrenheit) == pytest.approx(celsius, abs=1e-9)


def test_kelvin() -> None:
    """The Celsius scale is the kelvin scale less 273.15 (SI brochure, 9th edition, 2.3.1)."""
    assert _convert("temperature", "K", 273.15) == pytest.approx(0, abs=1e-12)
    assert _convert("temperature", "K", 373.15) == pytest.approx(100)


@pytest.mark.parametrize(
    ("kind", "code", "sent", "stored"),
    [
        ("velocity", "[in_i]/s", 1, 25.4),
        ("velocity", "[in_i]/s", 4.5 / 25.4, 4.5),
        ("length", "[mil_i]", 1, 25.4),
        ("acceleration", "[g]", 1, 9.80665),
        ("rotation", "Hz", 30, 1800),  # UCUM: 1800 /min is 30 Hz
        ("power", "[HP]", 268, 199.84757),  # 268 hp is just below 200 kW
        ("pressure", "bar", 1, 100),
        ("ratio", "1", 0.5, 50),
        ("flow", "L/s", 1, 3.6),
    ],
)
def test_worked_values(kind: str, code: str, sent: float, stored: float) -> None:
    assert _convert(kind, code, sent) == pytest.approx(stored, rel=1e-7)


def test_one_inch_per_second_peak_of_a_sine_as_rms() -> None:
    """A sine's rms is its peak over sqrt(2): 1 in/s peak is 17.96051 mm/s rms."""
    assert _convert("velocity", "[in_i]/s", 1) / math.sqrt(2) == pytest.approx(17.96051, abs=5e-6)
    assert _convert("velocity", "[in_i]/s", 0.3) / math.sqrt(2) == pytest.approx(5.38815, abs=5e-6)


def test_a_difference_of_fahrenheit_takes_no_offset() -> None:
    """50 degF rise is 27.78 K; resolution, a difference, uses the factor alone."""
    assert 50 * UNITS["temperature", "[degF]"].factor == pytest.approx(27.7778, abs=5e-5)


# Pint, its UCUM reader ucumvert


@pytest.fixture(scope="module")
def registry() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from ucumvert import PintUcumRegistry

        return PintUcumRegistry()


def _quantity(registry: Any, code: str, value: float) -> Any:
    return registry.Quantity(value, registry.from_ucum(code).units)


@pytest.mark.parametrize("unit", UNITS.values(), ids=lambda unit: f"{unit.kind}:{unit.code}")
@pytest.mark.parametrize("value", [1.0, 7.25])
def test_pint_agrees_with_every_row(registry: Any, unit: Unit, value: float) -> None:
    """Offset units are converted as readings; `dB` stays what it is (Pint has no reference for it).

    An annotation such as `{rpm}` is the number one in UCUM: `{rpm}/min` is `/min`. The library
    takes `m[g]` for the milligram (UCUM's metric `[g]` takes prefixes): checked by `[g]` instead.
    """
    ours = value * unit.factor + unit.offset
    if unit.kind == "level":
        assert (unit.code, unit.canonical, ours) == ("dB", "dB", value)
        return
    if unit.code == "{rpm}/min" or unit.code == "{rev}/min":
        assert registry.from_ucum(unit.code) == registry.from_ucum("/min")
    code = "/s" if (unit.kind, unit.code) == ("rotation", "Hz") else unit.code
    if unit.code == "m[g]":
        code, value = "[g]", value / 1000
    theirs = _quantity(registry, code, value)
    target = registry.from_ucum(unit.canonical).units
    assert theirs.to(target).magnitude == pytest.approx(ours, rel=1e-12, abs=1e-11)


def test_gram_is_not_gravity(registry: Any) -> None:
    """The trap of UCUM: `g` is the gram, `[g]` standard gravity. Our table has no `g`."""
    assert registry.from_ucum("g").check("[mass]")
    assert registry.from_ucum("[g]").check("[acceleration]")
    assert "g" not in {code for _, code in UNITS}


def test_an_annotation_never_stands_alone() -> None:
    """`{rpm}` alone is 1 in UCUM, a silent error; with `/min` it is a rotational speed."""
    annotated = {code for _, code in UNITS if "{" in code}
    assert annotated == {"{rpm}/min", "{rev}/min"}


def test_units_of_another_kind_do_not_convert(registry: Any) -> None:
    with pytest.raises(pint.DimensionalityError):
        _quantity(registry, "mm/s", 1.0).to(registry.from_ucum("m/s2").units)
    assert ("acceleration", "mm/s") not in UNITS
