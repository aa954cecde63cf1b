"""A note beside the ledger of what it must know: which inbox it is, how far it came, where it lies.

A ledger copied over it, older or of another store, does not know what the note
says. The note is no record: lost or half-written it is made anew, and only less
is noticed then.
"""

from __future__ import annotations

import json
import os
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from warehouse.errors import ForeignLedgerError, OldLedgerError
from warehouse.refusals import GO_ON_WITHOUT

FILE_NAME = "seal.json"


@dataclass(frozen=True, slots=True)
class Seal:
    """The identity of an inbox, its highest package sequence, and the place of its folder."""

    inbox_id: str
    packages: int
    host: str
    place: str

    @classmethod
    def of(cls, folder: Path, inbox_id: str, packages: int) -> Seal:
        """The note of a ledger that lies in `folder` and is in order."""
        return cls(inbox_id, packages, socket.gethostname(), str(folder.resolve()))


def read_seal(folder: Path) -> Seal | None:
    """The note in `folder`; None where there is none, or it cannot be read."""
    with suppress(OSError, ValueError, TypeError):
        return Seal(**json.loads((folder / FILE_NAME).read_text(encoding="utf-8")))
    return None


def write_seal(folder: Path, seal: Seal) -> None:
    """Leave that note; not asked of the disk, and left out where there is no room."""
    making = folder / f"{FILE_NAME}.{os.getpid()}"
    with suppress(OSError):
        try:
            making.write_text(json.dumps(asdict(seal)), encoding="utf-8")
            making.replace(folder / FILE_NAME)
        finally:
            making.unlink(missing_ok=True)


def check_seal(folder: Path, inbox_id: str, packages: Callable[[], int]) -> None:
    """Refuse a ledger that does not know what the note says. Raises LedgerError.

    `packages` asks the ledger how many it received. It is asked after the note was read:
    the other way round, what others receive in between would be taken for lost.
    """
    seal = read_seal(folder)
    if seal is None:
        return
    if seal.inbox_id != inbox_id:
        raise foreign(folder)
    if (lacks := seal.packages - packages()) > 0:
        raise OldLedgerError(
            folder,
            f"the ledger is older than its inbox (it lacks the last {lacks} received)",
            GO_ON_WITHOUT,
        )


def foreign(folder: Path) -> ForeignLedgerError:
    """The error for the ledger of another store."""
    return ForeignLedgerError(
        folder,
        "the ledger is of another store",
        "put this store's own back; if it is lost, take this one away, and `mcw check --mend` "
        "makes a new one",
    )


def renew_seal(folder: Path, inbox_id: str, packages: int) -> None:
    """Leave a note of what the ledger knows now; a copied store stays known as a copy."""
    seal = Seal.of(folder, inbox_id, packages)
    before = read_seal(folder)
    if before and original_of(folder):
        seal = replace(seal, place=before.place)
    if seal != before:
        write_seal(folder, seal)


def original_of(folder: Path) -> str | None:
    """Where the store lies that this one is a copy of, as far as this machine can tell."""
    seal = read_seal(folder)
    if seal is None or seal.host != socket.gethostname() or seal.place == str(folder.resolve()):
        return None
    there = Path(seal.place)
    with suppress(OSError):
        other = read_seal(there)
        if other and other.inbox_id == seal.inbox_id and not there.samefile(folder):
            return str(there.parent)
    return None
