"""The display profile of a site (rule W7): the units its people read, beside canonical storage.

A profile is one text: `si`, `us-customary`, or parts joined by `;`, each `QUANTITY=UNIT` or
`QUANTITY=UNIT DETECTOR` with a UCUM unit, and `time=local`. A name may come first and be changed
by what follows: `us-customary; velocity=[in_i]/s rms`. This module is the only place where values
leave their canonical unit to be shown.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from schemas.codes import DIMENSIONLESS_DETECTORS, QUANTITY
from schemas.units import UNITS, VIBRATION_QUANTITIES, Unit, canonical_unit, unit_kind

DEFAULT_PROFILE = "si"
_FROM_RMS: Mapping[str, float] = MappingProxyType(
    {"rms": 1.0, "derived-peak": math.sqrt(2), "derived-peak-to-peak": 2 * math.sqrt(2)}
)
"""By definition (rule R1). A true peak is none of these and never becomes one."""
_NAMED: Mapping[str, str] = MappingProxyType(
    {
        "si": "",
        "us-customary": "velocity=[in_i]/s derived-peak; acceleration=[g]; "
        "displacement=[mil_i] derived-peak-to-peak; "
        "shaft-displacement=[mil_i] derived-peak-to-peak; gap=[mil_i]; "
        "acceleration-envelope=[g]; temperature=[degF]; power=[HP]; time=local",
    }
)
_TIMES = ("utc", "local")
_SYMBOLS: Mapping[str, str] = MappingProxyType(
    {
        "[in_i]/s": "in/s", "[mil_i]/s": "mil/s", "[mil_i]": "mil", "[in_i]": "in", "[g]": "g",
        "m[g]": "mg", "[degF]": "°F", "Cel": "°C", "[HP]": "hp", "[psi]": "psi", "um": "µm",
        "um/s": "µm/s", "m/s2": "m/s²", "mm/s2": "mm/s²", "m3/h": "m³/h", "m3/s": "m³/s",
        "[gal_us]/min": "gal/min", "/min": "r/min", "{rpm}/min": "r/min", "{rev}/min": "r/min",
        "/s": "1/s",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """A value as it is shown: four figures of it, its UCUM unit, and its detector."""

    value: float
    unit: str
    detector: str

    @property
    def measure(self) -> str:
        """Unit and detector in words: `in/s derived peak`."""
        detector = "" if self.detector == "value" else self.detector.replace("-", " ")
        unit = "" if self.unit == "1" else _SYMBOLS.get(self.unit, self.unit)
        return f"{unit} {detector}".strip()

    @property
    def words(self) -> str:
        """As people read it: `0.418 in/s derived peak`."""
        return f"{figures(self.value)} {self.measure}".strip()


@dataclass(frozen=True, slots=True)
class Profile:
    """Units and detectors by quantity, and whether times are those of the site."""

    name: str = DEFAULT_PROFILE
    units: Mapping[str, Unit] = field(default_factory=dict)
    detectors: Mapping[str, str] = field(default_factory=dict)
    local_time: bool = False

    @property
    def canonical(self) -> bool:
        """Whether everything is shown as it is stored."""
        return not self.units and not self.local_time

    def shown(
        self, quantity: str, detector: str, value: float, is_difference: bool = False
    ) -> Shown:
        """A canonical value in this profile; a difference of temperatures has no offset."""
        stored = canonical_unit(quantity, detector)
        unit = self.units.get(quantity)
        if unit is None or detector in DIMENSIONLESS_DETECTORS:
            return Shown(_rounded(value), stored, detector)
        value = (value - (0.0 if is_difference else unit.offset)) / unit.factor
        wanted = self.detectors.get(quantity, detector)
        if detector in _FROM_RMS and wanted in _FROM_RMS:
            value *= _FROM_RMS[wanted] / _FROM_RMS[detector]
            detector = wanted
        return Shown(_rounded(value), unit.code, detector)


def parse_profile(text: str | None) -> Profile:
    """The profile a text states; none is `si`.

    Raises ValueError that says what is wrong with it and what is allowed.
    """
    units: dict[str, Unit] = {}
    detectors: dict[str, str] = {}
    times = _TIMES[0]
    for key, told in _parts(text or DEFAULT_PROFILE):
        if key == "time":
            if told not in _TIMES:
                raise ValueError(f"time={told} is not one of {', '.join(_TIMES)}")
            times = told
            continue
        unit, detector = _measure(key, told)
        units[key] = unit
        detectors.pop(key, None)
        if detector:
            detectors[key] = detector
    return Profile(text or DEFAULT_PROFILE, units, detectors, times == "local")


def _parts(text: str) -> Iterator[tuple[str, str]]:
    """Keys with what is told of them; a name stands for its parts."""
    for number, part in enumerate(piece.strip() for piece in text.split(";")):
        key, sign, told = (word.strip() for word in part.partition("="))
        if number == 0 and part in _NAMED:
            yield from _parts(_NAMED[part]) if _NAMED[part] else ()
        elif sign and key and told:
            yield key, told
        else:
            raise ValueError(
                f"{part!r} is neither a profile ({', '.join(_NAMED)}, which stand first) nor of "
                "the form QUANTITY=UNIT, QUANTITY=UNIT DETECTOR or time=local"
            )


def _measure(quantity: str, told: str) -> tuple[Unit, str]:
    if quantity not in QUANTITY:
        raise ValueError(f"{quantity!r} is not one of {', '.join(QUANTITY)}, time")
    code, _, detector = told.partition(" ")
    kind = unit_kind(quantity, "value")
    if (kind, code) not in UNITS:
        fitting = ", ".join(one for of, one in UNITS if of == kind)
        raise ValueError(f"unit {code!r} does not measure {quantity}; fitting: {fitting}")
    detector = detector.strip()
    if detector and quantity not in VIBRATION_QUANTITIES:
        raise ValueError(f"{quantity} has no choice of detector; {quantity}={code} is enough")
    if detector and detector not in _FROM_RMS:
        raise ValueError(
            f"detector {detector!r} is not one of {', '.join(_FROM_RMS)}; nothing converts to a "
            "true peak"
        )
    return UNITS[kind, code], detector


def _rounded(value: float) -> float:
    return float(f"{value:.4g}")


def figures(value: float) -> str:
    """A number with three figures, never in powers of ten."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    digits = max(0, 2 - math.floor(math.log10(abs(value))))
    return f"{value:,.{digits}f}"
