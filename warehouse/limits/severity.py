"""Small formulas of the severity standards. Units: whatever unit the boundaries are given in.

The views hold the same zone rule in SQL; a test keeps the two equal.
"""

from __future__ import annotations

import math
from typing import Literal

Zone = Literal["A", "B", "C", "D"]

_ZONES: tuple[Zone, ...] = ("A", "B", "C", "D")
_LARGEST_SHARE_OF_BOUNDARY = 1.25
_CHANGE_SHARE_OF_B_C = 0.25


def zone(value: float, a_b: float, b_c: float, c_d: float) -> Zone:
    """Evaluation zone of a value; all four numbers in one unit, such as mm/s rms.

    ISO 20816-3:2022 (values as ISO 10816-3:2009), Annex A. A value equal to a
    boundary belongs to the better zone: our convention, the standard is silent.
    Differences below 1e-9 are rounding of a unit conversion, not vibration.
    Raises ValueError for a value that is negative or not a number.
    """
    if not value >= 0:
        raise ValueError(f"a vibration magnitude is zero or more, found {value}")
    rounded = round(value, 9)
    return _ZONES[sum(rounded > boundary for boundary in (a_b, b_c, c_d))]


def alarm_setting(b_c: float, baseline: float | None) -> float:
    """Recommended ALARM, in the unit of `b_c`: baseline + 0.25 x B/C, at most 1.25 x B/C.

    ISO 10816-3:2009 clause 5.4.1. With no baseline the standard leaves an initial
    value to experience; B/C is our choice (rule J4). Raises ValueError for
    boundaries or baselines that are not positive, or not zero or more.
    """
    _positive("b_c", b_c)
    if baseline is None:
        return b_c
    if not baseline >= 0:
        raise ValueError(f"baseline must be zero or more, found {baseline}")
    return min(baseline + _CHANGE_SHARE_OF_B_C * b_c, _LARGEST_SHARE_OF_BOUNDARY * b_c)


def trip_ceiling(c_d: float) -> float:
    """Highest recommended TRIP, in the unit of `c_d`: 1.25 x C/D, no baseline term.

    ISO 10816-3:2009 clause 5.4.2. Advice for a protection system; this is a
    screening aid and trips nothing (rule F4). Sets that print their own trip
    figure (ISO 10816-7) keep it as printed. Raises ValueError for a boundary
    that is not positive.
    """
    _positive("c_d", c_d)
    return _LARGEST_SHARE_OF_BOUNDARY * c_d


def is_significant_change(value: float, baseline: float, b_c: float) -> bool:
    """Whether a change, up or down, exceeds 25 % of B/C; exactly 25 % does not.

    ISO 10816-3:2009 clause 5.3 (criterion II); all three numbers in one unit.
    """
    _positive("b_c", b_c)
    return round(abs(value - baseline), 9) > round(_CHANGE_SHARE_OF_B_C * b_c, 9)


def rms_of_derived_peak(derived_peak: float) -> float:
    """rms of a derived peak, same unit: derived peak / sqrt(2), exact by definition (rule R1).

    Never for a true peak, which has no fixed ratio to its rms.
    """
    return derived_peak / math.sqrt(2)


def _positive(name: str, value: float) -> None:
    if not value > 0:
        raise ValueError(f"{name} must be positive, found {value}")
