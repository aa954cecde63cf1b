"""Keyset paging: opaque signed cursors pinned to one published state, and links to the next page.

A cursor holds for 24 hours. It is signed with a secret of the store, so that
every worker takes it and nobody makes one; it names what was asked and for
whom, so that it continues that and nothing else.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
from collections.abc import Mapping
from typing import Final, Literal
from urllib.parse import urlencode

from pydantic import BaseModel, ConfigDict, ValidationError

from api.refusals import CursorError, SnapshotGoneError
from warehouse import clock
from warehouse.access import Caller
from warehouse.services.desk import Desk
from warehouse.services.serving import State
from warehouse.store import Snapshot

HOURS: Final = 24
"""A cursor holds that long after its first page."""

_SIGNATURE_BYTES = 16


class Cursor(BaseModel):
    """Where a page ended: the state's number, where in it, since when, and what was asked for."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    v: Literal[2] = 2
    seq: int
    at: int
    """When the first page was given, seconds since 1970."""
    after: list[str] | int
    """The last key of the page before, or the rows given so far."""
    query: str


class Pages:
    """Gives cursors and takes them back."""

    def __init__(self, secret: bytes) -> None:
        self._secret = secret

    def text(self, cursor: Cursor) -> str:
        """The cursor as it stands in a URL."""
        held = cursor.model_dump_json().encode()
        return base64.urlsafe_b64encode(self._sign(held) + held).rstrip(b"=").decode()

    def parse(self, text: str) -> Cursor:
        """The cursor a URL holds. Raises CursorError where it is none of ours."""
        try:
            padded = text.encode("ascii") + b"=" * (-len(text) % 4)
            whole = base64.b64decode(padded, b"-_", validate=True)
            signature, held = whole[:_SIGNATURE_BYTES], whole[_SIGNATURE_BYTES:]
            if not hmac.compare_digest(signature, self._sign(held)):
                raise CursorError("the cursor was not given by this store, or was changed")
            return Cursor.model_validate_json(held)
        except (UnicodeEncodeError, binascii.Error, ValidationError) as error:
            raise CursorError("the cursor is malformed") from error

    def _sign(self, held: bytes) -> bytes:
        return hmac.digest(self._secret, held, "sha256")[:_SIGNATURE_BYTES]

    def begin(self, desk: Desk, newest: State, cursor: Cursor | None) -> State:
        """The state a page is taken from: the newest, or the one of the cursor's first page.

        Raises SnapshotGoneError where that one is gone or the cursor is too old.
        """
        if cursor is None:
            return newest
        if clock.now().timestamp() - cursor.at > HOURS * 3600:
            raise SnapshotGoneError(f"a cursor holds for {HOURS} hours; begin again without one")
        state = newest if cursor.seq == newest.snapshot.seq else desk.state(cursor.seq)
        if state is None:
            raise SnapshotGoneError("the state this cursor pages through is not held any more")
        return state

    def end(
        self, cursor: Cursor | None, snapshot: Snapshot, after: list[str] | int, query: str
    ) -> str:
        """The cursor behind a page."""
        at = cursor.at if cursor else int(clock.now().timestamp())
        return self.text(Cursor(seq=snapshot.seq, at=at, after=after, query=query))


def check_cursor(cursor: Cursor, query: str) -> None:
    """Raises CursorError where the cursor was given for another query, caller or store."""
    if cursor.query != query:
        raise CursorError("the cursor was given for other filters, another key, or another store")


def fingerprint(
    what: str, filters: Mapping[str, object], snapshot: Snapshot, caller: Caller
) -> str:
    """What is asked, of which published state and by whom, in short.

    The moment of publishing tells stores apart; of the caller only its sites count.
    """
    sites = None if caller.sites is None else sorted(caller.sites)
    told = json.dumps([what, filters, snapshot.published_at.isoformat(), sites], sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def next_page(
    path: str, parameters: Mapping[str, object], cursor: str | None = None, **more: object
) -> str:
    """The relative URL of the page after `cursor`, or the one with `more`."""
    last = {"cursor": cursor} if cursor else {}
    given = {n: v for n, v in {**parameters, **more, **last}.items() if v is not None}
    return f"{path}?{urlencode(given, doseq=True)}"
