"""The changes feed: what the judge recorded, by its own numbers, never by a clock."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from schemas.tables.conditions import CONDITION_LOG
from warehouse.errors import AheadError
from warehouse.services.desk import Desk
from warehouse.services.serving import State
from warehouse.store.delta import DataFile
from warehouse.store.files import read_rows


@dataclass(frozen=True, slots=True)
class Changes:
    """Changes of a page, the number to go on behind, whether there are more, the newest number."""

    rows: list[dict[str, Any]]
    after: int
    more: bool
    newest: int


def changes_after(
    desk: Desk, state: State, after: int, limit: int, scopes: Collection[str],
    sites: Collection[str] | None = None,
) -> Changes:  # fmt: skip
    """Changes behind a number, at most `limit`, as of a published state.

    What filters leave out is passed over: `after` goes on behind it, so that an
    empty page gets on too. Raises AheadError where the log never came to that number.
    """
    version = state.snapshot.versions[CONDITION_LOG.name]
    with desk.places.one() as store:
        log = store.table(CONDITION_LOG)
        known = log.files(version)
        newest = _newest(known)
        # another process may have told of a state that this one is about to follow
        if after > newest and after > (highest := _newest(log.files())):
            raise AheadError(after, highest)
        files = [file for file in known if file.last_seq is None or file.last_seq > after]
        every = read_rows(CONDITION_LOG, (file.path for file in files))
    every = every.filter(pc.greater(every["seq"], after)).sort_by("seq")
    seen = every.filter(pc.is_in(every["scope"], pa.array(sorted(scopes), pa.string())))
    for allowed in (desk.caller.sites, sites):
        if allowed is not None:
            seen = seen.filter(pc.is_in(seen["site"], pa.array(sorted(allowed), pa.string())))
    rows = seen.slice(0, limit).to_pylist()
    if seen.num_rows > limit:
        return Changes(rows, rows[-1]["seq"], more=True, newest=newest)
    return Changes(rows, max(after, newest), more=False, newest=newest)


def _newest(files: Iterable[DataFile]) -> int:
    """The highest number in files of the log; 0 where there is none."""
    return max((file.last_seq or 0 for file in files), default=0)
