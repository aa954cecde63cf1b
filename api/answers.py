"""Bodies with their validator: a strong ETag over the very bytes, and 304 where they are known."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from http import HTTPStatus

from fastapi import Request
from fastapi.responses import Response
from pydantic import BaseModel

_CACHING = {
    # Keep it, but ask before every use: an answer may go stale by silence at any moment.
    "Cache-Control": "private, no-cache",
    "Vary": "Accept",
}
_TAGS = re.compile(r'\s*(?:,\s*)*(?:W/)?("[\x21\x23-\x7e\x80-\xff]*")\s*(?:,|$)')


def answer(request: Request, body: BaseModel, headers: Mapping[str, str] | None = None) -> Response:
    """`body` as JSON with its ETag, or 304 where the request names that tag already."""
    content = body.model_dump_json().encode()
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    more = {"ETag": tag, **_CACHING, **(headers or {})}
    if _matches(request.headers.getlist("if-none-match"), tag):
        return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=more)
    return Response(content, headers=more, media_type="application/json")


def _matches(fields: list[str], tag: str) -> bool:
    """Whether If-None-Match names `tag` (RFC 9110, 13.1.2): a list, weakly compared, or `*`."""
    value = ", ".join(fields).strip()
    return value == "*" or tag in _TAGS.findall(value)
