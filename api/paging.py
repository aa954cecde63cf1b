"""Keyset paging: opaque cursors pinned to one published state, and links to the next page."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Mapping
from typing import Literal
from urllib.parse import urlencode

from pydantic import BaseModel, ConfigDict, ValidationError

from api.problems import CursorError
from warehouse.services.serving import Key
from warehouse.store import Snapshot


class Cursor(BaseModel):
    """Where a page ended: the state's number, the last key, and what was asked for."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    v: Literal[1] = 1
    seq: int
    site: str
    asset: str
    query: str

    @property
    def key(self) -> Key:
        """The last key of the page before."""
        return self.site, self.asset

    def text(self) -> str:
        """The cursor as it stands in a URL."""
        return base64.urlsafe_b64encode(self.model_dump_json().encode()).rstrip(b"=").decode()


def parse_cursor(text: str) -> Cursor:
    """The cursor a URL holds. Raises CursorError where it is none of ours."""
    try:
        padded = text.encode("ascii") + b"=" * (-len(text) % 4)
        return Cursor.model_validate_json(base64.b64decode(padded, b"-_", validate=True))
    except (UnicodeEncodeError, binascii.Error, ValidationError) as error:
        raise CursorError("the cursor is malformed") from error


def check_cursor(cursor: Cursor, query: str) -> None:
    """Raises CursorError where the cursor was given for another query or by another store."""
    if cursor.query != query:
        raise CursorError("the cursor was given for other filters, or by another store")


def fingerprint(filters: Mapping[str, object], snapshot: Snapshot) -> str:
    """Filters and published state in short; the moment of publishing tells stores apart."""
    told = json.dumps([filters, snapshot.published_at.isoformat()], sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def next_page(path: str, parameters: Mapping[str, object], cursor: Cursor) -> str:
    """The relative URL of the page after `cursor`."""
    given = {name: value for name, value in parameters.items() if value is not None}
    return f"{path}?{urlencode({**given, 'cursor': cursor.text()}, doseq=True)}"
