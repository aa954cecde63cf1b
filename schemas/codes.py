"""Closed code lists of the open schema.

Each list is a mapping from code to its meaning. A value outside its list is
refused at ingest with a reason; it is never guessed. Terms follow ISO 13372,
ISO 13373-1, ISO 14224 and ISO 20816-1 where those have one.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType


def _codes(codes: dict[str, str]) -> Mapping[str, str]:
    return MappingProxyType(codes)


QUANTITY = _codes(
    {
        "velocity": "vibration velocity of a non-rotating part",
        "acceleration": "vibration acceleration of a non-rotating part",
        "acceleration-envelope": "demodulated (enveloped) vibration acceleration",
        "displacement": "vibration displacement of a non-rotating part (casing)",
        "shaft-displacement": "vibration displacement of the shaft relative to the bearing housing",
        "gap": "mean distance between a proximity probe and the shaft",
        "temperature": "temperature at the point (housing skin unless the point says otherwise)",
        "speed": "rotational speed of the point's shaft",
        "current": "supply current of the driver",
        "power": "electrical or shaft power",
        "pressure": "process pressure",
        "flow": "process volume flow",
        "load": "load as a share of the rated load",
        "running-status": "status tag: 1 running, 0 not running",
        "battery-charge": "remaining battery charge of the device",
        "battery-voltage": "battery voltage of the device",
        "signal-strength": "received radio power, as a level re 1 mW",
    }
)

DETECTOR = _codes(
    {
        "rms": "root mean square over the band",
        "peak": "true peak of the waveform; never converts to rms",
        "derived-peak": "sqrt(2) x rms by definition; converts to rms exactly",
        "peak-unspecified": "a peak whose definition the source does not give",
        "peak-to-peak": "true peak-to-peak of the waveform",
        "derived-peak-to-peak": "2 sqrt(2) x rms by definition; converts to rms exactly",
        "mean": "mean over the sampling time",
        "kurtosis": "fourth standardised moment (a normal signal has 3)",
        "excess-kurtosis": "fourth standardised moment less 3 (a normal signal has 0)",
        "crest-factor": "true peak over rms",
        "value": "a plain value, no detector applies",
    }
)

DIMENSIONLESS_DETECTORS = frozenset({"kurtosis", "excess-kurtosis", "crest-factor"})
"""Detectors whose result is a pure number whatever the quantity."""

AXIS = _codes(
    {
        "axial": "along the shaft",
        "horizontal": "radial, horizontal",
        "vertical": "radial, vertical",
        "radial-in-line": "radial on a vertical shaft, in line with the discharge",
        "radial-cross": "radial on a vertical shaft, across the discharge",
        "radial": "radial, no more is known",
        "tangential": "tangential, no more is known",
    }
)

METHOD = _codes(
    {
        "wireless": "battery sensor reporting by radio at intervals",
        "wired": "permanently wired channel",
        "route": "handheld meter on a walked route",
        "derived": "computed from stored waveforms or readings",
    }
)

METHOD_GROUP = _codes(
    {
        "online": "wireless and wired readings",
        "route": "readings walked with a handheld meter",
        "derived": "computed readings",
    }
)

TS_SOURCE = _codes(
    {
        "device": "clock of the measuring device",
        "gateway": "clock of the gateway that relayed the reading",
        "arrival": "time of receipt here",
        "date-only": "only a date was given; noon of the site's local day stands in",
    }
)

TS_PRECISION = _codes(
    {
        "microsecond": "one microsecond or finer",
        "millisecond": "one millisecond",
        "second": "one second",
        "minute": "one minute",
        "hour": "one hour",
        "day": "one day",
    }
)

QUALITY = _codes(
    {
        "good": "no known reason to doubt the reading",
        "suspect": "stored and shown, with a doubt named in `reason`",
        "bad": "not usable as a value; kept as evidence",
    }
)

READING_REASON = _codes(
    {
        "over-range": "the source marked the value as beyond the measuring range; no number exists",
        "implausible": "a value no machine shows: wrong unit, broken sensor, or a fault on the way",
        "provisional-mounting": "the mounting has not passed its commissioning checks",
    }
)

SUPERSEDED_WHY = _codes(
    {
        "revision": "the source sent another value for the same identity",
        "re-placed": "the registry was corrected; the reading was written again with its new place",
        "retracted": "the package was withdrawn",
    }
)

EQUIPMENT_CLASS = _codes(
    {
        "electric-motor": "electric motor (ISO 14224 EM)",
        "centrifugal-pump": "rotodynamic pump (ISO 14224 PU, centrifugal)",
        "reciprocating-pump": "reciprocating pump (ISO 14224 PU, reciprocating)",
        "fan": "fan or blower (ISO 14224 BL)",
        "gearbox": "gear unit",
        "centrifugal-compressor": "turbo compressor (ISO 14224 CO, centrifugal)",
        "reciprocating-compressor": "reciprocating compressor (ISO 14224 CO, reciprocating)",
        "screw-compressor": "rotary screw compressor (ISO 14224 CO, screw)",
        "generator": "electric generator (ISO 14224 EG)",
        "roll": "driven roll or cylinder of a web machine",
        "environment": "no machine: a measuring station (ambient air, water intake)",
    }
)

MEMBER_ROLE = _codes(
    {
        "driver": "drives the train",
        "gear": "changes speed between driver and driven",
        "driven": "does the train's work",
        "station": "a measuring station, no machine",
    }
)

DRIVE = _codes({"direct": "coupled directly", "belt": "by belt", "gear": "through a gear unit"})

SUPPORT = _codes(
    {
        "rigid": "lowest natural frequency in the measuring direction at least 25 % above "
        "the main excitation (ISO 20816-1)",
        "flexible": "any other support",
    }
)

PUMP_CATEGORY = _codes(
    {
        "I": "high reliability, availability or safety need (ISO 10816-7)",
        "II": "general or less critical service (ISO 10816-7)",
    }
)

FAN_APPLICATION = _codes(
    {
        "residential": "residential (ISO 14694)",
        "hvac-agricultural": "heating, ventilation, air conditioning, agricultural (ISO 14694)",
        "industrial": "industrial process and power generation (ISO 14694)",
        "transport-marine": "transport and marine (ISO 14694)",
        "transit-tunnel": "transit and tunnel (ISO 14694)",
        "petrochemical": "petrochemical process (ISO 14694)",
        "semiconductor": "computer chip manufacture (ISO 14694)",
    }
)

POINT_PART = _codes(
    {
        "foundation": "foundation of a reciprocating machine (ISO 20816-8)",
        "frame-top": "top of the frame of a reciprocating machine (ISO 20816-8)",
        "cylinder-lateral": "cylinder, across its rod (ISO 20816-8)",
        "cylinder-rod": "cylinder, along its rod (ISO 20816-8)",
        "damper": "pulsation damper (ISO 20816-8)",
        "piping": "piping (ISO 20816-8)",
    }
)

CRITICALITY = _codes({"A": "critical", "B": "important", "C": "general"})

SERVICE_STATE = _codes(
    {
        "in-service": "in normal service",
        "standby": "ready, runs in turn with its twin",
        "laid-up": "out of use for a time",
        "removed": "no longer there",
    }
)

MOUNTING_METHOD = _codes(
    {
        "stud": "screwed on a prepared surface",
        "adhesive": "glued",
        "flat-magnet": "magnet on a flat surface",
        "two-pole-magnet": "two-pole magnet on a curved surface",
        "probe": "hand-held probe tip",
        "built-in": "built into the machine or its instrument",
    }
)

COMMISSIONING = _codes(
    {
        "passed": "commissioning checks passed",
        "provisional": "mounted, checks not passed yet: stored and shown, raises no case",
    }
)

RUNNING_STATE = _codes(
    {
        "steady": "running at a settled speed",
        "transient": "starting, stopping or changing speed",
        "stopped": "not turning",
        "unknown": "no evidence either way",
    }
)

LEVEL = _codes(
    {
        "normal": "nothing to do beyond the usual watch",
        "watch": "a significant change: look again at the next occasion",
        "alert": "unsuitable for unrestricted long-term running: verify, then plan work",
        "danger": "may cause damage: verify at once",
        "unknown": "no fresh, trusted, judgeable reading: this is not healthy",
    }
)

COVERAGE = _codes(
    {
        "normal": "every bearing, or a radial on driver and driven, is freshly measured",
        "partial": "some judged points are freshly measured, the rest of the train is unseen",
        "none": "no judged point is freshly measured",
    }
)

PACKAGE_STATE = _codes(
    {
        "received": "durably stored, not yet taken into the dataset",
        "duplicate": "the same package arrived again and was given its old receipt",
        "committed": "in the dataset, nothing refused",
        "committed-with-rejects": "in the dataset, some items refused",
        "failed": "nothing usable; the error says why",
        "retracted": "withdrawn; its readings do not count",
        "re-placing": "readings of a corrected mounting are being written again",
    }
)
