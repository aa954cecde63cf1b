"""Rows of the limit tables, and one machine with one reading, for the checks of limits."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from tests.warehouse.views.plant import Plant
from warehouse.limits import load_limits

_LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)

HP_KW = 0.74569987
"""Mechanical horsepower in kW, typed here again: 745.69987 W."""


def rows(table: str, **wanted: Any) -> list[dict[str, Any]]:
    """Rows of a limit table with those values."""
    found: list[dict[str, Any]] = load_limits()[table].to_pylist()
    return [row for row in found if all(row[key] == value for key, value in wanted.items())]


def boundaries(table: str = "limit_rows", **wanted: Any) -> tuple[float | None, ...]:
    """Lower, middle and upper boundary of the one row with those values."""
    (row,) = rows(table, **wanted)
    return row["lower"], row["middle"], row["upper"]


def machine(equipment_class: str, power_kw: float | None, **values: Any) -> Plant:
    """A plant with one machine and one bearing housing, thrust bearing, 1480 r/min."""
    plant = Plant().add("sites", site="s1", name="One", time_zone="UTC")
    plant.add("assets", site="s1", asset="M-1", name="M", service_state="in-service")
    stated = {
        "site": "s1",
        "asset": "M-1",
        "member": "m",
        "role": "driver",
        "equipment_class": equipment_class,
        "rated_power_kw": power_kw,
        "rated_speed": 1480.0,
    }
    plant.add("members", **stated | values)
    return plant.point("M-1", "m", "m-de", thrust_end=True)


def assigned(plant: Plant, limit_set: str, **values: Any) -> Plant:
    """The machine with a limit set given by hand."""
    stated = {"site": "s1", "asset": "M-1", "member": "m", "assigned_from": _LONG_AGO}
    return plant.add(
        "limit_assignments",
        **stated | {"limit_set": limit_set, "assigned_by": "N. Obody", "reason": "agreed"} | values,
    )


def judged(plant: Plant, value: float, **values: Any) -> dict[str, Any]:
    """The machine's judged condition after one reading at its drive end, horizontal."""
    plant.read(value, **{"asset": "M-1", "position": "m-de"} | values)
    return plant.condition("member", member="m")


def limits(plant: Plant, direction: str = "horizontal") -> dict[str, Any]:
    """What the rules choose for the machine in one direction."""
    (row,) = [row for row in plant.view("members_limits") if row["direction"] == direction]
    return row
