"""Examples of cases, maintenance events and push in the API's description: invented."""

from __future__ import annotations

from typing import Any, Final

_STANDING: Final[dict[str, Any]] = {
    "case_id": 8,
    "site": "raw-water",
    "asset": "P-104",
    "member": "pump",
    "basis": "severity",
    "state": "acknowledged",
    "level": "alert",
    "disposition": None,
    "until": None,
    "owner": "B. Example",
    "order_id": None,
}

_REASON: Final = (
    "Velocity 5.82 mm/s rms at pump-nde axial is in zone C: above B/C 5.00, not above C/D 7.60 "
    "mm/s (ISO 10816-7:2009 category-I-over-200-kW, rigid support)."
)

CASE_EXAMPLE: Final[dict[str, Any]] = {
    **_STANDING,
    "level_since": "2025-10-15T22:00:00Z",
    "worst_told": "alert",
    "opened_at": "2025-10-15T22:00:00Z",
    "cleared_at": None,
    "confirmed_by": None,
    "done_by": None,
    "verify_by": "2025-10-19T10:00:00Z",
    "plan_by": "2025-10-30T22:00:00Z",
    "summary": {
        "asset_name": "Raw-water pump 4",
        "area": "pump-hall",
        "asset_external_id": "FL-40028",
        "member_external_id": "EQ-104-2",
        "criticality": "A",
        "priority": 2,
        "evidence": _REASON,
        "condition_since": "2025-10-14",
        "position": "pump-nde",
        "axis": "axial",
        "value": 5.82,
        "unit": "mm/s",
        "limit_edition": "ISO 10816-7:2009",
        "confidence": "V2",
        "verified": True,
        "assumed": None,
        "distrust": None,
        "observations": None,
        "trend": "rising: +1.2 mm/s in 30 days",
        "blind_to": None,
        "action_class": "repeat",
        "respond_by": "2025-10-19T10:00:00Z",
        "overdue": False,
        "needs_outage": False,
        "bearing": None,
        "coupling": "direct",
        "area_classification": None,
        "confirmed": False,
        "next_step": "Verify by a second measurement within 7 days.",
    },
    "repairs": [],
    "events": [
        {
            "seq": 31,
            "kind": "opened",
            "happened_at": "2025-10-15T22:00:00Z",
            "notice": 12,
            "state": "new",
            "level": "alert",
            "level_since": "2025-10-15T22:00:00Z",
            "worst_told": "alert",
            "disposition": None,
            "until": None,
            "owner": None,
            "order_id": None,
            "person": None,
            "comment": None,
            "reason": _REASON,
            "limits_changed": None,
            "cause": "change",
            "cause_id": "8",
            "recorded_at": "2025-10-15T22:00:09Z",
        }
    ],
    "caution": "A notification, not an order.",
    "snapshot": {
        "seq": 812,
        "published_at": "2025-11-13T23:00:04Z",
        "as_of": "2025-11-13T23:00:00Z",
        "versions": {"case_events": 31},
    },
}

ACTION_EXAMPLE: Final[dict[str, Any]] = {
    "action": "acknowledge",
    "person": "A. Example",
    "owner": "B. Example",
}

SUPPRESSION_EXAMPLE: Final[dict[str, Any]] = {
    "action": "suppress",
    "site": "raw-water",
    "asset": "P-104",
    "member": "pump",
    "person": "A. Example",
    "until": "2026-02-01",
    "comment": "rebuilt in January",
}

NOTICE_EXAMPLE: Final[dict[str, Any]] = {
    "notice": 12,
    "case_id": 8,
    "kind": "opened",
    "happened_at": "2025-10-15T22:00:00Z",
    "site": "raw-water",
    "asset": "P-104",
    "member": "pump",
    "asset_external_id": "FL-40028",
    "member_external_id": None,
    "basis": "severity",
    "state": "new",
    "level": "alert",
    "level_since": "2025-10-15T22:00:00Z",
    "opened_at": "2025-10-15T22:00:00Z",
    "cleared_at": None,
    "disposition": None,
    "until": None,
    "owner": None,
    "order_id": None,
    "confirmed_by": None,
    "person": None,
    "comment": None,
    "reason": _REASON,
}

EVENTS_EXAMPLE: Final[dict[str, Any]] = {
    "source": "maintenance",
    "events": [
        {
            "event": "WO-4711",
            "version_at": "2025-11-02T15:00:00Z",
            "object": "FL-40028",
            "activity": "bearing",
            "type": "corrective",
            "failure": "potential",
            "started_at": "2025-11-02T06:00:00Z",
            "ended_at": "2025-11-02T14:30:00Z",
            "down_hours": 8.5,
        }
    ],
}

SUBSCRIPTION_EXAMPLE: Final[dict[str, Any]] = {
    "name": "maintenance",
    "url": "https://cmms.example.org/hooks/condition",
    "events": ["case"],
    "sites": ["raw-water"],
}
