"""Scenario, site 2: an invented board mill."""

from __future__ import annotations

from ingest_examples.generator.model import (
    HORIZONTAL_AXES,
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
from ingest_examples.generator.trains import fan, geared, machine, pump

SITE = Site("board-mill", "Board mill (invented)", "Europe/Stockholm", 28.0, 5.0, 2.0)
_S = SITE.site
_STOCK, _LINE, _HALL = "stock-preparation", "board-line", "services"
_WEB_BREAK = (0.41, 9.0)
_EXCHANGE = 0.55
_FAN_STOPS = 0.76
_LINE_DUTY = Duty(load=0.8, outages=(_WEB_BREAK, (0.83, 16.0)))

ASSETS: tuple[Asset, ...] = (
    pump(_S, "P-201", "Headbox fan pump, top layer", _STOCK, "A", 355, 990, "I", (1.7, 2.2),
         duty=Duty("demand-speed", 0.8, (_WEB_BREAK,)), min_speed=560),
    pump(_S, "P-202", "Headbox fan pump, middle layer", _STOCK, "A", 355, 990, "I", (1.6, 3.9),
         duty=_LINE_DUTY),
    pump(_S, "P-203", "Machine chest pump 1", _STOCK, "B", 75, 1480, "II", (1.1, 2.0)),
    pump(_S, "P-204", "Machine chest pump 2", _STOCK, "B", 90, 1480, "II", (1.0, 2.1),
         duty=Duty(outages=((_EXCHANGE - 0.008, 18.0),))),
    pump(_S, "P-205", "Broke pump", _STOCK, "C", 55, 1475, "II", (1.6, 6.4), vanes=3,
         height_known=False),
    geared(_S, "R-231", "Drying cylinder drive", _LINE, "B", 200, 1490, 182,
           ("roll", "roll"), (1.2, 1.9, 0.6), duty=_LINE_DUTY),
    geared(_S, "G-232", "Press drive", _LINE, "A", 450, 1490, 245,
           ("roll", "roll"), (5.3, 2.2, 0.9), duty=_LINE_DUTY, min_speed=1100),
    geared(_S, "R-233", "Couch roll drive", _LINE, "C", 132, 1485, 205,
           ("roll", "roll"), (1.3, 1.8, 0.7), duty=_LINE_DUTY),
    fan(_S, "F-241", "Dryer hood exhaust fan", _LINE, "B", 355, 1485, 1120, (1.5, 2.1),
        duty=_LINE_DUTY),
    fan(_S, "F-242", "Hall supply fan", _HALL, "C", 90, 1480, 1480, (1.0, 2.2),
        duty=Duty(stops_at=_FAN_STOPS)),
    fan(_S, "F-243", "Hood supply fan", _LINE, "B", 315, 990, 990, (1.4, 2.7),
        duty=_LINE_DUTY, support=("rigid", "flexible", "flexible")),
    machine(_S, "K-251", "Mill-air screw compressor 1", _HALL, "B", 160, 2975,
            ("compressor", "screw-compressor"), (1.4, 2.2), hf=9.0),
    machine(_S, "K-252", "Mill-air screw compressor 2", _HALL, "B", 110, 2970,
            ("compressor", "screw-compressor"), (1.3, 2.1), hf=8.0,
            duty=Duty("standby"), service_state="standby", twin="K-251"),
    pump(_S, "P-261", "Boiler feed pump", "power-house", "A", 500, 2980, "I", (1.5, 4.3), vanes=7),
    pump(_S, "P-262", "Condensate pump", "power-house", "C", 30, 1470, "II", (0.075, 0.09),
         duty=Duty(load=0.25)),
    pump(_S, "P-271", "Chest sump pump", _STOCK, "C", 45, 1475, "II", (1.4, 1.8), vertical=True,
         duty=Duty("daytime")),
    geared(_S, "K-291", "Vacuum turbo blower", _LINE, "A", 400, 1490, 5200,
           ("compressor", "centrifugal-compressor"), (1.3, 2.0, 2.9), duty=_LINE_DUTY),
)  # fmt: skip


def _sensor(
    device: str, asset: str, position: str, axes: tuple[str, str, str] = HORIZONTAL_AXES
) -> Sensor:
    return Sensor(device, "mill-gateway", (Mount(asset, position, axes),))


SENSORS: tuple[Sensor, ...] = (
    _sensor("70b3-0c11", "P-203", "motor-de"),
    _sensor("70b3-0c12", "P-203", "pump-de", ("horizontal", "vertical", "axial")),
    _sensor("70b3-0c15", "P-204", "motor-de"),
    _sensor("70b3-0c1b", "P-205", "motor-de"),
    _sensor("70b3-0c1d", "P-205", "pump-de"),
    _sensor("70b3-0c22", "F-241", "motor-de"),
    _sensor("70b3-0c23", "F-241", "fan-de"),
    _sensor("70b3-0c2a", "F-242", "motor-de"),
    _sensor("70b3-0c31", "K-251", "motor-de"),
    _sensor("70b3-0c34", "K-252", "motor-de"),
    _sensor("70b3-0c40", "P-262", "motor-de"),
    _sensor("70b3-0c47", "P-271", "motor-lower", VERTICAL_AXES),
)

_COLUMNS = (
    ("P-201", "motor-de", "horizontal", "velocity"),
    ("P-201", "pump-de", "horizontal", "velocity"),
    ("P-201", "pump-de", "horizontal", "acceleration"),
    ("P-201", "motor-de", "", "speed"),
    ("P-202", "pump-de", "horizontal", "velocity"),
    ("P-202", "motor-de", "", "speed"),
    ("P-261", "motor-de", "horizontal", "velocity"),
    ("P-261", "pump-nde", "horizontal", "velocity"),
    ("P-261", "pump-nde", "horizontal", "acceleration"),
    ("P-261", "pump-nde", "", "temperature"),
    ("P-261", "motor-de", "", "speed"),
    ("G-232", "motor-de", "horizontal", "velocity"),
    ("G-232", "gear-in", "horizontal", "velocity"),
    ("G-232", "gear-in", "horizontal", "acceleration"),
    ("G-232", "motor-de", "", "speed"),
    ("R-231", "roll-de", "horizontal", "velocity"),
    ("R-231", "roll-de", "", "speed"),
    ("K-291", "compressor-de", "horizontal", "velocity"),
    ("K-291", "motor-de", "", "speed"),
    ("F-243", "fan-de", "horizontal", "velocity"),
    ("F-241", "motor-de", "", "running-status"),
    ("F-242", "motor-de", "", "running-status"),
    ("F-243", "motor-de", "", "running-status"),
    ("P-262", "motor-de", "", "speed"),
)
_WORDS = {
    "velocity": ("vib mm/s", 1.0, 2),
    "acceleration": ("acc mm/s²", 1000.0, 0),
    "temperature": ("temp °C", 1.0, 1),
    "speed": ("rev/min", 1.0, 0),
    "running-status": ("run", 1.0, 0),
}


def _column(number: int, row: tuple[str, str, str, str]) -> Column:
    asset, position, axis, quantity = row
    word, factor, digits = _WORDS[quantity]
    header = f"{asset} {position} {word}"
    return Column(header, f"C{number:02d}", asset, position, axis, quantity, factor, digits)


LOGGER = Logger(
    "LOG-BM1",
    "mill-logger",
    _S,
    tuple(_column(i, row) for i, row in enumerate(_COLUMNS, start=1)),
    "%Y-%m-%d %H:%M:%S",
    "iso-8859-1",
    monthly=False,
)

ROUTE = Route(
    "BM-R1",
    "mill-route",
    _S,
    "MTR-02",
    28,
    3,
    (
        Stop("3-01", "R-233", "roll-de", "horizontal", True, "drive side"),
        Stop("3-02", "R-233", "roll-nde", "horizontal", True, "tending side"),
        Stop("3-03", "R-231", "roll-nde", "horizontal", True, "tending side"),
        Stop("3-04", "F-243", "motor-de", "horizontal", False, "motor, coupling end"),
        Stop("3-05", "P-204", "pump-de", "horizontal", True, "pump, coupling end"),
        Stop("3-06", "P-262", "pump-de", "horizontal", False, "pump, coupling end"),
        Stop("3-07", "P-271", "motor-upper", "radial-in-line", False, "motor top"),
        Stop("3-08", "K-251", "compressor-de", "horizontal", True, "male rotor, drive end"),
        Stop("3-09", "K-252", "compressor-de", "horizontal", True, "male rotor, drive end"),
        Stop("3-10", "P-202", "motor-de", "horizontal", True, "motor, coupling end"),
        Stop("3-11", "K-291", "motor-de", "horizontal", False, "motor, coupling end"),
        Stop("3-12", "G-232", "gear-out", "horizontal", True, "output bearing"),
    ),
)

FAULTS: tuple[Fault, ...] = (
    Fault("bearing-wear", "P-203", ("motor-de",), 0.35, 1.0, 7.6,
          "rolling bearing: high frequency and kurtosis weeks before velocity",
          "motor in zone D of group 2 at the end; kurtosis has fallen again"),
    Fault("bearing-wear", "P-261", ("pump-nde",), 0.55, 1.55, 5.0,
          "early rolling bearing damage", "seen in high-frequency acceleration only"),
    Fault("unbalance", "F-241", ("fan-de", "fan-nde"), 0.25, 1.0, 5.7,
          "deposits on the fan wheel: once-per-turn velocity grows slowly",
          "fan (> 300 kW) in zone C of group 1, rigid, at the end"),
    Fault("new-unit", "P-204", ("motor-de", "motor-nde"), _EXCHANGE, 1.0, 1.6,
          "motor exchanged with the store's spare: level shifts by the factor given",
          "a new baseline, no alarm"),
    Fault("loose-sensor", "P-271", ("motor-lower",), 0.66, 0.7, 0.1,
          "magnet of the sensor hangs loose: reads a tenth, erratic",
          "stopped or loose, cannot tell"),
    Fault("standing", "P-205", ("pump-de", "pump-nde"), 0.0, 1.0, 0.0,
          "rough from the start, does not grow", "pump in zone C of category II <= 200 kW"),
    Fault("standing", "G-232", ("motor-de",), 0.0, 1.0, 0.0,
          "motor rough from the start", "motor in zone C of group 1"),
    Fault("smooth", "P-262", ("motor-de", "pump-de"), 0.0, 1.0, 0.0,
          "lightly loaded, reads 0.002-0.004 in/s while its speed proves that it runs",
          "zone A, running"),
    Fault("stopped", "F-242", ("fan-de", "motor-de"), _FAN_STOPS, 1.0, 0.0,
          "stopped for the last weeks, status tag 0", "stopped, keeps its last level"),
    Fault("no-limits", "R-231", ("roll-de", "roll-nde"), 0.0, 1.0, 0.0,
          "only the roll is measured, at 182 /min", "zone not judged; band blind below 600 /min"),
    Fault("no-limits", "R-233", ("roll-de", "roll-nde"), 0.0, 1.0, 0.0,
          "only the roll is measured, on the route", "zone not judged"),
)  # fmt: skip

UNITS: tuple[Unit, ...] = (
    Unit("EX-M-0090-11", "electric-motor", "90 kW, 4 poles (invented)", "6316", "6316",
         (("P-204", "motor", None, _EXCHANGE - 0.008),)),
    Unit("EX-M-0090-12", "electric-motor", "90 kW, 4 poles, store's spare (invented)", "6316",
         "6314", (("P-204", "motor", _EXCHANGE, None),)),
    Unit("EX-M-0075-03", "electric-motor", "75 kW, 4 poles (invented)", "6316", "6316",
         (("P-203", "motor", None, None),)),
    Unit("EX-P-0500-01", "centrifugal-pump", "boiler feed pump (invented)", "NU322", "7322",
         (("P-261", "pump", None, None),)),
)  # fmt: skip
