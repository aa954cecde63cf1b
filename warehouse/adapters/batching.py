"""Several files of one mapping decoded together: the tables `batch_records` and `batch_refused`."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb

from warehouse.adapters.base import Adapter, BatchAdapter, Decoding, create_batch
from warehouse.errors import SourceError
from warehouse.sql import load_sql

_PACKAGE = "warehouse.adapters"


def decode(
    adapter: Adapter, decodings: Sequence[Decoding], session: duckdb.DuckDBPyConnection
) -> dict[int, SourceError]:
    """Decode files into `batch_records` and `batch_refused`, each row with its `file_no`.

    All decodings share one mapping; `file_no` is the place among them. Returns
    what is wrong with each file that cannot be used; the others are all there.
    """
    if len(decodings) == 1:
        return _decode_one(adapter, decodings[0], session)
    if isinstance(adapter, BatchAdapter):
        return adapter.read_many(decodings, session)
    failed: dict[int, SourceError] = {}
    create_batch(session, decodings[0].mapping)
    for number, decoding in enumerate(decodings):
        try:
            adapter.read(decoding, session)
        except SourceError as error:
            failed[number] = error
        else:
            for statement in ("add_records", "add_refused"):
                session.execute(load_sql(_PACKAGE, statement), {"file_no": number})
    return failed


def _decode_one(
    adapter: Adapter, decoding: Decoding, session: duckdb.DuckDBPyConnection
) -> dict[int, SourceError]:
    try:
        adapter.read(decoding, session)
    except SourceError as error:
        create_batch(session, decoding.mapping)
        return {0: error}
    session.execute(load_sql(_PACKAGE, "only_file"))
    return {}
