"""A file handed to a ledger, and the bytes it keeps of it."""

from __future__ import annotations

from pathlib import Path

from tests.warehouse.services.small_plant import MAPPING
from warehouse.inbox import Ledger
from warehouse.mapping import parse_mapping

SMALL_MAPPING = parse_mapping(MAPPING, "logger.toml")


def received(ledger: Ledger, folder: Path, content: bytes) -> int:
    """Have a file of that content received; its package number."""
    path = folder / "arrival.bin"
    path.write_bytes(content)
    return ledger.receive(path, SMALL_MAPPING, MAPPING).package


def kept(ledger: Ledger, number: int) -> bytes:
    """The bytes of a package as the ledger gives them back."""
    with ledger.payloads.open([ledger.package(number)]) as (path,):
        return path.read_bytes()
