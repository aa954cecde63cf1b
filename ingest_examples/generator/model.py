"""The words of the scenario: sites, assets, members, points, and what measures them.

Plain frozen records without behaviour. Times inside the scenario are fractions of
the generated period (0 = start, 1 = end), so that any length can be made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Pattern = Literal[
    "continuous", "alternate-a", "alternate-b", "daytime", "cycling", "standby", "demand-speed",
    "batch",
]  # fmt: skip
"""How a machine runs: see `schedule`."""

HORIZONTAL_AXES = ("axial", "horizontal", "vertical")
VERTICAL_AXES = ("axial", "radial-in-line", "radial-cross")


@dataclass(frozen=True, slots=True)
class Site:
    """A plant location. `ambient_cel` is the mean air temperature at the start, in Cel.

    It falls by `season_drop_k` in `season_days`, and comes back in as many.
    """

    site: str
    name: str
    time_zone: str
    ambient_cel: float
    season_drop_k: float
    day_swing_k: float
    season_days: float = 90


@dataclass(frozen=True, slots=True)
class Duty:
    """How an asset runs. `outages` are (fraction, hours); `stops_at` ends running for good."""

    pattern: Pattern = "continuous"
    load: float = 0.75
    outages: tuple[tuple[float, float], ...] = ()
    stops_at: float | None = None


@dataclass(frozen=True, slots=True)
class Member:
    """A machine of a train. Power in kW, speeds in /min, shaft height in mm."""

    member: str
    role: str
    equipment_class: str
    power_kw: float | None
    rated_speed: float | None
    shaft_height_mm: float | None = None
    support: tuple[str, str, str] = ("rigid", "rigid", "rigid")
    pump_type: str = ""
    pump_category: str = ""
    vane_count: int | None = None
    min_speed: float | None = None
    max_speed: float | None = None
    drive: str = "direct"
    supply: str = ""
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shaft:
    """A shaft, and its speed over that of the reference shaft [1]."""

    shaft: str
    ratio: float
    reference: str = ""
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Point:
    """A position and how it behaves when healthy, at rated speed and usual load.

    `velocity` mm/s rms 10-1000 Hz, `acceleration` m/s2 rms up to 5 or 10 kHz (both in the
    strongest axis), `rise` K of housing temperature over ambient at full load.
    """

    position: str
    member: str
    shaft: str
    velocity: float
    acceleration: float
    rise: float
    thrust_end: bool = False
    bearing_housing: bool = True
    bearing: str = ""
    kurtosis: float = 3.05


@dataclass(frozen=True, slots=True)
class Asset:
    """A machine train. `twin` shakes it through the floor when it stands."""

    site: str
    asset: str
    name: str
    area: str
    criticality: str
    members: tuple[Member, ...]
    shafts: tuple[Shaft, ...]
    points: tuple[Point, ...]
    duty: Duty = Duty()
    service_state: str = "in-service"
    twin: str = ""


@dataclass(frozen=True, slots=True)
class Mount:
    """Where a wireless sensor sits, from and to as fractions of the period."""

    asset: str
    position: str
    axes: tuple[str, str, str] = HORIZONTAL_AXES
    begin: float | None = None
    end: float | None = None
    method: str = "adhesive"
    commissioning: str = "passed"


@dataclass(frozen=True, slots=True)
class Sensor:
    """A wireless three-axis sensor; it knows its id and nothing of the plant."""

    device: str
    source: str
    mounts: tuple[Mount, ...]
    dies_at: float | None = None
    unregistered_channels: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a wired logger's file, in the unit and digits it prints."""

    header: str
    channel: str
    asset: str
    position: str
    axis: str
    quantity: str
    per_canonical: float
    digits: int


@dataclass(frozen=True, slots=True)
class Logger:
    """A wired logger: how it writes its time and its numbers."""

    device: str
    source: str
    site: str
    columns: tuple[Column, ...]
    time_format: str
    encoding: str
    monthly: bool


@dataclass(frozen=True, slots=True)
class EdgeSensor:
    """A sensor behind an edge box; `channels` are (channel, quantity, axis)."""

    device: str
    box: str
    asset: str
    position: str
    channels: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop of a walked route."""

    stop: str
    asset: str
    position: str
    axis: str
    takes_temperature: bool
    location: str


@dataclass(frozen=True, slots=True)
class Route:
    """A walked route and the meter carried on it."""

    route: str
    source: str
    site: str
    meter: str
    interval_days: int
    first_day: int
    stops: tuple[Stop, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """A planted condition. `size` is in the unit its kind uses: see `faults`.

    What is mended at that fraction of the period is as good as new from then on.
    """

    kind: str
    asset: str
    positions: tuple[str, ...]
    begin: float
    end: float
    size: float
    detail: str
    expect: str
    mended_at: float | None = None


@dataclass(frozen=True, slots=True)
class Unit:
    """A serial number, and its stays: (asset, member, from, to) as fractions."""

    serial: str
    equipment_class: str
    description: str
    bearing_de: str
    bearing_nde: str
    stays: tuple[tuple[str, str, float | None, float | None], ...]


@dataclass(frozen=True, slots=True)
class Plant:
    """The whole invented plant group."""

    sites: tuple[Site, ...]
    assets: tuple[Asset, ...]
    sensors: tuple[Sensor, ...]
    loggers: tuple[Logger, ...]
    edge_sensors: tuple[EdgeSensor, ...]
    routes: tuple[Route, ...]
    faults: tuple[Fault, ...]
    units: tuple[Unit, ...]

    def asset(self, tag: str) -> Asset:
        """The asset of this tag; tags of the scenario are unique over all sites."""
        return next(a for a in self.assets if a.asset == tag)

    def site(self, code: str) -> Site:
        """The site of this code."""
        return next(s for s in self.sites if s.site == code)
