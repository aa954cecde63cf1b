"""Answers with their validator: quoted ETags, 304 where a copy is still right, forms of a body.

The tag of a condition is made of what was judged and of whether it has gone
stale since, not of the state it was read from: a plant that publishes every
minute does not spoil every copy, and silence always does. As `snapshot` and
`as_of` may then differ under one tag, it is a weak one. Lists are of one state
and one question: their tag is strong and known before any table is read.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping
from http import HTTPStatus
from typing import Any, Final

from anyio import CancelScope
from anyio.to_thread import run_sync
from fastapi import Request
from fastapi.responses import Response, StreamingResponse
from pydantic import BaseModel
from starlette.types import Receive, Scope, Send

from api.refusals import NotAcceptableError
from warehouse.services.exporting import FORMATS
from warehouse.services.serving import State

JSON: Final = "application/json"
SNAPSHOT_HEADER: Final = "Snapshot-Seq"
"""Names the published state of an answer that has no room for it, or no body."""

_CACHING = {
    # Keep it, but ask before every use: an answer may go stale by silence at any moment.
    "Cache-Control": "private, no-cache",
    "Vary": "Accept",
}
_TAGS = re.compile(r'\s*(?:,\s*)*(?:W/)?("[\x21\x23-\x7e\x80-\xff]*")\s*(?:,|$)')
_VOLATILE = ("snapshot", "as_of")


def digest(*parts: object) -> str:
    """The parts in short, to stand between the quotes of a tag."""
    told = json.dumps(parts, sort_keys=True, default=str)
    return hashlib.sha256(told.encode()).hexdigest()[:32]


def judged_tag(body: BaseModel) -> str:
    """Weak tag of a condition: everything in it but the state it was taken from."""
    return f'W/"{digest(JSON, _without_volatile(body.model_dump(mode="json")))}"'


def _without_volatile(value: Any) -> Any:
    if isinstance(value, dict):
        return {n: _without_volatile(v) for n, v in value.items() if n not in _VOLATILE}
    return [_without_volatile(one) for one in value] if isinstance(value, list) else value


def list_tag(request: Request, state: State, passed: int, form: str) -> str:
    """Strong tag of a list: its form, the question, the state, and how much of it went stale."""
    snapshot = state.snapshot
    asked = [request.url.path, sorted(request.query_params.multi_items())]
    caller = request.state.caller
    sites = None if caller.sites is None else sorted(caller.sites)
    published = [snapshot.seq, snapshot.published_at.isoformat()]
    return f'"{digest(form, asked, sites, published, passed)}"'


def not_modified(
    request: Request, tag: str, state: State | None, headers: Mapping[str, str] | None = None
) -> Response | None:
    """304 where the request names `tag` already, else None."""
    if not _matches(request.headers.getlist("if-none-match"), tag):
        return None
    return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=_headers(tag, state, headers))


def answer(
    content: bytes,
    tag: str,
    state: State | None,
    media_type: str = JSON,
    headers: Mapping[str, str] | None = None,
) -> Response:
    """A body with its tag."""
    return Response(content, headers=_headers(tag, state, headers), media_type=media_type)


class _Closing(StreamingResponse):
    """A stream whose source is closed however it ends, begun or not."""

    def __init__(self, chunks: Iterator[bytes], close: Callable[[], None], **more: Any) -> None:
        super().__init__(chunks, **more)
        self._close = close

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the stream, then close its source."""
        try:
            await super().__call__(scope, receive, send)
        finally:
            with CancelScope(shield=True):
                await run_sync(self._close)


def streamed(
    chunks: Iterator[bytes],
    close: Callable[[], None],
    tag: str,
    state: State,
    form: str,
    name: str,
) -> Response:
    """A table as it comes. One that breaks off ends the connection: nobody takes it for whole.

    `close` is called at the end, also where the caller went away before the first byte.
    """
    headers = _headers(tag, state, None)
    headers["Content-Disposition"] = f'attachment; filename="{name}.{form}"'
    return _Closing(chunks, close, headers=headers, media_type=FORMATS[form])


def _headers(tag: str, state: State | None, more: Mapping[str, str] | None) -> dict[str, str]:
    named = {SNAPSHOT_HEADER: str(state.snapshot.seq)} if state else {}
    return {"ETag": tag, **_CACHING, **named, **(more or {})}


def _matches(fields: list[str], tag: str) -> bool:
    """Whether If-None-Match names `tag` (RFC 9110, 13.1.2): a list, weakly compared, or `*`."""
    value = ", ".join(fields).strip()
    return value == "*" or tag.removeprefix("W/") in _TAGS.findall(value)


def form_of(
    request: Request, wanted: str | None, forms: Mapping[str, str] = FORMATS, first: str = "json"
) -> str:
    """The form of the answer: `json` or one of `forms`, `first` where it is all the same.

    Raises NotAcceptableError.
    """
    offered = {"json": JSON, **forms}
    offered = {first: offered[first], **offered}
    told = ", ".join(f"{media} (format={name})" for name, media in offered.items())
    if wanted is not None:
        if wanted in offered:
            return wanted
        raise NotAcceptableError(f"format {wanted!r} is not to be had here; to be had: {told}")
    accepted = _accepted(", ".join(request.headers.getlist("accept")))
    best = max(offered, key=lambda name: _quality(offered[name], accepted))
    if _quality(offered[best], accepted) <= 0:
        raise NotAcceptableError(f"none of what Accept names is to be had here; to be had: {told}")
    return best


def _accepted(header: str) -> dict[str, float]:
    """Media ranges of an Accept header with their weights; everything where there is none."""
    found: dict[str, float] = {}
    for part in filter(None, (one.strip() for one in header.split(","))):
        media, *parameters = (one.strip() for one in part.split(";"))
        weight = next((p[2:] for p in parameters if p.lower().startswith("q=")), "1")
        found[media.lower()] = float(weight) if re.fullmatch(r"[01](\.\d{0,3})?", weight) else 0.0
    return found or {"*/*": 1.0}


def _quality(media: str, accepted: Mapping[str, float]) -> float:
    for wanted in (media, f"{media.partition('/')[0]}/*", "*/*"):
        if wanted in accepted:
            return accepted[wanted]
    return 0.0
