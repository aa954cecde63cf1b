"""RFC 8428's own examples through the SenML adapter, resolved as the RFC resolves them.

Source: RFC 8428, Sensor Measurement Lists (August 2018), sections 5.1.1 to 5.1.7 (JSON
examples); the resolved records are those that section 5.1.4 prints, else made by section 4.6.
A record without a time is "now" (section 4.5.3): the time of receipt.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from warehouse.adapters import adapter
from warehouse.adapters.contract import RECEIVED_AT, decode
from warehouse.mapping import parse_mapping

MAPPING = """format_version = 1
name = "rfc-8428"
[source]
id = "rfc-8428"
adapter = "senml"
method = "wired"
[time]
from = "time"
format = "epoch-seconds"
[[measure]]
from = "value"
device = { from = "device" }
channel = { from = "name" }
unit = { from = "unit" }
quantity = "temperature"
detector = "value"
"""
NOW = RECEIVED_AT.timestamp()
ADDRESS = "urn:dev:ow:10e2073a01080063"

Resolved = tuple[str, str | None, float, float]
"""Name, unit, value, time."""


def resolve(folder: Path, pack: str) -> tuple[list[Resolved], list[int]]:
    """Resolved records and the numbers of those without a number."""
    mapping = parse_mapping(MAPPING, "mapping")
    path = folder / "pack.senml"
    path.write_text(pack, encoding="utf-8")
    decoded = decode(adapter("senml"), path, mapping)
    names = ("line", *mapping.fields)
    rows: list[dict[str, Any]] = [dict(zip(names, row, strict=True)) for row in decoded.records]
    return (
        [(row["name"], row["unit"], float(row["value"]), float(row["time"])) for row in rows],
        [int(str(row[0])) for row in decoded.refused],
    )


def test_5_1_1_single_data_point(tmp_path: Path) -> None:
    pack = '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]'
    assert resolve(tmp_path, pack) == ([(ADDRESS, "Cel", 23.1, NOW)], [])


def test_5_1_2_multiple_data_points_now(tmp_path: Path) -> None:
    pack = """[
      {"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
      {"n":"current","u":"A","v":1.2}
    ]"""
    assert resolve(tmp_path, pack) == (
        [(f"{ADDRESS}:voltage", "V", 120.1, NOW), (f"{ADDRESS}:current", "A", 1.2, NOW)],
        [],
    )


def test_5_1_2_multiple_data_points_over_time(tmp_path: Path) -> None:
    """Version 5 and a base time of Tue Jun 8 18:01:16.001 UTC 2010, printed with an exponent."""
    pack = """[
      {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
       "bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
      {"n":"current","t":-5,"v":1.2},
      {"n":"current","t":-4,"v":1.3},
      {"n":"current","t":-3,"v":1.4},
      {"n":"current","t":-2,"v":1.5},
      {"n":"current","t":-1,"v":1.6},
      {"n":"current","v":1.7}
    ]"""
    records, refused = resolve(tmp_path, pack)
    name = "urn:dev:ow:10e2073a0108006:"
    assert records == [
        (name + "voltage", "V", 120.1, 1276020076.001),
        (name + "current", "A", 1.2, 1276020071.001),
        (name + "current", "A", 1.3, 1276020072.001),
        (name + "current", "A", 1.4, 1276020073.001),
        (name + "current", "A", 1.5, 1276020074.001),
        (name + "current", "A", 1.6, 1276020075.001),
        (name + "current", "A", 1.7, 1276020076.001),
    ]
    assert not refused


MOBILE = """[
  {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
  {"u":"lon","v":24.30621},
  {"u":"lat","v":60.07965},
  {"t":60,"v":20.3},
  {"u":"lon","t":60,"v":24.30622},
  {"u":"lat","t":60,"v":60.07965},
  {"t":120,"v":20.7},
  {"u":"lon","t":120,"v":24.30623},
  {"u":"lat","t":120,"v":60.07966},
  {"u":"%EL","t":150,"v":98},
  {"t":180,"v":21.2},
  {"u":"lon","t":180,"v":24.30628},
  {"u":"lat","t":180,"v":60.07967}
]"""
PRINTED_RESOLVED = [
    ("%RH", 1320067464, 20),
    ("lon", 1320067464, 24.30621),
    ("lat", 1320067464, 60.07965),
    ("%RH", 1320067524, 20.3),
    ("lon", 1320067524, 24.30622),
    ("lat", 1320067524, 60.07965),
    ("%RH", 1320067584, 20.7),
    ("lon", 1320067584, 24.30623),
    ("lat", 1320067584, 60.07966),
    ("%EL", 1320067614, 98),
    ("%RH", 1320067644, 21.2),
    ("lon", 1320067644, 24.30628),
    ("lat", 1320067644, 60.07967),
]
"""Unit, time and value of the records that section 5.1.4 prints."""


def test_5_1_3_multiple_measurements_resolve_as_5_1_4_prints(tmp_path: Path) -> None:
    """Our only change is the unit's code: `%EL` (remaining battery) is UCUM `%`."""
    records, refused = resolve(tmp_path, MOBILE)
    ours = {"%EL": "%"}
    assert records == [
        (ADDRESS, ours.get(unit, unit), value, time) for unit, time, value in PRINTED_RESOLVED
    ]
    assert not refused


def test_5_1_4_resolved_data_resolve_to_themselves(tmp_path: Path) -> None:
    pack = [{"n": ADDRESS, "u": u, "t": t, "v": v} for u, t, v in PRINTED_RESOLVED]
    assert resolve(tmp_path, json.dumps(pack)) == resolve(tmp_path, MOBILE)


def test_5_1_5_multiple_data_types(tmp_path: Path) -> None:
    """Text, boolean and data are no readings: refused one by one, the number is kept."""
    pack = """[
      {"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
      {"n":"label","vs":"Machine Room"},
      {"n":"open","vb":false},
      {"n":"nfc-reader","vd":"aGkgCg"}
    ]"""
    assert resolve(tmp_path, pack) == ([(f"{ADDRESS}:temp", "Cel", 23.1, NOW)], [2, 3, 4])


def test_5_1_6_collection_of_resources(tmp_path: Path) -> None:
    """The last record uses the base name of the third and the base time of the first."""
    pack = """[
      {"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
      {"n":"humidity","u":"%RH","v":30},
      {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
      {"n":"humidity","u":"%RH","v":67}
    ]"""
    assert resolve(tmp_path, pack)[0] == [
        ("2001:db8::2/temperature", "Cel", 25.2, 1320078429),
        ("2001:db8::2/humidity", "%RH", 30, 1320078429),
        ("2001:db8::1/temperature", "Cel", 12.3, 1320078429),
        ("2001:db8::1/humidity", "%RH", 67, 1320078429),
    ]


@pytest.mark.parametrize(
    ("pack", "expected", "refused"),
    [
        (  # a record of base fields alone is no measurement
            '[{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":23.1},'
            '{"n":"heat","u":"/","v":1},{"n":"fan","u":"/","v":0}]',
            [
                (f"{ADDRESS}:temp", "Cel", 23.1, NOW),
                (f"{ADDRESS}:heat", "1", 1, NOW),
                (f"{ADDRESS}:fan", "1", 0, NOW),
            ],
            [1],
        ),
        (
            '[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},'
            '{"n":"2001:db8::4","v":0.5},{"n":"2001:db8::3","t":0.1,"v":0},'
            '{"n":"2001:db8::4","t":0.1,"v":0}]',
            [
                ("2001:db8::3", "1", 0.5, 1320078429),
                ("2001:db8::4", "1", 0.5, 1320078429),
                ("2001:db8::3", "1", 0, 1320078429.1),
                ("2001:db8::4", "1", 0, 1320078429.1),
            ],
            [],
        ),
    ],
)
def test_5_1_7_setting_an_actuator(
    tmp_path: Path, pack: str, expected: list[Any], refused: list[int]
) -> None:
    assert resolve(tmp_path, pack) == (expected, refused)
