"""Scenario, site 3: an invented district-cooling plant."""

from __future__ import annotations

from ingest_examples.generator.model import Asset, Duty, EdgeSensor, Fault, Site, Unit
from ingest_examples.generator.trains import geared, machine, pump, station

SITE = Site(
    "district-cooling", "District-cooling plant (invented)", "Europe/Lisbon", 24.0, 8.0, 4.0
)
_S = SITE.site
_CHILLERS, _HALL, _ROOF = "chillers", "pump-hall", "cooling-towers"

ASSETS: tuple[Asset, ...] = (
    geared(_S, "C-301", "Turbo chiller 1", _CHILLERS, "A", 630, 2980, 8400,
           ("compressor", "centrifugal-compressor"), (1.4, 1.9, 1.6)),
    geared(_S, "C-302", "Turbo chiller 2", _CHILLERS, "A", 630, 2980, 8400,
           ("compressor", "centrifugal-compressor"), (3.0, 2.0, 2.9), duty=Duty("daytime")),
    machine(_S, "C-303", "Screw chiller", _CHILLERS, "B", 250, 2970,
            ("compressor", "screw-compressor"), (1.5, 2.2), hf=8.5),
    pump(_S, "P-311", "Chilled-water pump 1", _HALL, "A", 110, 1485, "I", (1.1, 3.0),
         duty=Duty("alternate-a"), twin="P-312"),
    pump(_S, "P-312", "Chilled-water pump 2", _HALL, "A", 110, 1485, "I", (1.2, 1.9),
         duty=Duty("alternate-b"), twin="P-311", service_state="standby"),
    pump(_S, "P-313", "Chilled-water pump 3, variable speed", _HALL, "A", 110, 1485, "I",
         (1.2, 1.8), duty=Duty("demand-speed"), min_speed=700),
    pump(_S, "P-321", "Condenser-water pump 1", _HALL, "B", 200, 1488, "II", (1.4, 2.2)),
    pump(_S, "P-322", "Condenser-water pump 2", _HALL, "B", 200, 1488, "II", (1.3, 3.9),
         height_known=False),
    geared(_S, "F-331", "Cooling-tower fan 1", _ROOF, "C", 37, 1475, 245,
           ("fan", "fan"), (1.2, 2.0, 1.5), duty=Duty("daytime")),
    geared(_S, "F-332", "Cooling-tower fan 2", _ROOF, "C", 37, 1475, 245,
           ("fan", "fan"), (1.9, 2.2, 1.7), duty=Duty("daytime")),
    pump(_S, "P-341", "Make-up water pump, in-line", _HALL, "C", 7.5, 2910, "II", (0.9, 1.5),
         vertical=True, duty=Duty("cycling")),
    station(_S, "ENV-390", "Outdoor air, temperature", _ROOF, "outdoor"),
)  # fmt: skip

_DOCUMENTATION = 32_473
"""Enterprise number reserved for documentation (RFC 5612), in device names of RFC 9039."""

_H = ("vib-h", "velocity", "horizontal")
_V = ("vib-v", "velocity", "vertical")
_ACC = ("acc-h", "acceleration", "horizontal")
_T = ("temp", "temperature", "")
_N = ("speed", "speed", "")
_I = ("current", "current", "")


def _box(
    box: str, *rows: tuple[str, str, tuple[tuple[str, str, str], ...]]
) -> tuple[EdgeSensor, ...]:
    return tuple(
        EdgeSensor(f"urn:dev:ops:{_DOCUMENTATION}-{box}-s{i:02d}", box, asset, position, channels)
        for i, (asset, position, channels) in enumerate(rows, start=1)
    )


EDGE_SENSORS: tuple[EdgeSensor, ...] = (
    *_box(
        "edge1",
        ("C-301", "motor-de", (_H, _ACC, _T, _N)),
        ("C-301", "compressor-de", (_H, _ACC, _T)),
        ("C-302", "motor-de", (_H, _ACC, _T, _N)),
        ("C-302", "compressor-de", (_H, _ACC, _T)),
        ("C-303", "compressor-de", (_H, _ACC, _T)),
        ("F-331", "motor-de", (_H,)),
        ("F-331", "gear-out", (_H,)),
        ("F-332", "motor-de", (_H,)),
        ("F-332", "gear-out", (_H,)),
        ("ENV-390", "outdoor", (_T,)),
    ),
    *_box(
        "edge2",
        ("P-311", "motor-de", (_H, _N)),
        ("P-311", "pump-de", (_H, _V, _ACC, _T)),
        ("P-312", "motor-de", (_H, _N)),
        ("P-312", "pump-de", (_H, _V, _ACC, _T)),
        ("P-313", "motor-de", (_H, _N)),
        ("P-313", "pump-de", (_H, _V, _ACC, _T)),
        ("P-321", "motor-de", (_H, _ACC, _T, _I)),
        ("P-321", "pump-de", (_H,)),
        ("P-322", "motor-de", (_H, _ACC, _T, _I)),
        ("P-322", "pump-de", (_H,)),
        ("P-341", "motor-upper", (("vib-h", "velocity", "radial-in-line"), _T)),
    ),
)
UNKNOWN_UNIT_DEVICE = f"urn:dev:ops:{_DOCUMENTATION}-edge2-s08"
"""Its firmware of one week sends inches per second under a word that is no unit code."""

FAULTS: tuple[Fault, ...] = (
    Fault("soft-foot", "P-313", ("pump-de", "pump-nde"), 0.5, 1.0, 4.9,
          "foot bolt works loose: erratic, growing", "pump in zone C of category I <= 200 kW"),
    Fault("bearing-wear", "P-321", ("motor-de",), 0.55, 1.6, 4.5,
          "early rolling bearing damage", "seen in high-frequency acceleration only"),
    Fault("no-limits", "C-303", ("compressor-de",), 0.0, 1.0, 0.0,
          "only the screw compressor is measured", "zone not judged"),
    Fault("no-limits", "P-341", ("motor-upper",), 0.0, 1.0, 0.0,
          "only a motor of 7.5 kW is measured", "zone not judged"),
)  # fmt: skip

UNITS: tuple[Unit, ...] = (
    Unit("EX-P-0110-21", "centrifugal-pump", "chilled-water pump (invented)", "NU319", "7319",
         (("P-313", "pump", None, None),)),
)  # fmt: skip
