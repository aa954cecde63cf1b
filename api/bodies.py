"""Bodies of packages: how they are packed, whether they are what was sent, kept within bounds."""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Final

from anyio.to_thread import run_sync
from fastapi import Request

from api.refusals import BodyTooLargeError, ContentError, DigestError, MediaTypeError
from warehouse.errors import UnreadableSourceError
from warehouse.inbox.payloads import SMALL_BYTES
from warehouse.services.receiving import (
    CODINGS,
    Content,
    Spool,
    UnpackedTooLargeError,
    UnpackError,
    unpack,
)

MEDIA_TYPES: Final = (
    "application/octet-stream",
    "application/json",
    "application/x-ndjson",
    "application/senml+json",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "text/csv",
    "text/plain",
)
"""What a package may be sent as; the mapping of its source says how it is read."""

_DIGEST = re.compile(r"\s*(sha-256|sha-512)=:([A-Za-z0-9+/=]*):\s*")


def check_headers(request: Request) -> str:
    """The coding a body is packed in. Raises MediaTypeError."""
    media = request.headers.get("content-type", "application/octet-stream").partition(";")[0]
    if media.strip().lower() not in MEDIA_TYPES:
        raise MediaTypeError(f"{media!r} is not taken; taken: {', '.join(MEDIA_TYPES)}")
    coding = request.headers.get("content-encoding", "identity").strip().lower()
    if coding not in CODINGS:
        raise MediaTypeError(f"Content-Encoding {coding} is not taken; taken: {', '.join(CODINGS)}")
    return coding


async def take_body(request: Request, spool: Spool, coding: str) -> Content:
    """The body of a package, unpacked; a large one lies in the folder of `spool`.

    Raises DigestError, ContentError, BodyTooLargeError, UnreadableSourceError.
    """
    content = await _as_packed(request, spool, coding)
    if content.head == b"":
        raise UnreadableSourceError("the body", "it is empty", "send the file's bytes")
    return content


async def _as_packed(request: Request, spool: Spool, coding: str) -> Content:
    digests = _digests(request.headers.get("content-digest", ""))
    content = await _sent(request.stream(), spool, digests)
    for name, (digest, wanted) in digests.items():
        if digest.digest() != wanted:
            raise DigestError(f"the {name} of what arrived is not that in Content-Digest")
    if coding == "identity":
        return content
    megabytes = request.app.state.places.store.settings.body_mb
    try:
        return await run_sync(unpack, content, coding, megabytes * 1_000_000, spool)
    except UnpackError as error:
        raise ContentError(f"the body cannot be unpacked: {error}") from error
    except UnpackedTooLargeError as error:
        raise BodyTooLargeError(
            f"the body unpacks to more than {megabytes} MB (setting body_mb)"
        ) from error


async def _sent(
    stream: AsyncIterator[bytes], spool: Spool, digests: dict[str, tuple[hashlib._Hash, bytes]]
) -> Content:
    head: list[bytes] = []
    size = 0
    file = None
    try:
        async for part in stream:
            size += len(part)
            for digest, _ in digests.values():
                digest.update(part)
            if file is None and size <= SMALL_BYTES:
                head.append(part)
                continue
            if file is None:
                file = await run_sync(spool.writer)
                await run_sync(file.write, b"".join(head))
            await run_sync(file.write, part)
    finally:
        if file is not None:
            file.close()
    return Content(b"".join(head), None) if file is None else Content(None, Path(file.name))


def _digests(header: str) -> dict[str, tuple[hashlib._Hash, bytes]]:
    """What the sender says of its body (RFC 9530); algorithms not known here are passed over."""
    found = {}
    for part in header.split(","):
        if form := _DIGEST.fullmatch(part):
            try:
                wanted = base64.b64decode(form.group(2), validate=True)
            except binascii.Error as error:
                raise ContentError("Content-Digest is not base64 between colons") from error
            found[form.group(1)] = (hashlib.new(form.group(1).replace("-", "")), wanted)
    return found
