"""Builders of usual machine trains, so that a site reads as a list of machines.

Figures of a healthy machine (high-frequency acceleration, temperature rise, shaft
height by power) are common practice, no source.
"""

from __future__ import annotations

from ingest_examples.generator.model import Asset, Duty, Member, Point, Shaft

RIGID = ("rigid", "rigid", "rigid")
ALWAYS = Duty()
UPRIGHT = ("rigid", "flexible", "flexible")
_HEIGHTS = ((4, 112), (7.5, 132), (15, 160), (22, 180), (30, 200), (45, 225), (55, 250))
_LARGE_HEIGHTS = ((90, 280), (200, 315), (355, 355), (560, 400), (1000, 450))


def shaft_height(power_kw: float) -> float:
    """Usual shaft height [mm] of a four-pole motor of this power [kW] (common practice)."""
    return next(h for p, h in (*_HEIGHTS, *_LARGE_HEIGHTS) if power_kw <= p)


def motor(
    power_kw: float,
    speed: float,
    *,
    vertical: bool = False,
    min_speed: float | None = None,
    drive: str = "direct",
    height_known: bool = True,
    support: tuple[str, str, str] | None = None,
) -> Member:
    """An electric motor; a lowest speed [/min] means that a frequency converter feeds it.

    A vertical machine is flexible in both radials (rule M5).
    """
    assumed = () if height_known else ("support_horizontal", "support_vertical")
    return Member(
        "motor",
        "driver",
        "electric-motor",
        power_kw,
        speed,
        shaft_height(power_kw) if height_known else None,
        support or (UPRIGHT if vertical else RIGID),
        min_speed=min_speed,
        max_speed=speed if min_speed else None,
        drive=drive,
        supply="frequency-converter" if min_speed else "mains",
        assumed=assumed,
    )


def _size(power_kw: float) -> int:
    """Bearing size code (bore in mm over 5) usual at this power [kW] (common practice)."""
    sizes = ((4, 6), (7.5, 8), (15, 9), (22, 10), (30, 12), (55, 13), (90, 16), (200, 19))
    return next((size for power, size in sizes if power_kw <= power), 22)


def motor_points(
    velocity: float, power_kw: float, speed: float, *, vertical: bool = False
) -> tuple[Point, ...]:
    """Both bearings of a motor; velocity [mm/s] is that of the drive end (rule M6 names)."""
    hf = 1.6 * (speed / 1500) ** 0.8
    far, near = ("motor-upper", "motor-lower") if vertical else ("motor-nde", "motor-de")
    bearing = f"63{_size(power_kw):02d}"
    return (
        Point(
            far,
            "motor",
            "main",
            velocity * 0.9,
            hf * 0.8,
            26.0,
            thrust_end=vertical,
            bearing=bearing,
        ),
        Point(near, "motor", "main", velocity, hf, 30.0, bearing=bearing),
    )


def driven_points(
    member: str,
    power_kw: float,
    velocity: float,
    hf: float,
    *,
    shaft: str = "main",
    rise: float = 24.0,
    kurtosis: float = 3.05,
    rolling: bool = True,
) -> tuple[Point, ...]:
    """Both bearings of a driven machine, thrust at the far end; mm/s, m/s2, K.

    Without rolling bearings (fast turbo machines) no designation is given.
    """
    near, far = (f"{kind}{_size(power_kw):02d}" if rolling else "" for kind in ("NU3", "73"))
    return (
        Point(
            f"{member}-de",
            member,
            shaft,
            velocity,
            hf,
            rise,
            bearing=near,
            kurtosis=kurtosis,
        ),
        Point(
            f"{member}-nde",
            member,
            shaft,
            velocity * 0.9,
            hf * 0.9,
            rise * 1.1,
            thrust_end=True,
            bearing=far,
            kurtosis=kurtosis,
        ),
    )


def pump(
    site: str,
    tag: str,
    name: str,
    area: str,
    criticality: str,
    power_kw: float,
    speed: float,
    category: str,
    levels: tuple[float, float],
    *,
    duty: Duty = ALWAYS,
    twin: str = "",
    vertical: bool = False,
    min_speed: float | None = None,
    service_state: str = "in-service",
    height_known: bool = True,
    vanes: int = 6,
) -> Asset:
    """A motor and a rotodynamic pump on one shaft; `levels` = healthy mm/s (motor, pump)."""
    kind = "vertical suspended" if vertical else "horizontal"
    member = Member(
        "pump",
        "driven",
        "centrifugal-pump",
        power_kw,
        speed,
        support=UPRIGHT if vertical else RIGID,
        pump_type=kind,
        pump_category=category,
        vane_count=vanes,
        min_speed=min_speed,
        max_speed=speed if min_speed else None,
        assumed=() if height_known else ("pump_category",),
    )
    hf = 2.2 * (speed / 1500) ** 0.8
    points = motor_points(levels[0], power_kw, speed, vertical=vertical)
    if vertical:
        points += (Point("pump-upper", "pump", "main", levels[1], hf, 18.0),)
    else:
        points += driven_points("pump", power_kw, levels[1], hf)
    driver = motor(power_kw, speed, vertical=vertical, min_speed=min_speed,
                   height_known=height_known)  # fmt: skip
    return Asset(
        site, tag, name, area, criticality, (driver, member), (Shaft("main", 1.0),), points,
        duty, service_state, twin,
    )  # fmt: skip


def fan(
    site: str,
    tag: str,
    name: str,
    area: str,
    criticality: str,
    power_kw: float,
    speed: float,
    fan_speed: float,
    levels: tuple[float, float],
    *,
    duty: Duty = ALWAYS,
    support: tuple[str, str, str] = RIGID,
) -> Asset:
    """A motor and a fan, by belt where their speeds [/min] differ (rule M3: slip assumed)."""
    belt = fan_speed != speed
    drive = "belt" if belt else "direct"
    driver = motor(power_kw, speed, drive=drive, support=support)
    driven = Member(
        "fan", "driven", "fan", power_kw, fan_speed, support=support, vane_count=10, drive=drive
    )
    shafts: tuple[Shaft, ...] = (Shaft("main", 1.0),)
    if belt:
        shafts += (Shaft("fan", round(fan_speed / speed, 4), "main", ("ratio",)),)
    points = motor_points(levels[0], power_kw, speed) + driven_points(
        "fan", power_kw, levels[1], 1.2, shaft="fan" if belt else "main", rise=18.0
    )
    return Asset(site, tag, name, area, criticality, (driver, driven), shafts, points, duty)


def geared(
    site: str,
    tag: str,
    name: str,
    area: str,
    criticality: str,
    power_kw: float,
    speed: float,
    out_speed: float,
    driven: tuple[str, str],
    levels: tuple[float, float, float],
    *,
    duty: Duty = ALWAYS,
    min_speed: float | None = None,
) -> Asset:
    """A motor, a gear unit and `driven` (member, class); mm/s of motor, gear, driven."""
    code, equipment_class = driven
    ratio = round(out_speed / speed, 5)
    low = min_speed * ratio if min_speed else None
    members = (
        motor(power_kw, speed, min_speed=min_speed, drive="gear"),
        Member("gear", "gear", "gearbox", power_kw, speed, drive="gear",
               assumed=("rated_power_kw",)),
        Member(
            code, "driven", equipment_class, power_kw, out_speed, drive="gear",
            min_speed=low, max_speed=out_speed if low else None,
        ),
    )  # fmt: skip
    hf_driven = 3.5 if out_speed > speed else 0.8
    points = (
        *motor_points(levels[0], power_kw, speed),
        Point("gear-in", "gear", "main", levels[1], 4.5, 32.0, bearing="22316"),
        Point("gear-out", "gear", "output", levels[1] * 0.9, 3.6, 30.0, thrust_end=True,
              bearing="22322"),
        *driven_points(
            code, power_kw, levels[2], hf_driven, shaft="output", rolling=out_speed < 4000
        ),
    )  # fmt: skip
    shafts = (Shaft("main", 1.0), Shaft("output", ratio, "main"))
    return Asset(site, tag, name, area, criticality, members, shafts, points, duty)


def machine(
    site: str,
    tag: str,
    name: str,
    area: str,
    criticality: str,
    power_kw: float,
    speed: float,
    driven: tuple[str, str],
    levels: tuple[float, float],
    *,
    duty: Duty = ALWAYS,
    driven_speed: float | None = None,
    kurtosis: float = 3.05,
    hf: float = 3.0,
    service_state: str = "in-service",
    twin: str = "",
) -> Asset:
    """A motor and any other driven machine, by belt where a driven speed [/min] is given."""
    code, equipment_class = driven
    out = driven_speed or speed
    drive = "belt" if driven_speed else "direct"
    shafts: tuple[Shaft, ...] = (Shaft("main", 1.0),)
    if driven_speed:
        shafts += (Shaft("driven", round(out / speed, 4), "main", ("ratio",)),)
    members = (
        motor(power_kw, speed, drive=drive),
        Member(code, "driven", equipment_class, power_kw, out, drive=drive),
    )
    points = motor_points(levels[0], power_kw, speed) + driven_points(
        code, power_kw, levels[1], hf, shaft="driven" if driven_speed else "main", rise=38.0,
        kurtosis=kurtosis,
    )  # fmt: skip
    if equipment_class.startswith("reciprocating"):
        points += (Point("frame", code, shafts[-1].shaft, levels[1] * 0.8, hf, 30.0,
                         bearing_housing=False, kurtosis=kurtosis),)  # fmt: skip
    return Asset(
        site, tag, name, area, criticality, members, shafts, points, duty, service_state, twin
    )


def station(site: str, tag: str, name: str, area: str, position: str) -> Asset:
    """A measuring station that is no machine (class `environment`)."""
    member = Member("station", "station", "environment", None, None, support=("", "", ""), drive="")
    point = Point(position, "station", "", 0.0, 0.0, 0.0, bearing_housing=False)
    return Asset(site, tag, name, area, "C", (member,), (), (point,))
