"""Cases and conditions as they were told, for the views that stand on them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.warehouse.views.plant import AS_OF, Plant

PUMP = {"site": "s1", "asset": "P-101", "member": "pump"}


def ago(days: float) -> Any:
    """A moment so many days before AS_OF."""
    return AS_OF - timedelta(days=days)


def tell(plant: Plant, scope: str = "member", **values: Any) -> Plant:
    """A judged condition; the pump of P-101 in alert unless said otherwise."""
    place = PUMP if scope == "member" else {k: v for k, v in PUMP.items() if k != "member"}
    plant.told.append(
        {
            "scope": scope, "level": "alert", "basis": "severity", "reason": "Told.",
            "evidence_position": "pump-de", "evidence_axis": "horizontal", "quantity": "velocity",
            "detector": "rms", "value": 5.5, "unit": "mm/s", "boundary_b_c": 5.1,
            "boundary_c_d": 8.5, "measured_at": ago(0.1), "as_of": AS_OF, "next_step": "Look.",
            "caution": "Screening aid.",
        } | place | values
    )  # fmt: skip
    return plant


def happen(plant: Plant, kind: str, days_ago: float, case: int = 1, **values: Any) -> Plant:
    """One more thing that happened to a case; what is not said stays as it was."""
    before = [row for row in plant.case_events if row["case_id"] == case]
    at = ago(days_ago)
    first = {
        "case_id": case, "basis": "severity", "state": "new", "level": "alert",
        "level_since": at, "worst_told": "alert", "opened_at": at, "cause": "change",
        "reason": "Told.",
    } | PUMP  # fmt: skip
    stays = before[-1] if before else first
    plant.case_events.append(
        stays
        | {"seq": len(plant.case_events) + 1, "kind": kind, "happened_at": at, "recorded_at": at}
        | values
    )
    return plant
