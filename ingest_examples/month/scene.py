"""The scene: two booster pumps, four sensors, a route; a foot works loose and is put right."""

from __future__ import annotations

from datetime import UTC, datetime

from ingest_examples.generator.clock import DAY, Period
from ingest_examples.generator.model import Duty, Fault, Plant, Route, Site, Stop
from ingest_examples.generator.trains import pump

START = datetime(2025, 9, 1, tzinfo=UTC)
DAYS = 112
PERIOD = Period(int(START.timestamp()), DAYS, 20_718, 1.0)
SITE = Site(
    "raw-water", "Raw-water pumping station (invented)", "Europe/Stockholm", 16.0, 10.0, 2.5
)
PROFILE = "velocity=[in_i]/s derived-peak; time=local"
_HALL = "booster-hall"


def day(text: str) -> int:
    """Seconds since 1970 of a moment, UTC."""
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp())


def _share(text: str) -> float:
    return (day(text) - PERIOD.start) / (DAYS * DAY)


MOUNTED = "2025-09-01T07:00"
REPAIR = ("2025-10-30T07:00", "2025-10-30T13:00")
PLANT = Plant(
    sites=(SITE,),
    assets=(
        pump(SITE.site, "P-121", "Booster pump 1", _HALL, "B", 75, 2970, "II", (1.2, 1.9),
             twin="P-122", duty=Duty(outages=((_share(REPAIR[0]), 6),))),
        pump(SITE.site, "P-122", "Booster pump 2", _HALL, "B", 75, 2970, "II", (1.1, 1.7),
             duty=Duty("daytime"), service_state="standby"),
    ),
    sensors=(),
    loggers=(),
    edge_sensors=(),
    routes=(
        Route(
            "RW-R3", "route-sheet", SITE.site, "MTR-03", 14, 9,
            (
                Stop("C01", "P-121", "motor-nde", "horizontal", False, "motor, free end"),
                Stop("C02", "P-121", "pump-nde", "horizontal", False, "pump, free end"),
                Stop("C03", "P-122", "pump-nde", "horizontal", False, "pump, free end"),
            ),
        ),
    ),
    faults=(
        Fault("soft-foot", "P-121", ("pump-de",), _share("2025-09-22"), _share("2025-10-30"), 5.9,
              "foot bolts at the coupling end work loose: erratic, growing",
              "put right on 2025-10-30", mended_at=_share(REPAIR[0])),
    ),
    units=(),
)  # fmt: skip
SENSORS = {
    "WV-5A20": ("P-121", "motor-de"),
    "WV-5A21": ("P-121", "pump-de"),
    "WV-5A22": ("P-122", "motor-de"),
    "WV-5A23": ("P-122", "pump-de"),
}
"""Sensors of one direction (horizontal), with temperature: where each sits."""
NEW_SENSOR = "WV-5A21"
TAPPED = "2025-09-01T09:00"
EXPORTS = ("2025-09-02", "2025-10-22", "2025-11-10", "2025-12-15")
"""Days of the gateway's exports, each with what came since the one before."""
SEEN = {("2025-10-22", "C02"): "looseness"}
"""What the technician notes beside a value."""
