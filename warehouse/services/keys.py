"""API keys: made, listed, rotated, revoked; checked at every request.

A key is `mcw_ID_SECRET`. The secret is 256 random bits and is told once; kept
is its SHA-256. A slow password hash would buy nothing: nobody guesses 256
bits. They lie in `HOME/doors/keys.sqlite`, apart from the dataset.
"""

from __future__ import annotations

import datetime as dt
import getpass
import hashlib
import hmac
import os
import re
import secrets
import sqlite3
import time
from collections.abc import Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from typing import Any

from warehouse import clock
from warehouse.access import SCOPES, Caller, unknown_scopes
from warehouse.errors import NotFoundError, SettingsError, WarehouseError
from warehouse.refusals import plain_refusals
from warehouse.sql import load_statements
from warehouse.store import Store

_SQL = load_statements("warehouse.services", "keys")
_FORM = re.compile(r"mcw_([A-Za-z0-9]{8})_([A-Za-z0-9_-]{43})")
_LOOK_SECONDS = 1.0
_USED_EVERY = dt.timedelta(hours=1)
LONGEST_DAYS = 3650
"""Days; no key lives longer."""


@dataclass(frozen=True, slots=True)
class Key:
    """A key as it is listed: all but its secret."""

    id: str
    name: str
    sha256: bytes
    scopes: frozenset[str]
    sites: frozenset[str] | None
    sources: frozenset[str] | None
    created_at: dt.datetime
    created_by: str
    expires_at: dt.datetime
    revoked_at: dt.datetime | None
    replaces: str | None
    last_used: dt.datetime | None

    def state(self, now: dt.datetime) -> str:
        """`valid`, `expired` or `revoked`."""
        if self.revoked_at is not None:
            return "revoked"
        return "valid" if now < self.expires_at else "expired"

    @property
    def caller(self) -> Caller:
        """Who asks with it."""
        return Caller(f"key {self.id}", self.scopes, self.sites, self.sources)


@dataclass(frozen=True, slots=True)
class NewKey:
    """A key that was just made; `text` is told once and kept nowhere."""

    key: Key
    text: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a new key is to be good for; no sites: all sites, no sources: see `Caller`."""

    name: str
    scopes: tuple[str, ...]
    sites: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    days: int = 365

    def faults(self) -> list[str]:
        """Everything that is wrong with it."""
        told = [f"scope {name!r} is none; allowed: {', '.join(SCOPES)}"
                for name in unknown_scopes(self.scopes)]  # fmt: skip
        if not self.scopes:
            told.append(f"a key needs a scope; allowed: {', '.join(SCOPES)}")
        if not 1 <= self.days <= LONGEST_DAYS:
            told.append(f"days: {self.days} is not allowed; 1 to {LONGEST_DAYS} are")
        if not self.name.strip():
            told.append("a key needs a name, such as that of the system it is for")
        return told


class Keyring:
    """The keys of one store. Any thread may ask it; a change is seen within a second."""

    def __init__(self, store: Store) -> None:
        self._file = store.home / "doors" / "keys.sqlite"
        self._known: Mapping[str, Key] = {}
        self._changed: tuple[int, int] | None = None
        self._looked = 0.0
        self._noted: dict[str, dt.datetime] = {}

    def add(self, wanted: Wanted, replaces: str | None = None) -> NewKey:
        """A new key. Raises SettingsError with every fault of what is wanted."""
        if faults := wanted.faults():
            raise SettingsError(faults, "mcw keys")
        secret = secrets.token_urlsafe(32)
        number = "".join(secrets.choice(_LETTERS) for _ in range(8))
        now = clock.now()
        row = {
            "id": number,
            "name": wanted.name,
            "sha256": _digest(secret),
            "scopes": " ".join(sorted(set(wanted.scopes))),
            "sites": "\n".join(sorted(set(wanted.sites))) or None,
            "sources": "\n".join(sorted(set(wanted.sources))) or None,
            "created_at": now.isoformat(),
            "created_by": _user(),
            "expires_at": (now + dt.timedelta(days=wanted.days)).isoformat(),
            "replaces": replaces,
        }
        self._write("insert", row)
        return NewKey(self.key(number), f"mcw_{number}_{secret}")

    def rotate(self, number: str, overlap: dt.timedelta, days: int = 365) -> NewKey:
        """A new key for the same; the old one ends after `overlap`. Raises NotFoundError."""
        old = self.key(number)
        wanted = Wanted(
            old.name, tuple(old.scopes), tuple(old.sites or ()), tuple(old.sources or ()), days
        )
        new = self.add(wanted, replaces=number)
        self._write("end_at", {"id": number, "at": (clock.now() + overlap).isoformat()})
        return new

    def revoke(self, number: str) -> Key:
        """End a key at once. Raises NotFoundError."""
        self.key(number)
        self._write("revoke", {"id": number, "at": clock.now().isoformat()})
        return self.key(number)

    def every(self) -> list[Key]:
        """Every key, in the order they were made."""
        return list(self._load().values())

    def key(self, number: str) -> Key:
        """The key of that id. Raises NotFoundError."""
        found = self._load().get(number)
        if found is None:
            raise NotFoundError("key", number)
        return found

    def any_valid(self) -> bool:
        """Whether there is a key that opens anything now."""
        return any(key.state(clock.now()) == "valid" for key in self.every())

    def check(self, text: str) -> Key | None:
        """The valid key a caller brought, else None. Reads the disk where the file changed only."""
        form = _FORM.fullmatch(text)
        if form is None:
            return None
        key = self._fresh().get(form.group(1))
        if key is None:
            self._looked = -_LOOK_SECONDS  # it may have been made a moment ago
            key = self._fresh().get(form.group(1))
        if key is None:
            return None
        same = hmac.compare_digest(_digest(form.group(2)), key.sha256)
        return key if same and key.state(clock.now()) == "valid" else None

    def use_is_due(self, key: Key) -> bool:
        """Whether the use of a key was noted so long ago that it is to be noted again."""
        noted = max(filter(None, (key.last_used, self._noted.get(key.id))), default=None)
        return noted is None or clock.now() - noted > _USED_EVERY

    def note_use(self, key: Key) -> None:
        """Remember, to the hour, that a key was used; left out where nothing may be written."""
        now = clock.now()
        self._noted[key.id] = now
        with suppress(WarehouseError, sqlite3.Error, OSError):
            self._write("used", {"id": key.id, "at": now.isoformat()})

    def secret(self, name: str) -> bytes:
        """A secret of this store, 256 random bits; made at its first use, the same ever after.

        Where the store may only be read, it is good for this process only.
        """
        made = secrets.token_bytes(32)
        try:
            self._write("keep_secret", {"name": name, "content": made})
        except (WarehouseError, sqlite3.Error, OSError):
            if not self._file.exists():
                return made
        with closing(self._open()) as keys:
            row = keys.execute(_SQL["secret"], {"name": name}).fetchone()
        return bytes(row["content"]) if row else made

    def _fresh(self) -> Mapping[str, Key]:
        if time.monotonic() - self._looked > _LOOK_SECONDS:
            self._looked = time.monotonic()
            changed = self._stamp()
            if changed != self._changed:
                self._known, self._changed = self._load(), changed
        return self._known

    def _stamp(self) -> tuple[int, int] | None:
        try:
            status = self._file.stat()
        except OSError:
            return None
        return status.st_mtime_ns, status.st_ino

    def _load(self) -> dict[str, Key]:
        if not self._file.exists():
            return {}
        with plain_refusals(self._file.parent), closing(self._open()) as keys:
            return {row["id"]: _key(row) for row in keys.execute(_SQL["all"])}

    def _write(self, statement: str, values: Mapping[str, Any]) -> None:
        with plain_refusals(self._file.parent):
            self._file.parent.mkdir(mode=0o700, exist_ok=True)
            with closing(self._open()) as keys:
                keys.execute("PRAGMA synchronous = FULL")
                keys.execute(_SQL["tables"])
                keys.execute(_SQL["secrets"])
                keys.execute(_SQL[statement], values)
            with suppress(OSError):
                self._file.chmod(0o600)
        self._looked = 0.0

    def _open(self) -> sqlite3.Connection:
        if os.access(self._file.parent, os.W_OK):
            connection = sqlite3.connect(self._file, timeout=30, isolation_level=None)
        else:
            address = f"{self._file.resolve().as_uri()}?mode=ro&immutable=1"
            connection = sqlite3.connect(address, uri=True)
        connection.row_factory = sqlite3.Row
        return connection


_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode()).digest()


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a container without names
        return "unknown"


def _key(row: sqlite3.Row) -> Key:
    return Key(
        id=row["id"],
        name=row["name"],
        sha256=bytes(row["sha256"]),
        scopes=frozenset(row["scopes"].split()),
        sites=_some(row["sites"]),
        sources=_some(row["sources"]),
        created_at=dt.datetime.fromisoformat(row["created_at"]),
        created_by=row["created_by"],
        expires_at=dt.datetime.fromisoformat(row["expires_at"]),
        revoked_at=_moment(row["revoked_at"]),
        replaces=row["replaces"],
        last_used=_moment(row["last_used"]),
    )


def _some(text: str | None) -> frozenset[str] | None:
    return None if text is None else frozenset(text.split("\n"))


def _moment(text: str | None) -> dt.datetime | None:
    return None if text is None else dt.datetime.fromisoformat(text)
