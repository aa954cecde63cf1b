"""Readings of a limited package that the store has of another site: refused before all else.

The place is no part of what a reading is known by. Where a source says itself where its readings
belong, one that names another machine would end the reading of the first as its revision.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from schemas.identity import same_stream
from schemas.tables.readings import READINGS, SUPERSEDED
from warehouse.normalise import FileCounts
from warehouse.services.group_commit import Batch, overlapping
from warehouse.store.scan import create_scan

_REASON = "other-site"
_EVER = {"first": dt.datetime(1900, 1, 1), "last": dt.datetime(9999, 1, 1)}


def refuse_elsewhere(batch: Batch, counted: list[FileCounts]) -> list[FileCounts]:
    """Counts of normalised packages, without the readings that another site has."""
    first = batch.decodings[0]
    if first.sites is None or batch.run("any_named_places") == [(False,)]:
        return counted
    files = overlapping(batch, _EVER)
    if not files:
        return counted
    create_scan(batch.session, "stored_rows", READINGS, files)
    create_scan(batch.session, "superseded", SUPERSEDED, batch.store.table(SUPERSEDED).files())
    source = first.of_readings.source
    parameters = {"source": source.id, "method": source.method, "sites": sorted(first.sites)}
    batch.run("elsewhere", parameters, same_stream=same_stream("stored_rows", "spoken"))
    batch.run("repeated")
    return _without(counted, dict(batch.run("elsewhere_counts")))


def _without(counted: Sequence[FileCounts], refused: dict[int, int]) -> list[FileCounts]:
    return [
        replace(
            counts,
            candidates=counts.candidates - refused[file_no],
            rejected_by_reason={**counts.rejected_by_reason, _REASON: refused[file_no]},
        )
        if file_no in refused
        else counts
        for file_no, counts in enumerate(counted)
    ]
