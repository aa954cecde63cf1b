"""What the machine refuses, told in one way: no room, no right, someone else at work.

Every library words the same refusal of the operating system differently; some
keep its number, some only its text. Here each becomes the error that says
where it happened and what helps. What is no refusal is left as it is: it may
be a fault of this program.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
from deltalake.exceptions import DeltaError

from warehouse.errors import (
    BusyError,
    DiskFullError,
    LedgerError,
    NoRightError,
    StoreError,
    WarehouseError,
)

GO_ON_WITHOUT = "put the newest one back; if it is lost, `mcw check --mend` goes on without it"
"""What helps where a ledger cannot be used, whatever is wrong with it."""

_NO_ROOM = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "this user's share of the disk is used up",
    errno.EFBIG: "a file may not become that large here",
}
_NO_RIGHT = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})
_BY_TEXT = {os.strerror(number): number for number in (*_NO_ROOM, *_NO_RIGHT)}
_NUMBER = re.compile(r"(?:os error|[Ee]rrno) (\d+)")
_NAMED_FILE = re.compile(r"""["'](/[^"'\n]+)["']""")
_ALMOST_NOTHING = 1_000_000
"""Free bytes below which a failed write is put down to the full disk."""


@contextmanager
def plain_refusals(place: Path) -> Iterator[None]:
    """What the machine refuses inside, as an error of ours; about `place` if no file is named."""
    try:
        yield
    except WarehouseError:
        raise
    except Exception as error:
        told = refusal(error, place)
        if told is None:
            raise
        raise told from error


def refusal(error: Exception, place: Path) -> StoreError | None:
    """The refusal an error of a library tells of; None where it tells of none."""
    if isinstance(error, sqlite3.Error):
        return _of_ledger(error, place)
    if isinstance(error, (MemoryError, duckdb.OutOfMemoryException)):
        return _no_memory(error, place)
    number = errno_of(error)
    where = _named(error) or place
    if number in _NO_ROOM:
        return _no_room(where, number)
    if number in _NO_RIGHT:
        return _no_right(where, number)
    if isinstance(error, duckdb.IOException) or (isinstance(error, DeltaError) and not number):
        return StoreError(where, _first_line(error), "run `mcw check`")
    if isinstance(error, (OSError, DeltaError)):
        why = os.strerror(number) if number else _first_line(error)
        return StoreError(where, why, "check that it is there, and rights and free space")
    return None


def errno_of(error: Exception) -> int | None:
    """The operating system's number of an error, from its attribute or its text."""
    number = getattr(error, "errno", None)
    if isinstance(number, int):
        return number
    text = str(error)
    if found := _NUMBER.search(text):
        return int(found[1])
    return next((number for words, number in _BY_TEXT.items() if words in text), None)


def _named(error: Exception) -> Path | None:
    """The file an error names."""
    if isinstance(error, OSError) and isinstance(error.filename, (str, Path)):
        # a copy names both; it is the one written to that finds no room
        second = error.filename2 if error.errno in _NO_ROOM else None
        return Path(second or error.filename)
    found = _NAMED_FILE.search(str(error))
    return Path(found[1]) if found else None


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]


def _no_room(place: Path, number: int) -> DiskFullError:
    return DiskFullError(
        place,
        f"{_NO_ROOM[number]}: {os.strerror(number)}",
        "raise that limit (`ulimit -f`)" if number == errno.EFBIG else "make room",
    )


def _free(place: Path) -> int | None:
    for folder in (place, *place.parents):
        try:
            return shutil.disk_usage(folder).free
        except OSError:
            continue
    return None


def _no_right(place: Path, number: int) -> NoRightError:
    if number == errno.EROFS:
        return NoRightError(
            place, os.strerror(number), "commands that read work; to write, mount it for writing"
        )
    return NoRightError(
        place,
        f"{os.strerror(number)} for this user{_user()}",
        "give this user the right to read and write it, or run as the user who has it",
    )


def _user() -> str:
    return f" (id {os.geteuid()})" if sys.platform != "win32" else ""


def _no_memory(error: Exception, place: Path) -> StoreError:
    if "offload" in str(error):
        return DiskFullError(
            place,
            "there is no room to put intermediate results",
            "make room, or let more memory be used (setting memory_limit_mb); "
            "then give the same command again",
        )
    return StoreError(
        place,
        "this needs more memory than it may use",
        "let more be used (setting memory_limit_mb), or ask for less at once",
    )


_WRITING_FAILED = frozenset(
    {
        sqlite3.SQLITE_IOERR_WRITE,
        sqlite3.SQLITE_IOERR_FSYNC,
        sqlite3.SQLITE_IOERR_DIR_FSYNC,
        sqlite3.SQLITE_IOERR_TRUNCATE,
        sqlite3.SQLITE_IOERR_SHMSIZE,
        sqlite3.SQLITE_IOERR_SHMOPEN,
    }
)


def _of_ledger(error: sqlite3.Error, place: Path) -> StoreError | None:
    if isinstance(error, (sqlite3.ProgrammingError, sqlite3.InterfaceError)):
        return None
    code = getattr(error, "sqlite_errorcode", 0)
    kind = code & 0xFF
    if kind == sqlite3.SQLITE_FULL:
        return _no_room(place, errno.ENOSPC)
    if code in _WRITING_FAILED and ((_free(place) or 0) < _ALMOST_NOTHING or _files_are_limited()):
        return _no_room(place, errno.EFBIG if _files_are_limited() else errno.ENOSPC)
    if kind in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM) or (
        kind == sqlite3.SQLITE_CANTOPEN and place.exists()
    ):
        return _no_right(place, errno.EROFS if _is_read_only(place) else errno.EACCES)
    if kind in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BusyError(
            place,
            "another program has held the ledger for a minute",
            "let it go on or end it (`mcw status` says who works here), then try again",
        )
    return LedgerError(place, f"the ledger cannot be used: {error}", GO_ON_WITHOUT)


def _is_read_only(place: Path) -> bool:
    if sys.platform == "win32":
        return False
    try:
        return bool(os.statvfs(place).f_flag & os.ST_RDONLY)
    except OSError:
        return False


def _files_are_limited() -> bool:
    """Whether this process may write files of a certain size only."""
    if sys.platform == "win32":
        return False
    import resource

    return resource.getrlimit(resource.RLIMIT_FSIZE)[0] != resource.RLIM_INFINITY
