"""Adapters: from the bytes of one source format to text records. Nothing is judged here.

An adapter reads one payload and fills two tables of the session it is given:

- `records(line, f0, f1, ...)`: one row a record, `line` counted from 1, and for
  each of `mapping.fields`, in that order, a text column. A field a record lacks
  is null. Text is kept as it stands: numbers, times and units are the
  normaliser's business.
- `refused(line, column_name, reason, detail, raw)`: what could not become a record.

Adapters are entry points of the group `mcw.adapters`; the built-in ones register
the same way as yours. `warehouse.adapters.contract` has the checks that each
must pass.
"""

from warehouse.adapters.base import (
    Adapter,
    BatchAdapter,
    Decoding,
    LineAdapter,
    create_batch,
    fill_records,
    fill_refused,
)
from warehouse.adapters.batching import decode
from warehouse.adapters.registered import adapter, adapters

__all__ = [
    "Adapter",
    "BatchAdapter",
    "Decoding",
    "LineAdapter",
    "adapter",
    "adapters",
    "create_batch",
    "decode",
    "fill_records",
    "fill_refused",
]
