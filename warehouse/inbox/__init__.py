"""The inbox: durable arrival of packages, and what became of each.

A package is (source, SHA-256 of the bytes, version of the mapping). The ledger
is a SQLite file on a local disk; payloads lie beside it, compressed.
"""

from warehouse.inbox.counts import Counts
from warehouse.inbox.ledger import Ledger
from warehouse.inbox.package import (
    Delivery,
    Finished,
    Group,
    Held,
    Job,
    Moment,
    Package,
    Receipt,
)

__all__ = [
    "Counts",
    "Delivery",
    "Finished",
    "Group",
    "Held",
    "Job",
    "Ledger",
    "Moment",
    "Package",
    "Receipt",
]
