"""Invented packages with overlaps, copies, revisions, unknown devices and garbage, from a seed."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from pathlib import Path

MAPPING = """format_version = 1
name = "proof-{source}"

[source]
id = "{source}"
adapter = "delimited"
method = "wired"

[time]
from = "time"
zone = "UTC"

[record]
device = {{ from = "device" }}
channel = "1"
quantity = "velocity"
detector = "rms"
unit = "mm/s"
band = "10-1000Hz"

[[measure]]
from = "value"
"""

SOURCES = ("north", "south")
_DEVICES = ("a", "b", "c")
_STRANGER = "stranger"

Item = tuple[str, int, str]
"""Device, minute, value as printed; a garbage line has the device None's stand-in `""`."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One package: its source, file name, and items in file order."""

    source: str
    name: str
    items: tuple[Item, ...]

    @property
    def text(self) -> str:
        """The file as it is sent."""
        return "time,device,value\n" + "".join(_line(item) for item in self.items)


@dataclass(slots=True)
class World:
    """All packages of one round, in the order they are handed over; some are handed over twice."""

    sent: list[Sent] = field(default_factory=list)


def _line(item: Item) -> str:
    device, minute, value = item
    if not device:
        return f"garbage {minute}\n"
    clock = f"{minute // 60 % 24:02d}:{minute % 60:02d}"
    return f"2025-06-{1 + minute // 1440:02d} {clock},{device},{value}\n"


def make_world(seed: int, packages: int) -> World:
    """A round's packages: overlapping exports of three devices, some values revised."""
    chance = random.Random(seed)
    world = World()
    for number in range(packages):
        source = chance.choice(SOURCES)
        start = chance.randrange(0, 200)
        items = [_item(chance, source, start + step) for step in range(chance.randrange(5, 40))]
        world.sent.append(Sent(source, f"{source}-{number}.csv", tuple(items)))
    return world


def _item(chance: random.Random, source: str, minute: int) -> Item:
    kind = chance.random()
    if kind < 0.04:
        return ("", minute, "")
    device = _STRANGER if kind < 0.08 else f"{source}-{chance.choice(_DEVICES)}"
    value = 1 + minute % 7 + (0.5 if chance.random() < 0.12 else 0.0)
    return (device, minute, f"{value:.2f}")


def write_plant(folder: Path) -> None:
    """Registry and mappings of the invented plant."""
    registry = folder / "registry"
    registry.mkdir(parents=True)
    devices = [f"{source}-{device}" for source in SOURCES for device in _DEVICES]
    files = {
        "sites": ["site,name,time_zone", "proof,Proof,UTC"],
        "assets": ["site,asset,name,service_state", "proof,M-1,Machine,in-service"],
        "members": [
            "site,asset,member,role,equipment_class",
            "proof,M-1,motor,driver,electric-motor",
        ],
        "points": ["site,asset,position,member,bearing_housing,thrust_end"]
        + [f"proof,M-1,motor-{device},motor,true,false" for device in devices],
        "devices": ["device,kind,method"] + [f"{device},logger,wired" for device in devices],
        "mountings": ["device,channel,site,asset,position,axis,mounted_from,commissioning"]
        + [
            f"{device},1,proof,M-1,motor-{device},horizontal,2000-01-01T00:00:00Z,passed"
            for device in devices
        ],
    }
    for name, lines in files.items():
        (registry / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    for source in SOURCES:
        (folder / f"{source}.toml").write_text(MAPPING.format(source=source), encoding="utf-8")
