"""Adapters and mappings: which there are, giving one to the server, trying one out."""

from __future__ import annotations

import base64
from typing import Annotated

from fastapi import APIRouter, Body, Header, Path, Request
from fastapi.responses import Response

from api.caller import Asking, needs
from api.models_packages import (
    AdapterList,
    AdapterOut,
    CountsOut,
    MappingList,
    MappingOut,
    TrialIn,
    TrialOut,
)
from api.refusals import ContentError, PreconditionError, PreconditionNeededError
from api.routes.current import problems
from warehouse.errors import StoreConflictError
from warehouse.services import mappings as service
from warehouse.services.exporting import plain_values
from warehouse.services.packages import ledger_of
from warehouse.services.trying import installed_adapters, try_on

router = APIRouter(tags=["mappings"], dependencies=[needs("read:sources")])
changing = APIRouter(tags=["mappings"], dependencies=[needs("admin:sources", whole=True)])

SourceName = Annotated[
    str, Path(description="source as its mapping names it", examples=["cooling-edge"])
]
_TOML = "application/toml"
_TEXT = {"content": {_TOML: {"schema": {"type": "string"}}}}


@router.get(
    "/v1/adapters",
    operation_id="adapters_list",
    summary="List the installed adapters",
    responses=problems(),
)
def list_adapters() -> AdapterList:
    """What reads which format; one that failed to load is named with the reason."""
    rows, failed = installed_adapters()
    return AdapterList(items=[AdapterOut(**row) for row in rows], failed=failed, next=None)


@router.get(
    "/v1/mappings",
    operation_id="mappings_list",
    summary="List the mapping of every source",
    responses=problems(503),
)
def list_mappings(desk: Asking) -> MappingList:
    """The mapping each source is read with now."""
    with ledger_of(desk) as (store, ledger):
        found = service.known_mappings(store, ledger)
    seen = [_document(one) for one in found if desk.caller.sees_source(one.source)]
    return MappingList(items=seen, next=None)


def _document(known: service.KnownMapping) -> MappingOut:
    source = known.mapping.source
    return MappingOut(
        source=known.source,
        version=known.mapping.version,
        adapter=source.adapter,
        items=known.items,
        method=getattr(source, "method", None),
        given=known.given,
        links={"text": f"/v1/mappings/{known.source}"},
    )


@router.get(
    "/v1/mappings/{source:path}",
    operation_id="mappings_get",
    summary="The mapping of one source",
    response_class=Response,
    responses={200: {"description": "Its text", **_TEXT}, **problems(404, 422, 503)},
)
def get_mapping(source: SourceName, desk: Asking) -> Response:
    """The text of the mapping a source is read with now; its ETag is its version."""
    desk.check_source(source)
    with ledger_of(desk) as (store, ledger):
        known = service.mapping_of(store, ledger, source)
    return Response(known.text, headers={"ETag": _tag(known.mapping.version)}, media_type=_TOML)


def _tag(version: str) -> str:
    return f'"{version}"'


@changing.put(
    "/v1/mappings/{source:path}",
    operation_id="mappings_put",
    summary="Give the server the mapping of a source",
    responses=problems(400, 404, 408, 412, 413, 422, 428, 503),
)
def put_mapping(
    request: Request,
    source: SourceName,
    text: Annotated[bytes, Body(media_type=_TOML, description="the mapping, TOML")],
    desk: Asking,
    if_match: Annotated[
        str | None, Header(description="ETag of the mapping it is to replace")
    ] = None,
    if_none_match: Annotated[
        str | None, Header(description="`*`, where the source has none yet: `GET` finds none")
    ] = None,
) -> MappingOut:
    """Have packages of a source read by this mapping from now on.

    Those that came before keep theirs; `POST /v1/replays` does not change that: send the files
    again, with another Idempotency-Key.
    """
    if if_match is None and if_none_match != "*":
        raise PreconditionNeededError(
            "send the ETag of the mapping in If-Match, or If-None-Match: * for the first one"
        )
    version = None if if_match is None else if_match.strip().removeprefix("W/").strip('"')
    try:
        told = text.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ContentError("a mapping is UTF-8 text") from error
    with ledger_of(desk) as (store, ledger):
        used = service.version_used(store, ledger, source)
        try:
            mapping = service.keep_mapping(store, source, told, version, used)
        except StoreConflictError as error:
            raise PreconditionError(f"the mapping of {source!r} {error.why}") from error
    request.app.state.mappings.forget(source)
    return _document(service.KnownMapping(source, mapping, told, given=True))


@changing.post(
    "/v1/mapping-trials",
    operation_id="mappings_try",
    summary="Try a mapping on a file; store nothing",
    responses=problems(400, 408, 413, 422, 503),
)
def try_mapping(wanted: TrialIn, desk: Asking) -> TrialOut:
    """What ingest would make of a file with this mapping: counts, first readings, refused items."""
    trial = try_on(desk, wanted.mapping, wanted.file, _content(wanted))
    counts = CountsOut(**{name: getattr(trial.counts, name) for name in CountsOut.model_fields})
    return TrialOut(
        counts=counts,
        not_measured=trial.not_measured,
        readings=[plain_values(row) for row in trial.sample],
        rejects=[plain_values(row) for row in trial.rejects],
    )


def _content(wanted: TrialIn) -> bytes:
    if (wanted.content is None) == (wanted.content_base64 is None):
        raise ContentError("give the file either as content or as content_base64")
    if wanted.content is not None:
        return wanted.content.encode()
    try:
        return base64.b64decode(wanted.content_base64 or "", validate=True)
    except ValueError as error:  # not in the alphabet, or not even ASCII
        raise ContentError("content_base64 is not base64") from error
