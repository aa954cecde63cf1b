"""Examples of packages, sources and mappings shown in the API's description; all invented."""

from __future__ import annotations

from typing import Any, Final

_COUNTS: Final[dict[str, Any]] = {
    "items": 96,
    "accepted": 95,
    "duplicate": 0,
    "revised": 0,
    "rejected": 1,
    "blank": 0,
    "rejected_by_reason": {"unknown-device": 1},
}
_LINKS: Final = {
    "package": "/v1/packages/417220000000012",
    "rejects": "/v1/packages/417220000000012/rejects",
}

RECEIPT_EXAMPLE: Final[dict[str, Any]] = {
    "package": 417220000000012,
    "repeated": False,
    "state": "received",
    "counts": None,
    "error": None,
    "links": _LINKS,
}

PACKAGE_EXAMPLE: Final[dict[str, Any]] = {
    "number": 417220000000012,
    "source": "cooling-edge",
    "file": "edge1_2025-11-08.senml",
    "bytes": 23117,
    "sha256": "9f2c1f7c0f5d3a6f9a7e1d0b4c8e2f6a5b3d7c9e1f0a2b4c6d8e0f1a3b5c7d9e",
    "mapping": "5f0c2f9a1b7d",
    "state": "committed-with-rejects",
    "received_at": "2025-11-14T06:00:02Z",
    "finished_at": "2025-11-14T06:00:33Z",
    "attempts": 1,
    "repeats": 0,
    "error": None,
    "not_measured": 0,
    "counts": _COUNTS,
    "links": _LINKS,
}

SOURCE_EXAMPLE: Final[dict[str, Any]] = {
    "source": "cooling-edge",
    "last_receipt": "2025-11-14T06:00:02Z",
    "interval_minutes": 60.0,
    "silent": False,
}

REPLAY_EXAMPLE: Final[dict[str, Any]] = {
    "packages": [],
    "source": "cooling-edge",
    "reason": "unknown-device",
}

TRIAL_EXAMPLE: Final[dict[str, Any]] = {
    "mapping": '[source]\nid = "fan-logger"\nadapter = "delimited"\nmethod = "wired"\n...',
    "file": "fan.csv",
    "content": "time;sensor;mm/s\n2025-11-13 10:00;F1;2.1\n",
    "content_base64": None,
}

_SENML: Final = [
    {"bn": "urn:dev:mac:0024befffe804ff1:", "bt": 1763114400, "n": "rms-x", "u": "mm/s", "v": 2.1}
]
SENT_EXAMPLES: Final[dict[str, Any]] = {
    "application/octet-stream": "time;sensor;mm/s\n2025-11-13 10:00;F1;2.1\n",
    "application/json": [{"sensor": "F1", "time": "2025-11-13T10:00:00Z", "rms": 2.1}],
    "application/x-ndjson": '{"sensor": "F1", "time": "2025-11-13T10:00:00Z", "rms": 2.1}\n',
    "application/senml+json": _SENML,
    "text/csv": "time;sensor;mm/s\n2025-11-13 10:00;F1;2.1\n",
    "text/plain": "2025-11-13 10:00 F1 2.1 mm/s\n",
}
"""Files as sources of several kinds may write them."""
