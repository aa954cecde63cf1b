"""Several files of one mapping decoded together: the tables `batch_records` and `batch_refused`."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb

from warehouse.adapters.base import Adapter, BatchAdapter, Decoding, create_batch
from warehouse.errors import SourceError, UnreadableSourceError
from warehouse.sql import load_sql

_PACKAGE = "warehouse.adapters"
_NOT_THE_FILES_FAULT = (OSError, MemoryError, duckdb.OutOfMemoryException, duckdb.IOException)


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
        try:
            return adapter.read_many(decodings, session)
        except _NOT_THE_FILES_FAULT:
            raise
        except Exception:  # one of the files is at fault: reading one by one tells which
            pass
    failed: dict[int, SourceError] = {}
    create_batch(session, decodings[0].mapping)
    for number, decoding in enumerate(decodings):
        try:
            _read(adapter, decoding, session)
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
        _read(adapter, decoding, session)
    except SourceError as error:
        create_batch(session, decoding.mapping)
        return {0: error}
    session.execute(load_sql(_PACKAGE, "only_file"))
    return {}


def _read(adapter: Adapter, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
    """Read one file; a fault of the adapter makes this file unusable, and blocks no other.

    What the machine lacks (memory, disk) is not the file's fault and goes on upwards.
    """
    try:
        adapter.read(decoding, session)
    except (SourceError, *_NOT_THE_FILES_FAULT):
        raise
    except Exception as error:
        raise UnreadableSourceError(
            decoding.file,
            f"the adapter {adapter.name} failed on it: {type(error).__name__}: {error}",
            "this is a fault of the adapter; mend it, then replay the package by its number",
        ) from error
