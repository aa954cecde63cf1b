"""Handing packages over: streamed, bounded, durable before they are acknowledged."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Annotated, Any

from anyio.to_thread import run_sync
from fastapi import APIRouter, Header, Query, Request
from fastapi.responses import Response

from api.bodies import MEDIA_TYPES, check_headers, take_body
from api.caller import Asking, needs
from api.handing import RECEIVED, handed_over, receipt_answer
from api.models_packages import IngestQuery, ReceiptOut
from api.refusals import ContentError, KeyReusedError, RequestUnderWayError
from api.routes.current import problems
from warehouse.inbox import Delivery, Receipt
from warehouse.services.desk import Desk
from warehouse.services.mappings import KnownMapping, mapping_of
from warehouse.services.packages import ledger_of
from warehouse.services.receiving import Content, Spool

router = APIRouter(tags=["packages"], dependencies=[needs("write:readings")])

_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            media: {"schema": {"type": "string", "format": "binary"}} for media in MEDIA_TYPES
        },
    }
}


@router.post(
    "/v1/ingest",
    operation_id="packages_ingest",
    summary="Hand a package of readings over",
    status_code=202,
    response_model=ReceiptOut,
    openapi_extra=_BODY,
    responses={
        **RECEIVED,
        **problems(400, 404, 408, 409, 413, 415, 422, 503),
    },
)
async def ingest(
    request: Request,
    query: Annotated[IngestQuery, Query()],
    desk: Asking,
    idempotency_key: Annotated[
        str | None,
        Header(
            description="required: a name of this request, such as a UUID, so that sending it "
            "again does nothing and gets the same receipt; kept for 30 days",
            max_length=200,
        ),
    ] = None,
    content_encoding: Annotated[  # noqa: ARG001 - read by `check_headers`
        str | None, Header(description="how the body is packed: gzip, zstd or identity")
    ] = None,
    content_digest: Annotated[  # noqa: ARG001 - read by `take_body`
        str | None, Header(description="digest of the body as sent (RFC 9530), sha-256 or sha-512")
    ] = None,
) -> Response:
    """Receive a file as its source writes it, in whatever format the mapping of the source reads.

    The answer comes when the bytes are on disk. The same bytes again are the
    same package: its old number, nothing twice.
    """
    if not idempotency_key:
        raise ContentError("the header Idempotency-Key is missing: name the request, as by a UUID")
    coding = check_headers(request)
    desk.check_source(query.source)
    known = request.app.state.mappings.look(query.source)
    if known is None:
        known = await run_sync(_mapping, request, desk, query.source)
    name = (desk.caller.name, idempotency_key)
    under_way: set[tuple[str, str]] = request.app.state.under_way
    if name in under_way:
        raise RequestUnderWayError("a request with this Idempotency-Key is being served")
    under_way.add(name)
    try:
        receipt = await _receive(request, desk, query, known, coding, name)
    finally:
        under_way.discard(name)
    if receipt.clashes:
        raise KeyReusedError("this Idempotency-Key came before with another body or source")
    return await receipt_answer(desk, receipt, query.wait)


async def _receive(
    request: Request,
    desk: Desk,
    query: IngestQuery,
    known: KnownMapping,
    coding: str,
    name: tuple[str, str],
) -> Receipt:
    with Spool(request.app.state.places.store) as spool:
        content = await take_body(request, spool, coding)
        return await handed_over(request, desk, _delivery(content, known, query.file, name))


def _delivery(content: Content, known: KnownMapping, file: str, name: tuple[str, str]) -> Delivery:
    path = content.path or FilePath(file)
    return Delivery(path, known.mapping, known.text, content.head, file, name)


def _mapping(request: Request, desk: Desk, source: str) -> KnownMapping:
    """The mapping of a source, kept for a few seconds: it is asked for by every package."""
    with ledger_of(desk) as (store, ledger):
        found = mapping_of(store, ledger, source)
    request.app.state.mappings.keep(source, found)
    return found
