"""The registry: what stands where, read by anyone who may, changed on a named version."""

from __future__ import annotations

import re
from typing import Annotated, Any

from fastapi import APIRouter, Body, Header, Path, Query, Request
from fastapi.responses import Response

from api.answers import answer, digest, form_of, not_modified
from api.caller import Asking, needs
from api.models_registry import (
    REGISTRY_EXAMPLE,
    EntityList,
    RegistryChanged,
    RegistryOut,
)
from api.refusals import PreconditionError, PreconditionNeededError
from api.routes.current import Format, IfNoneMatch, documented, problems
from api.tables import json_bytes
from warehouse.errors import StoreConflictError
from warehouse.services.exporting import FORMATS, columns_of, encode_table, plain_rows
from warehouse.services.registry_served import change_registry, entity_of, registry_of

router = APIRouter(tags=["registry"], dependencies=[needs("read:sources")])
changing = APIRouter(tags=["registry"], dependencies=[needs("admin:sources", whole=True)])
_VERSION = re.compile(r'"registry-(\d{1,15})"')


def _tag(version: int) -> str:
    return f'"registry-{version}"'


@router.get(
    "/v1/registry",
    operation_id="registry_get",
    summary="The registry's version and what is in it",
    response_model=RegistryOut,
    responses={**documented("Counts by kind"), **problems(503)},
)
def get_registry(
    request: Request,
    desk: Asking,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """How many entities of each kind stand. The ETag names the version a change is made on.

    This is the newest registry, which may be ahead of the published state.
    """
    version, entities = registry_of(desk)
    tag = _tag(version)
    body = RegistryOut(
        version=version,
        entities={kind: rows.num_rows for kind, rows in entities.items()},
        links={kind: f"/v1/registry/{kind}" for kind in entities},
    )
    known = not_modified(request, tag, None)
    return known or answer(body.model_dump_json().encode(), tag, None)


@router.get(
    "/v1/registry/{kind}",
    operation_id="registry_get_entities",
    summary="Entities of one kind",
    response_model=EntityList,
    responses={**documented("All of them", *FORMATS.values()), **problems(404, 406, 422, 503)},
)
def get_entities(
    request: Request,
    kind: Annotated[str, Path(description="kind of thing", examples=["assets"])],
    desk: Asking,
    format: Format = None,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Every entity of a kind as it stands: sites, assets, members, points, mountings, ..."""
    form = form_of(request, format)
    version, rows = entity_of(desk, kind)
    sites = None if desk.caller.sites is None else sorted(desk.caller.sites)
    tag = f'"registry-{version}-{digest(kind, form, sites)[:16]}"'
    if known := not_modified(request, tag, None):
        return known
    if form != "json":
        return answer(encode_table(rows, form), tag, None, FORMATS[form])
    body = {
        "items": plain_rows(rows),
        "columns": columns_of(rows.schema),
        "next": None,
        "version": version,
    }
    return answer(json_bytes(body), tag, None)


@changing.patch(
    "/v1/registry",
    operation_id="registry_change",
    summary="State or withdraw entities",
    responses=problems(400, 408, 412, 413, 422, 428, 503),
)
def change(
    response: Response,
    rows: Annotated[
        dict[str, list[dict[str, Any]]],
        Body(
            description="entities by kind, each with its columns; `withdraw: true` takes one back",
            examples=[REGISTRY_EXAMPLE],
        ),
    ],
    desk: Asking,
    if_match: Annotated[
        str | None, Header(description="ETag of `GET /v1/registry` the change is made on; required")
    ] = None,
    dry_run: Annotated[
        bool, Query(description="find out what would change, and change nothing")
    ] = False,
) -> RegistryChanged:
    """State entities as they are now; those not named stay as they are.

    All of it is recorded, or nothing with every fault listed. Stored readings
    whose mounting changed are placed anew.
    """
    if if_match is None:
        raise PreconditionNeededError("send the ETag of GET /v1/registry in If-Match")
    found = _VERSION.fullmatch(if_match.strip().removeprefix("W/"))
    if found is None:
        raise PreconditionError(f"If-Match {if_match!r} is no ETag of GET /v1/registry")
    try:
        version, done = change_registry(desk, rows, int(found.group(1)), dry_run)
    except StoreConflictError as error:
        raise PreconditionError(error.why) from error
    response.headers["ETag"] = _tag(version)
    return RegistryChanged(
        version=version,
        dry_run=dry_run,
        changes=done.counts,
        replaced=done.replaced.words,
        notes=done.notes,
    )
