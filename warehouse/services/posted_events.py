"""Maintenance events posted one by one or as a list: made a package like any other.

The bytes are written by us, the same for the same events, and read by a mapping
of this program. So receipts, refused items and lives are those of a file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from warehouse.event_mapping import parse_any_mapping
from warehouse.inbox import Delivery

_FILE = "events.json"
_BY_CODE = ("site", "asset", "member")


def events_delivery(source: str, events: Sequence[Mapping[str, Any]]) -> Delivery:
    """A package of these events of a source, each with the attributes of `docs/work.md`.

    All name their machine by `object`, or all by `site`, `asset` and `member`.
    """
    by_object = any(event.get("object") is not None for event in events)
    text = _mapping(source, by_object)
    stated = [{n: v for n, v in event.items() if v is not None} for event in events]
    told = json.dumps({"events": stated}, sort_keys=True, ensure_ascii=False, indent=1)
    mapping = parse_any_mapping(text, "posted events")
    return Delivery(Path(_FILE), mapping, text, told.encode(), _FILE)


@lru_cache(maxsize=100)
def _mapping(source: str, by_object: bool) -> str:
    """TOML of the mapping that reads posted events of a source."""
    shipped = (files("warehouse.services") / "posted_events.toml").read_text(encoding="utf-8")
    left_out = _BY_CODE if by_object else ("object",)
    lines = [
        line
        for line in shipped.splitlines()
        if not line.startswith(tuple(f"{n} =" for n in left_out))
    ]
    return "\n".join(lines).replace('"SOURCE"', json.dumps(source)) + "\n"
