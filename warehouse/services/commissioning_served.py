"""How the commissioning of new and moved sensors stands, for one caller. As it is now."""

from __future__ import annotations

from typing import Any

import pyarrow as pa

from schemas.tables.registry import MOUNTINGS
from warehouse.errors import NotFoundError
from warehouse.services.commissioning import list_mountings, show_mounting
from warehouse.services.desk import Desk
from warehouse.services.exporting import described_by

Row = dict[str, Any]
_OPEN = pa.field("open_checks", pa.string())


def mountings_table(desk: Desk, every: bool, sites: list[str] | None) -> pa.Table:
    """Mountings that are provisional and what is open; with `every` all that are on."""
    with desk.places.one() as store:
        rows = list_mountings(store, every)
    for allowed in (desk.caller.sites, sites):
        rows = [row for row in rows if allowed is None or row["site"] in allowed]
    told = [row | {"open_checks": ", ".join(row["open"]) or None} for row in rows]
    table = pa.Table.from_pylist(told, pa.schema([*MOUNTINGS.arrow, _OPEN]))
    return described_by(MOUNTINGS, table)


def mounting_of(desk: Desk, device: str, channel: str) -> Row:
    """What `show_mounting` gives. Raises NotFoundError, also for another's site."""
    with desk.places.one() as store:
        found = show_mounting(store, device, channel)
    if desk.caller.sites is not None and found["mounting"]["site"] not in desk.caller.sites:
        raise NotFoundError("mounting of channel", f"{device} {channel}")
    return found
