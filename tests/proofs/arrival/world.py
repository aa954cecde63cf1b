"""Invented packages of one round, from a seed, and the plant they come from.

They overlap; values are revised, go away and come back; some are printed with
other digits; a few stand twice in one file. There are devices nobody registered,
one that is registered late, one whose mounting is corrected and put right again, channels nobody
knows, cells that are no number, blanks, lines that cannot be read, and files sent twice
under different names.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

SOURCES = {"north": "wired", "south": "route"}
"""Sources and how they measure: what stands twice in one file is a new take on a route only."""
WHATS = ("velocity", "temperature")
"""What the values of a line are, in the order of the columns."""
CHANNELS = ("1", "2")
BLANK = "--"
_STRANGER = "stranger"
_ALWAYS = "2000-01-01T00:00:00Z"
_MOUNTING_COLUMNS = "device,channel,site,asset,position,axis,mounted_from,commissioning"
_MANY = 40_000
_SLOTS = 72
"""Times of readings, forty minutes apart: two days in two months."""
CORRECTED_SLOT = 36
"""Where some rounds hold for a while that a device was mounted: the second day."""

MAPPING = """format_version = 1
name = "proof-{source}"

[source]
id = "{source}"
adapter = "delimited"
method = "{method}"

[time]
from = "time"
zone = "UTC"

[values]
null = ["{blank}"]

[record]
device = {{ from = "device" }}
channel = {{ from = "channel" }}

[[measure]]
from = "velocity"
quantity = "velocity"
detector = "rms"
unit = "mm/s"
band = "10-1000Hz"

[[measure]]
from = "temperature"
quantity = "temperature"
detector = "value"
unit = "Cel"
"""


@dataclass(frozen=True, slots=True)
class Line:
    """One record as printed: its time as a slot number, its stream, its two values."""

    slot: int
    device: str
    channel: str
    values: tuple[str, str]

    def __str__(self) -> str:
        minute = 40 * self.slot
        month, day = ((6, 30), (7, 1))[minute // 1440]
        clock = f"{minute // 60 % 24:02d}:{minute % 60:02d}"
        cells = (f"2025-{month:02d}-{day:02d} {clock}", self.device, self.channel, *self.values)
        return ",".join(cells)


@dataclass(frozen=True, slots=True)
class Sent:
    """One file: its source, its name, its lines; a line that is only text cannot be read."""

    source: str
    name: str
    lines: tuple[Line | str, ...]

    @property
    def text(self) -> str:
        """The file as it is sent."""
        return "\n".join(["time,device,channel,velocity,temperature", *map(str, self.lines)]) + "\n"


def devices(source: str) -> list[str]:
    """Devices registered from the beginning."""
    return [f"{source}-{letter}" for letter in "abc"]


def late_device(source: str) -> str:
    """The device that is registered in the middle of some rounds."""
    return f"{source}-late"


def corrected_device(source: str) -> str:
    """The device whose mounting is corrected in some rounds."""
    return devices(source)[0]


def make_world(chance: random.Random, packages: int) -> list[Sent]:
    """A round's packages in the order they are handed over; some are copies of earlier ones."""
    world: list[Sent] = []
    for number in range(packages):
        if world and chance.random() < 0.15:
            copied = chance.choice(world)
            world.append(Sent(copied.source, f"{copied.source}-{number}.csv", copied.lines))
            continue
        source = chance.choice(list(SOURCES))
        lines = tuple(_lines(chance, source))
        world.append(Sent(source, f"{source}-{number}.csv", lines))
    return world


def _lines(chance: random.Random, source: str) -> Iterator[Line | str]:
    long = chance.random() < 0.12  # with others it is more than one commit takes
    first = 0 if long else chance.randrange(_SLOTS - 10)
    for slot in range(first, _SLOTS if long else min(_SLOTS, first + chance.randrange(10, 40))):
        for _ in range(6 if long else chance.choice((1, 2, 2, 3))):
            line = _line(chance, source, slot)
            yield line
            if chance.random() < 0.05:
                yield Line(slot, line.device, line.channel, _values(chance, slot))
        if chance.random() < 0.05:
            yield f"garbage {slot}"
    if chance.random() < 0.1:
        yield "garbage " * _MANY  # more bytes than the ledger itself keeps


def _line(chance: random.Random, source: str, slot: int) -> Line:
    kind = chance.random()
    device = chance.choice(devices(source))
    channel = chance.choice(CHANNELS)
    if kind < 0.05:
        device = _STRANGER
    elif kind < 0.15:
        device = late_device(source)
    elif kind < 0.18:
        channel = "9"
    return Line(slot, device, channel, _values(chance, slot))


def _values(chance: random.Random, slot: int) -> tuple[str, str]:
    return _value(chance, 1 + slot % 5), _value(chance, 21 + slot % 3)


def _value(chance: random.Random, base: int) -> str:
    """Mostly the same whenever it is sent; else another value, other digits, a blank, no number."""
    kind = chance.random()
    if kind < 0.10:
        return f"{base}.50"
    if kind < 0.17:
        return f"{base}" + chance.choice(("", ".0", ".000"))
    if kind < 0.24:
        return f"{base}" + chance.choice((".004", ".04", ".4", ".496"))
    if kind < 0.34:
        return BLANK
    if kind < 0.36:
        return "CAL"
    return f"{base}.00"


def write_plant(folder: Path) -> None:
    """Mappings of the invented plant, its registry, and what is imported into that later."""
    for source, method in SOURCES.items():
        text = MAPPING.format(source=source, method=method, blank=BLANK)
        (folder / f"{source}.toml").write_text(text, encoding="utf-8")
    early = [device for source in SOURCES for device in devices(source)]
    machine = {
        "sites": ["site,name,time_zone", "proof,Proof,UTC"],
        "assets": ["site,asset,name,service_state", "proof,M-1,Machine,in-service"],
        "members": [
            "site,asset,member,role,equipment_class",
            "proof,M-1,motor,driver,electric-motor",
        ],
    }
    _write_files(folder / "registry", machine | _mounted(early))
    _write_files(folder / "registry-late", _mounted(list(map(late_device, SOURCES))))
    day_two = str(Line(CORRECTED_SLOT, "", "", ("", ""))).split(",")[0].replace(" ", "T") + ":00Z"
    for name, wrong, right in (("corrected", _ALWAYS, day_two), ("put-right", day_two, _ALWAYS)):
        rows = [
            f"{row},{withdraw}"
            for source in SOURCES
            for start, withdraw in ((wrong, "true"), (right, "false"))
            for row in _mountings(corrected_device(source), start)
        ]
        files = {"mountings": [f"{_MOUNTING_COLUMNS},withdraw", *rows]}
        _write_files(folder / f"registry-{name}", files)


def _mounted(registered: list[str]) -> dict[str, list[str]]:
    return {
        "points": ["site,asset,position,member,bearing_housing,thrust_end"]
        + [f"proof,M-1,motor-{device},motor,true,false" for device in registered],
        "devices": ["device,kind,method"] + [f"{device},logger,wired" for device in registered],
        "mountings": [_MOUNTING_COLUMNS]
        + [row for device in registered for row in _mountings(device, _ALWAYS)],
    }


def _mountings(device: str, start: str) -> list[str]:
    return [
        f"{device},{channel},proof,M-1,motor-{device},{axis},{start},passed"
        for channel, axis in zip(CHANNELS, ("horizontal", "vertical"), strict=True)
    ]


def _write_files(folder: Path, files: dict[str, list[str]]) -> None:
    folder.mkdir(parents=True)
    for name, lines in files.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
