"""Examples shown in the API's description: an invented machine."""

from __future__ import annotations

from typing import Any, Final

PROBLEM_EXAMPLE: Final[dict[str, Any]] = {
    "type": "/problems/not-found",
    "title": "Not found",
    "status": 404,
    "detail": "no asset 'raw-water/P-999' is registered here",
    "instance": "0f1c2b7e5d0c4b6f9a3e8d7c6b5a4f3e",
}

_SLUGS: Final = {
    400: ("cursor-invalid", "Cursor invalid", "the cursor is malformed"),
    401: ("not-authenticated", "Not authenticated",
          "a key is needed: Authorization: Bearer mcw_..."),
    403: ("not-allowed", "Not allowed", "this key lacks the scope read:readings"),
    404: ("not-found", "Not found", "no asset 'raw-water/P-999' is registered here"),
    406: ("not-acceptable", "Not acceptable",
          "none of what Accept names is to be had here; to be had: application/json (format=json)"),
    408: ("body-slow", "Body too slow", "nothing came for 60 s (setting body_seconds)"),
    409: ("request-under-way", "Request under way", "a request with this Idempotency-Key is "
          "being served"),
    410: ("snapshot-expired", "Snapshot expired",
          "a cursor holds for 24 hours; begin again without one"),
    412: ("precondition-failed", "Precondition failed",
          'the registry is at "registry-7", not at "registry-6"'),
    413: ("body-too-large", "Body too large", "the body is larger than 64 MB (setting body_mb)"),
    415: ("media-type-unsupported", "Media type unsupported",
          "Content-Encoding br is not taken; taken: gzip, zstd, identity"),
    422: ("invalid-request", "Invalid request",
          "/query/limit: Input should be greater than or equal to 1"),
    428: ("precondition-required", "Precondition required",
          "send the ETag of the registry in If-Match"),
    429: ("too-many-requests", "Too many requests",
          "this key may ask 6000 times a minute (setting key_rate)"),
    500: ("internal-error", "Internal error", "The server failed; this is a fault of the program "
          "or its set-up, not of the request."),
    503: ("not-ready", "Not ready", "No judged state has been published yet."),
}  # fmt: skip


def problem_example(status: int) -> dict[str, Any]:
    """A problem as it comes with that status."""
    slug, title, detail = _SLUGS[status]
    return {
        "type": f"/problems/{slug}",
        "title": title,
        "status": status,
        "detail": detail,
        "instance": "0f1c2b7e5d0c4b6f9a3e8d7c6b5a4f3e",
    }


CHANGE_EXAMPLE: Final[dict[str, Any]] = {
    "seq": 4711,
    "scope": "asset",
    "site": "raw-water",
    "asset": "P-104",
    "member": None,
    "position": None,
    "axis": None,
    "external_id": "FL-40028",
    "level_from": "normal",
    "level_to": "alert",
    "zone_from": "B",
    "zone_to": "C",
    "basis": "severity",
    "reason": "Velocity 5.82 mm/s rms at pump-nde axial is in zone C: above B/C 5.00, not above "
    "C/D 7.60 mm/s (ISO 10816-7:2009 category-I-over-200-kW, rigid support).",
    "measured_at": "2025-11-13T23:00:00Z",
    "judged_at": "2025-11-13T23:00:00Z",
}

LOOKUP_EXAMPLE: Final[dict[str, Any]] = {
    "assets": [{"site": "raw-water", "asset": "P-104"}],
    "external_ids": ["FL-40028", "EQ-700104"],
}

ASSET_EXAMPLE: Final[dict[str, Any]] = {
    "site": "raw-water",
    "asset": "P-104",
    "name": "Raw-water pump 4",
    "area": "pump-hall",
    "criticality": "A",
    "service_state": "in-service",
    "external_id": "FL-40028",
    "level": "alert",
    "zone": "C",
    "basis": "severity",
    "reason": "Velocity 5.82 mm/s rms at pump-nde axial is in zone C: above B/C 5.00, not above "
    "C/D 7.60 mm/s (ISO 10816-7:2009 category-I-over-200-kW, rigid support).",
    "next_step": "Verify by a second measurement within 7 days; if confirmed, plan work within "
    "30 days, under isolation and permit.",
    "since": "2025-10-15",
    "coverage": "normal",
    "measured_at": "2025-11-13T23:00:00Z",
    "stale_after": "2025-11-16T23:00:00Z",
    "links": {"condition": "/v1/assets/raw-water/P-104/condition"},
}

_JUDGED: Final[dict[str, Any]] = {
    "level": "alert",
    "zone": "C",
    "basis": "severity",
    "reason": "Velocity 5.10 mm/s rms at motor-de horizontal is in zone C: above B/C 4.50, not "
    "above C/D 7.10 mm/s (ISO 20816-3:2022 group-1, rigid support).",
    "next_step": "Verify by a second measurement within 7 days; if confirmed, plan work within "
    "30 days, under isolation and permit.",
    "caution": "Screening aid, not a machinery protection system and not a safety function.",
    "since": "2025-11-02",
    "last_level": None,
    "held_since": None,
    "observations": None,
    "stale": False,
    "evidence": {
        "member": "motor",
        "position": "motor-de",
        "axis": "horizontal",
        "quantity": "velocity",
        "detector": "rms",
        "band": "10-1000Hz",
        "value": 5.1,
        "unit": "mm/s",
        "boundaries": {"a_b": 2.3, "b_c": 4.5, "c_d": 7.1, "watch": 4.03, "alert": None},
        "baseline": 2.9,
        "running_state": "steady",
        "operating_bin": None,
        "distrust": None,
    },
    "limit": {
        "set": "iso-20816-3-2022",
        "group": "group-1",
        "edition": "ISO 20816-3:2022",
        "confidence": "V1",
        "verified": True,
        "support": "rigid",
        "assumed": None,
    },
    "trend": {
        "state": "level",
        "reason": "no significant rise or fall: +0.13 mm/s in 30 days (95 %: -0.16 to 0.37, "
        "from 30 daily values in 30 days)",
        "window_days": 30,
        "days": 30,
        "per_30_days": 0.13,
        "low": -0.16,
        "high": 0.37,
        "p": 0.31,
        "p_fleet": 0.88,
        "step_on": None,
        "step_size": None,
        "boundary": None,
        "boundary_days": None,
        "boundary_days_low": None,
        "boundary_days_high": None,
        "form": None,
    },
    "coverage": {
        "state": "normal",
        "measured_points": 1,
        "judgeable_points": 1,
        "blind_to": None,
    },
    "measured_at": "2025-11-13T23:00:00Z",
    "stale_after": "2025-11-16T23:00:00Z",
    "as_of": "2025-11-13T23:00:00Z",
}

CONDITION_EXAMPLE: Final[dict[str, Any]] = {
    **_JUDGED,
    "site": "raw-water",
    "asset": "P-104",
    "name": "Raw-water pump 4",
    "area": "pump-hall",
    "criticality": "A",
    "service_state": "in-service",
    "external_id": "FL-40028",
    "members": [{**_JUDGED, "member": "motor"}],
    "points": [{**_JUDGED, "member": "motor", "position": "motor-de", "axis": "horizontal"}],
    "snapshot": {
        "seq": 812,
        "published_at": "2025-11-13T23:00:04Z",
        "as_of": "2025-11-13T23:00:00Z",
        "versions": {
            "condition_current": 812,
            "condition_log": 97,
            "issued": 131,
            "readings": 815,
            "registry": 3,
            "rejects": 25,
            "superseded": 1,
        },
    },
}
