"""Scenario, site 1: an invented raw-water pumping station."""

from __future__ import annotations

from ingest_examples.generator.model import (
    VERTICAL_AXES,
    Asset,
    Column,
    Duty,
    Fault,
    Logger,
    Mount,
    Route,
    Sensor,
    Site,
    Stop,
    Unit,
)
from ingest_examples.generator.trains import fan, machine, pump, station

SITE = Site(
    "raw-water", "Raw-water pumping station (invented)", "Europe/Stockholm", 19.0, 11.0, 2.5
)
_S = SITE.site
_HALL, _INTAKE, _BOOSTER = "pump-hall", "intake", "booster-hall"
_MISALIGNED = 0.52
_PUMP_LEVELS = (1.3, 2.1)

ASSETS: tuple[Asset, ...] = (
    pump(_S, "P-101", "Raw-water pump 1", _HALL, "A", 250, 1490, "I", _PUMP_LEVELS,
         duty=Duty("alternate-a"), twin="P-102"),
    pump(_S, "P-102", "Raw-water pump 2", _HALL, "A", 250, 1490, "I", (1.5, 2.4),
         duty=Duty("alternate-b"), twin="P-101", service_state="standby"),
    pump(_S, "P-103", "Raw-water pump 3, variable speed", _HALL, "A", 315, 1480, "I", (1.4, 2.3),
         duty=Duty("demand-speed"), min_speed=780),
    pump(_S, "P-104", "Raw-water pump 4", _HALL, "A", 250, 1490, "I", (1.2, 1.9),
         duty=Duty(load=0.8, outages=((_MISALIGNED - 0.004, 10),))),
    pump(_S, "P-111", "Intake pump 1", _INTAKE, "A", 160, 985, "I", (2.8, 2.2), vertical=True,
         height_known=False),
    pump(_S, "P-112", "Intake pump 2", _INTAKE, "A", 160, 985, "I", (1.8, 2.9), vertical=True),
    pump(_S, "P-121", "Booster pump 1", _BOOSTER, "B", 75, 2970, "II", (1.2, 2.2)),
    pump(_S, "P-122", "Booster pump 2", _BOOSTER, "B", 75, 2970, "II", (1.1, 3.7)),
    pump(_S, "P-123", "Booster pump 3", _BOOSTER, "B", 75, 2970, "II", (1.2, 1.8),
         duty=Duty("daytime"), height_known=False),
    pump(_S, "P-131", "Wash-water pump 1", "filters", "C", 11, 2940, "II", (0.8, 1.4),
         duty=Duty("alternate-a"), twin="P-132"),
    pump(_S, "P-132", "Wash-water pump 2", "filters", "C", 11, 2940, "II", (0.9, 1.6),
         duty=Duty("alternate-b"), twin="P-131", service_state="standby"),
    machine(_S, "K-141", "Control-air compressor", "services", "B", 22, 1465,
            ("compressor", "reciprocating-compressor"), (2.0, 5.5), duty=Duty("cycling"),
            driven_speed=720, kurtosis=4.6, hf=4.5),
    fan(_S, "F-151", "Hall ventilation fan", "services", "C", 30, 1470, 980, (1.7, 2.1),
        duty=Duty(load=0.7, outages=((0.31, 14),))),
    pump(_S, "P-161", "Sludge pump", "filters", "B", 18.5, 1460, "II", (1.1, 3.8), vanes=3),
    machine(_S, "P-171", "Dosing pump", "chemicals", "B", 4, 1430,
            ("pump", "reciprocating-pump"), (0.7, 1.9), driven_speed=120, kurtosis=4.2, hf=1.0),
    station(_S, "ENV-190", "Water intake, temperature", _INTAKE, "intake"),
)  # fmt: skip


def _sensor(device: str, asset: str, position: str, **more: object) -> Sensor:
    vertical = asset in ("P-111", "P-112")
    axes = VERTICAL_AXES if vertical else ("axial", "horizontal", "vertical")
    dies = more.get("dies_at")
    lost = more.get("unregistered")
    return Sensor(
        device,
        "raw-water-gateway",
        (Mount(asset, position, axes, commissioning=str(more.get("commissioning", "passed"))),),
        dies_at=dies if isinstance(dies, float) else None,
        unregistered_channels=(lost,) if isinstance(lost, str) else (),
    )


MOVED_OFF, MOVED_ON = 0.5, 0.5062
SENSORS: tuple[Sensor, ...] = (
    _sensor("WV-31A0", "P-111", "motor-lower"),
    _sensor("WV-31B7", "P-112", "motor-upper"),
    _sensor("WV-31C4", "P-112", "pump-upper"),
    _sensor("WV-31D2", "P-121", "motor-de"),
    _sensor("WV-31E9", "P-121", "pump-de"),
    _sensor("WV-31F3", "P-122", "pump-de", dies_at=0.735),
    Sensor(
        "WV-3208",
        "raw-water-gateway",
        (
            Mount("P-123", "pump-de", end=MOVED_OFF, method="flat-magnet"),
            Mount("P-131", "pump-de", ("horizontal", "axial", "vertical"), begin=MOVED_ON),
        ),
    ),
    _sensor("WV-3216", "P-132", "pump-de", unregistered="battery"),
    _sensor("WV-3225", "K-141", "motor-de"),
    _sensor("WV-323A", "F-151", "fan-de", commissioning="provisional"),
    _sensor("WV-324F", "P-161", "pump-de"),
)
UNKNOWN_DEVICE = "WV-9F07"


def _pump_columns(tag: str, first: int) -> tuple[Column, ...]:
    short = tag.replace("-", "")
    rows = (
        ("MDE H mm/s", "motor-de", "horizontal", "velocity", 2),
        ("PDE H mm/s", "pump-de", "horizontal", "velocity", 2),
        ("PDE V mm/s", "pump-de", "vertical", "velocity", 2),
        ("PDE HF m/s2", "pump-de", "horizontal", "acceleration", 2),
        ("PDE Temp", "pump-de", "", "temperature", 1),
        ("n 1/min", "motor-de", "", "speed", 0),
    )
    return tuple(
        Column(f"{short} {label}", f"{first + i:02d}", tag, position, axis, quantity, 1.0, digits)
        for i, (label, position, axis, quantity, digits) in enumerate(rows)
    )


LOGGER = Logger(
    "LOG-RW1",
    "raw-water-logger",
    _S,
    (
        *(c for i, t in enumerate(("P-101", "P-102", "P-103", "P-104"))
          for c in _pump_columns(t, 6 * i + 1)),
        Column("P111 I A", "25", "P-111", "motor-lower", "", "current", 1.0, 0),
        Column("P112 I A", "26", "P-112", "motor-lower", "", "current", 1.0, 0),
        Column("K141 RUN", "27", "K-141", "motor-de", "", "running-status", 1.0, 0),
        Column("INTAKE Temp", "28", "ENV-190", "intake", "", "temperature", 1.0, 1),
    ),
    "%d.%m.%Y %H:%M:%S",
    "utf-8",
    monthly=True,
)  # fmt: skip

ROUTE = Route(
    "RW-R1",
    "raw-water-route",
    _S,
    "MTR-01",
    14,
    4,
    (
        Stop("A01", "P-121", "motor-nde", "horizontal", True, "motor, free end"),
        Stop("A02", "P-121", "pump-nde", "horizontal", True, "pump, free end"),
        Stop("A03", "P-122", "motor-de", "horizontal", True, "motor, coupling end"),
        Stop("A04", "P-123", "motor-de", "horizontal", False, "motor, coupling end"),
        Stop("A05", "P-131", "motor-de", "horizontal", False, "motor, coupling end"),
        Stop("A06", "P-132", "motor-de", "horizontal", False, "motor, coupling end"),
        Stop("A07", "K-141", "frame", "horizontal", True, "crankcase, mid height"),
        Stop("A08", "F-151", "motor-de", "horizontal", False, "motor, belt end"),
        Stop("A09", "P-161", "motor-de", "horizontal", True, "motor, coupling end"),
        Stop("A10", "P-171", "motor-de", "horizontal", False, "motor, belt end"),
        Stop("A11", "P-171", "frame", "vertical", False, "pump block"),
        Stop("A12", "P-111", "motor-upper", "radial-in-line", True, "motor top, discharge side"),
        Stop("A13", "P-112", "motor-lower", "radial-in-line", True, "motor foot, discharge side"),
        Stop("A14", "P-104", "pump-nde", "axial", True, "pump, thrust end"),
    ),
)

FAULTS: tuple[Fault, ...] = (
    Fault("unbalance", "P-121", ("pump-de", "pump-nde"), 0.3, 1.0, 9.6,
          "impeller wears unevenly: once-per-turn velocity grows slowly",
          "pump in zone D of category II <= 200 kW at the end"),
    Fault("misalignment", "P-104", ("motor-de", "pump-de", "pump-nde"), _MISALIGNED, 1.0, 5.6,
          "step after a maintenance job on the coupling",
          "pump in zone C of category I > 200 kW at the end"),
    Fault("cavitation", "P-111", ("motor-lower", "motor-upper", "pump-upper"), 0.44, 0.5, 1.4,
          "low water at the intake for some days", "spell only: no lasting change"),
    Fault("regreasing", "P-112", ("motor-upper",), 0.62, 0.65, 15.0,
          "housing temperature hump after greasing, settles within two days",
          "no lasting change"),
    Fault("no-limits", "P-171", ("motor-de", "frame"), 0.0, 1.0, 0.0,
          "dosing pump with a motor of 4 kW, measured on the route", "zone not judged"),
)  # fmt: skip

UNITS: tuple[Unit, ...] = (
    Unit("EX-M-0250-01", "electric-motor", "250 kW, 4 poles (invented)", "6322", "6322",
         (("P-101", "motor", None, None),)),
    Unit("EX-M-0250-02", "electric-motor", "250 kW, 4 poles (invented)", "6322", "6322",
         (("P-102", "motor", None, None),)),
    Unit("EX-P-0075-07", "centrifugal-pump", "booster pump (invented)", "NU316", "7316",
         (("P-121", "pump", None, None),)),
)  # fmt: skip
