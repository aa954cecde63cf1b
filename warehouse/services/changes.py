"""The changes feed: what the judge recorded, by its own numbers, never by a clock."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from schemas.tables.conditions import CONDITION_LOG
from warehouse.services.desk import Desk
from warehouse.services.serving import State
from warehouse.store.files import read_rows


@dataclass(frozen=True, slots=True)
class Changes:
    """Changes of a page, the number to go on behind, and whether there are more."""

    rows: list[dict[str, Any]]
    after: int
    more: bool


def changes_after(
    desk: Desk, state: State, after: int, limit: int, scopes: Collection[str],
    sites: Collection[str] | None = None,
) -> Changes:  # fmt: skip
    """Changes behind a number, at most `limit`, as of a published state.

    What filters leave out is passed over: `after` goes on behind it, so that an
    empty page gets on too.
    """
    version = state.snapshot.versions[CONDITION_LOG.name]
    with desk.places.one() as store:
        files = [
            file for file in store.table(CONDITION_LOG).files(version)
            if file.last_seq is None or file.last_seq > after
        ]  # fmt: skip
        every = read_rows(CONDITION_LOG, (file.path for file in files))
    every = every.filter(pc.greater(every["seq"], after)).sort_by("seq")
    seen = every.filter(pc.is_in(every["scope"], pa.array(sorted(scopes), pa.string())))
    for allowed in (desk.caller.sites, sites):
        if allowed is not None:
            seen = seen.filter(pc.is_in(seen["site"], pa.array(sorted(allowed), pa.string())))
    rows = seen.slice(0, limit).to_pylist()
    if seen.num_rows > limit:
        return Changes(rows, rows[-1]["seq"], more=True)
    last = pc.max(every["seq"]).as_py() if every.num_rows else after
    return Changes(rows, max(after, last), more=False)
