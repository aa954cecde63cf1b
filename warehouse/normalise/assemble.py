"""From narrow rows and their streams to rows of the `readings` table.

What is constant along a stream (some fifteen columns) is never spelt out: each
column becomes a dictionary array, its indices looked up by stream number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pyarrow as pa

from schemas.tables.readings import READINGS
from warehouse.adapters import Decoding

_QUALITY = (
    ("good", None),
    ("bad", "over-range"),
    ("suspect", "provisional-mounting"),
    ("suspect", "implausible"),
)
"""Meaning of the quality numbers of `items`: quality and reason."""


@dataclass(frozen=True, slots=True)
class Slice:
    """Readings of one partition, sorted, and the partition they belong to."""

    partition: dict[str, str]
    rows: pa.Table


def assemble(items: pa.Table, streams: pa.Table, decodings: Sequence[Decoding]) -> pa.Table:
    """Rows of `readings` from narrow rows (see stored_items.sql) and streams (streams.sql)."""
    mapping = decodings[0].of_readings
    files = items.column("file_no").combine_chunks().to_numpy()
    numbers = items.column("stream_no").combine_chunks().to_numpy() - 1
    quality = items.column("quality").combine_chunks().to_numpy()
    columns: dict[str, pa.Array | pa.ChunkedArray] = {
        name: _by_stream(streams.column(name), numbers)
        for name in streams.column_names
        if name != "stream_no"
    }
    constants = {
        "source": mapping.source.id,
        "method": mapping.source.method,
        "ts_source": mapping.time.clock,
        "ts_precision": mapping.time.precision,
        "mapping": mapping.version,
    }
    columns |= {name: _constant(value, len(numbers)) for name, value in constants.items()}
    columns["quality"] = _lookup([word for word, _ in _QUALITY], quality)
    columns["reason"] = _lookup([reason for _, reason in _QUALITY], quality)
    packages = np.array([decoding.package for decoding in decodings])
    columns["package"] = pa.array(packages[files], pa.int64())
    received = pa.array([d.received_at for d in decodings], pa.timestamp("us", "UTC"))
    columns["received_at"] = received.take(pa.array(files))
    for name in ("ts", "issued_at"):
        columns[name] = items.column(name).cast(pa.timestamp("us")).cast(pa.timestamp("us", "UTC"))
    for name in ("take", "sequence", "note", "value", "source_value", "resolution", "row"):
        columns[name] = items.column(name)
    return pa.table({name: columns[name] for name in READINGS.column_names})


def _by_stream(words: pa.ChunkedArray, numbers: np.ndarray) -> pa.DictionaryArray:
    encoded = words.combine_chunks().dictionary_encode()
    indices = encoded.indices.take(pa.array(numbers))
    return pa.DictionaryArray.from_arrays(indices, encoded.dictionary)


def _lookup(words: list[str | None], numbers: np.ndarray) -> pa.DictionaryArray:
    return _by_stream(pa.chunked_array([pa.array(words, pa.string())]), numbers)


def _constant(word: str, length: int) -> pa.DictionaryArray:
    return pa.DictionaryArray.from_arrays(np.zeros(length, np.int8), pa.array([word]))


def partitions(rows: pa.Table) -> Iterator[Slice]:
    """Cut sorted rows where the site or the month (UTC) changes."""
    if not rows.num_rows:
        return
    sites = rows.column("site").combine_chunks()
    ts = rows.column("ts").combine_chunks().cast(pa.timestamp("us"))
    months = ts.to_numpy().astype("datetime64[M]")
    codes = sites.indices.to_numpy()
    change = (codes[1:] != codes[:-1]) | (months[1:] != months[:-1])
    edges = [0, *(np.flatnonzero(change) + 1).tolist(), rows.num_rows]
    for start, stop in pairwise(edges):
        partition = {"p_site": sites[start].as_py(), "p_month": str(months[start])}
        yield Slice(partition, rows.slice(start, stop - start))
