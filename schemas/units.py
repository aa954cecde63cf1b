"""The unit table: UCUM code -> what it measures and how it becomes canonical.

canonical value = source value x factor + offset. Factors are exact by
definition unless a row says otherwise: the international inch is 25.4 mm,
standard gravity 9.80665 m/s2, Cel = ([degF] - 32) / 1.8 (UCUM). A difference of
temperatures is never converted with an offset: it is a `K` of its own kind.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from schemas.codes import DIMENSIONLESS_DETECTORS, QUANTITY


@dataclass(frozen=True, slots=True)
class Unit:
    """One row: `code` (UCUM), the `kind` it measures, and its way to `canonical`."""

    code: str
    kind: str
    canonical: str
    factor: float
    offset: float
    name: str


_INCH_MM = 25.4
_GRAVITY = 9.80665
_POUND_FORCE_PER_SQUARE_INCH_KPA = 6.894757293168361  # 0.45359237 kg x g / (25.4 mm)^2
_US_GALLON_M3 = 0.003785411784  # 231 cubic inches
_MECHANICAL_HORSEPOWER_KW = 0.7456998715822702  # 550 ft.lbf/s


def _kind(kind: str, canonical: str, *rows: tuple[str, float, float, str]) -> tuple[Unit, ...]:
    return tuple(Unit(code, kind, canonical, f, o, name) for code, f, o, name in rows)


_ALL: tuple[Unit, ...] = (
    *_kind(
        "velocity",
        "mm/s",
        ("mm/s", 1.0, 0.0, "millimetre per second"),
        ("cm/s", 10.0, 0.0, "centimetre per second"),
        ("m/s", 1000.0, 0.0, "metre per second"),
        ("um/s", 0.001, 0.0, "micrometre per second"),
        ("[in_i]/s", _INCH_MM, 0.0, "inch per second"),
        ("[mil_i]/s", _INCH_MM / 1000, 0.0, "mil per second"),
    ),
    *_kind(
        "acceleration",
        "m/s2",
        ("m/s2", 1.0, 0.0, "metre per second squared"),
        ("mm/s2", 0.001, 0.0, "millimetre per second squared"),
        ("[g]", _GRAVITY, 0.0, "standard gravity"),
        ("m[g]", _GRAVITY / 1000, 0.0, "thousandth of standard gravity"),
    ),
    *_kind(
        "length",
        "um",
        ("um", 1.0, 0.0, "micrometre"),
        ("nm", 0.001, 0.0, "nanometre"),
        ("mm", 1000.0, 0.0, "millimetre"),
        ("m", 1e6, 0.0, "metre"),
        ("[mil_i]", _INCH_MM, 0.0, "mil, a thousandth of an inch"),
        ("[in_i]", _INCH_MM * 1000, 0.0, "inch"),
    ),
    *_kind(
        "temperature",
        "Cel",
        ("Cel", 1.0, 0.0, "degree Celsius"),
        ("[degF]", 5 / 9, -160 / 9, "degree Fahrenheit"),
        ("K", 1.0, -273.15, "kelvin"),
    ),
    *_kind(
        "rotation",
        "/min",
        ("/min", 1.0, 0.0, "revolution per minute"),
        ("{rev}/min", 1.0, 0.0, "revolution per minute"),
        ("{rpm}/min", 1.0, 0.0, "revolution per minute"),
        ("Hz", 60.0, 0.0, "revolution per second"),
        ("/s", 60.0, 0.0, "revolution per second"),
    ),
    *_kind("current", "A", ("A", 1.0, 0.0, "ampere"), ("mA", 0.001, 0.0, "milliampere")),
    *_kind(
        "power",
        "kW",
        ("kW", 1.0, 0.0, "kilowatt"),
        ("W", 0.001, 0.0, "watt"),
        ("MW", 1000.0, 0.0, "megawatt"),
        ("[HP]", _MECHANICAL_HORSEPOWER_KW, 0.0, "mechanical horsepower"),
    ),
    *_kind(
        "pressure",
        "kPa",
        ("kPa", 1.0, 0.0, "kilopascal"),
        ("Pa", 0.001, 0.0, "pascal"),
        ("MPa", 1000.0, 0.0, "megapascal"),
        ("bar", 100.0, 0.0, "bar"),
        ("[psi]", _POUND_FORCE_PER_SQUARE_INCH_KPA, 0.0, "pound-force per square inch"),
    ),
    *_kind(
        "flow",
        "m3/h",
        ("m3/h", 1.0, 0.0, "cubic metre per hour"),
        ("m3/s", 3600.0, 0.0, "cubic metre per second"),
        ("L/s", 3.6, 0.0, "litre per second"),
        ("L/min", 0.06, 0.0, "litre per minute"),
        ("[gal_us]/min", _US_GALLON_M3 * 60, 0.0, "US gallon per minute"),
    ),
    *_kind("ratio", "%", ("%", 1.0, 0.0, "per cent"), ("1", 100.0, 0.0, "share of one")),
    *_kind("voltage", "V", ("V", 1.0, 0.0, "volt"), ("mV", 0.001, 0.0, "millivolt")),
    *_kind("level", "dB", ("dB", 1.0, 0.0, "decibel; the quantity states the reference")),
    *_kind("number", "1", ("1", 1.0, 0.0, "pure number"), ("%", 0.01, 0.0, "per cent")),
)

UNITS: Mapping[tuple[str, str], Unit] = MappingProxyType({(u.kind, u.code): u for u in _ALL})
"""Unit by (kind, UCUM code)."""

UNIT_CODES = frozenset(unit.code for unit in _ALL)
"""Every UCUM code the table knows."""

_KIND_OF_QUANTITY: dict[str, str] = {
    "velocity": "velocity",
    "acceleration": "acceleration",
    "acceleration-envelope": "acceleration",
    "displacement": "length",
    "shaft-displacement": "length",
    "gap": "length",
    "temperature": "temperature",
    "speed": "rotation",
    "current": "current",
    "power": "power",
    "pressure": "pressure",
    "flow": "flow",
    "load": "ratio",
    "running-status": "number",
    "battery-charge": "ratio",
    "battery-voltage": "voltage",
    "signal-strength": "level",
}
assert _KIND_OF_QUANTITY.keys() == QUANTITY.keys(), "every quantity needs a kind of unit"

VIBRATION_QUANTITIES = frozenset(
    {"velocity", "acceleration", "acceleration-envelope", "displacement", "shaft-displacement"}
)
"""Quantities that mean nothing without a frequency band."""


PLAUSIBLE_UP_TO: Mapping[str, float] = MappingProxyType(
    {
        "velocity": 1_000.0,
        "acceleration": 20_000.0,
        "acceleration-envelope": 20_000.0,
        "displacement": 50_000.0,
        "shaft-displacement": 50_000.0,
        "temperature": 1_000.0,
        "speed": 200_000.0,
    }
)
"""Values beyond these, in canonical units, are no machine's: stored as suspect, never judged.

Common practice, no source: ten times and more above what machines are run at."""


def unit_kind(quantity: str, detector: str) -> str:
    """Kind of unit a reading of this quantity and detector has (rule R1).

    Kurtosis and crest factor are pure numbers whatever the quantity.
    Raises KeyError for a quantity that is not in the code list.
    """
    kind = _KIND_OF_QUANTITY[quantity]
    return "number" if detector in DIMENSIONLESS_DETECTORS else kind


def canonical_unit(quantity: str, detector: str) -> str:
    """UCUM code of the unit a reading of this quantity and detector is stored in."""
    kind = unit_kind(quantity, detector)
    return next(unit.canonical for unit in _ALL if unit.kind == kind)


def to_canonical(value: float, unit: Unit, is_difference: bool = False) -> float:
    """A value of `unit` in its canonical unit; a difference is converted without the offset.

    A rise of 50 [degF] is 27.8 K, a temperature of 50 [degF] is 10 Cel.
    """
    return value * unit.factor + (0.0 if is_difference else unit.offset)
