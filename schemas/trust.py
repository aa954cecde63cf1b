"""What makes readings doubtful: the closed list of trust checks, and the slips of unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

TRUST_EFFECT: Mapping[str, str] = MappingProxyType(
    {
        "distrust": "the readings may not be used to show health: none is judged, and a bad state "
        "told before them stays",
        "note": "told beside the readings, which are judged as they are",
    }
)


@dataclass(frozen=True, slots=True)
class TrustCheck:
    """One check: what it finds, and what to do then."""

    code: str
    meaning: str
    remedy: str


_ALL = (
    TrustCheck(
        "silent",
        "a device or one of its channels has missed three of its intervals",
        "Find out why nothing comes: battery, radio, gateway, wiring, or a route that was not "
        "walked; then measure.",
    ),
    TrustCheck(
        "battery",
        "the battery is low, or may soon be empty at its own rate",
        "Change the battery at the next safe access; the machine is unseen once it is empty.",
    ),
    TrustCheck(
        "signal-weak",
        "the radio signal is weak, or has fallen far below its usual strength",
        "Look for what came between device and gateway, and at the aerial; move the gateway if "
        "need be.",
    ),
    TrustCheck(
        "clock-ahead",
        "the device stamps readings with times that had not come yet when they arrived",
        "Set the clock and the time zone of the device or logger, then look at what it sent since.",
    ),
    TrustCheck(
        "day-twice",
        "the day of a clock change (daylight saving) came twice, an hour apart",
        "Declare the right zone and `ambiguous` under [time] in the mapping, or have the source "
        "export in UTC; withdraw the day with `mcw retract` and take it in anew.",
    ),
    TrustCheck(
        "over-range",
        "the source marked readings as beyond the measuring range",
        "Verify at once with a second instrument of a larger range: the machine may be as bad as "
        "that.",
    ),
    TrustCheck(
        "implausible",
        "values no machine shows: wrong unit, broken sensor, or a fault on the way",
        "Check the unit in the mapping, the cable and the sensor, then repeat the measurement.",
    ),
    TrustCheck(
        "provisional-mounting",
        "the mounting has not passed its commissioning checks",
        "Do the commissioning checks: tap each axis, compare with a handheld meter, prove it "
        "while the machine runs.",
    ),
    TrustCheck(
        "stuck",
        "the same printed value again and again, where its scatter would not let it",
        "Read the sensor on the spot; restart it, and look whether the gateway repeats an old "
        "value.",
    ),
    TrustCheck(
        "flat",
        "hardly any scatter is left, a fifth of that of its quietest time before",
        "Find out what changed: filter, averaging or update of the sensor, or a machine at rest; "
        "compare with a handheld meter.",
    ),
    TrustCheck(
        "saturated",
        "at the end of the declared range; or clipped: one highest value again and again, and "
        "hardly one near it",
        "Verify at once with a second instrument of a larger range; set the sensor's range anew.",
    ),
    TrustCheck(
        "unit-slip",
        "off by the factor of a unit: in/s taken as mm/s reads 25.4 times low and looks healthy",
        "Compare with a handheld meter and look at the unit in the sensor and in the mapping; mend "
        "it, withdraw what was wrong with `mcw retract`, and take the files in anew.",
    ),
    TrustCheck(
        "axes-exchanged",
        "two axes of one device took each other's level at one instant",
        "Look how the sensor sits and how it is wired; register its mounting anew from that day, "
        "or turn it back.",
    ),
    TrustCheck(
        "copied",
        "two channels tell the same to the last digit, day after day",
        "Find out which of the two is real: unplug one, or tap one sensor; mend the wiring, the "
        "gateway's list of channels, or the mountings.",
    ),
    TrustCheck(
        "stopped-or-loose",
        "velocity far below its own history, and nothing proves that the machine runs",
        "Find out whether the machine runs; if it does, check the fixing of the sensor.",
    ),
)

TRUST_CHECK: Mapping[str, TrustCheck] = MappingProxyType({c.code: c for c in _ALL})
"""Check by code."""


@dataclass(frozen=True, slots=True)
class UnitSlip:
    """A slip of unit: `factor` is the value as it reads over the true value."""

    quantity: str
    factor: float
    slip: str


_G_SLIPS = (
    (1 / 9.80665, "numbers in g taken as m/s2"),
    (9.80665, "numbers in m/s2 taken as g"),
    (0.001, "numbers in g taken as mg"),
    (1000.0, "numbers in mg taken as g, or in mm/s2 as m/s2"),
)
_LENGTH_SLIPS = (
    (1 / 25.4, "numbers in mil taken as um"),
    (25.4, "numbers in um taken as mil"),
    (0.001, "numbers in mm taken as um"),
    (1000.0, "numbers in um taken as mm"),
)
_SLIPS_OF: Mapping[str, tuple[tuple[float, str], ...]] = {
    "velocity": (
        (1 / 25.4, "numbers in in/s taken as mm/s"),
        (25.4, "numbers in mm/s taken as in/s"),
        (0.001, "numbers in m/s taken as mm/s"),
        (1000.0, "numbers in mm/s taken as m/s, or in um/s as mm/s"),
    ),
    "acceleration": _G_SLIPS,
    "acceleration-envelope": _G_SLIPS,
    "displacement": _LENGTH_SLIPS,
    "shaft-displacement": _LENGTH_SLIPS,
}

UNIT_SLIPS = tuple(
    UnitSlip(quantity, factor, slip)
    for quantity, slips in _SLIPS_OF.items()
    for factor, slip in slips
)
"""The inch is 25.4 mm and standard gravity 9.80665 m/s2 by definition. A slip by sqrt(2), peak for
rms, lies within what machines do by themselves: it cannot be told."""
