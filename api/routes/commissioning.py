"""New and moved sensors: which are provisional, and how their checks stand."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from api.answers import JSON, answer, digest, form_of, not_modified
from api.caller import Asking, needs
from api.models_registry import CommissioningList, CommissioningOut, CommissioningQuery
from api.routes.current import IfNoneMatch, documented, problems
from api.tables import json_bytes
from warehouse.services import commissioning_served as service
from warehouse.services.exporting import FORMATS, columns_of, encode_table, plain_rows, plain_values

router = APIRouter(tags=["registry"], dependencies=[needs("read:condition")])


@router.get(
    "/v1/commissioning",
    operation_id="commissioning_list",
    summary="Mountings that are provisional, and what is open",
    response_model=CommissioningList,
    responses={**documented("All of them", *FORMATS.values()), **problems(406, 422, 503)},
)
def list_mountings(
    request: Request,
    query: Annotated[CommissioningQuery, Query()],
    desk: Asking,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Readings of a provisional mounting are stored and not judged, until a person has passed it.

    As it is now, which may be ahead of the published state.
    """
    form = form_of(request, query.format)
    rows = service.mountings_table(desk, query.every, query.site)
    items = plain_rows(rows)
    tag = f'"{digest(form, items)}"'
    if known := not_modified(request, tag, None):
        return known
    if form != "json":
        return answer(encode_table(rows, form), tag, None, FORMATS[form])
    body = {"items": items, "columns": columns_of(rows.schema), "next": None}
    return answer(json_bytes(body), tag, None)


@router.get(
    "/v1/commissioning/{device}/{channel:path}",
    operation_id="commissioning_get",
    summary="The checks of one mounting",
    response_model=CommissioningOut,
    responses={**documented("The mounting"), **problems(404, 422, 503)},
)
def get_mounting(
    request: Request,
    device: Annotated[str, Path(description="device as the source names it")],
    channel: Annotated[str, Path(description="channel of the device")],
    desk: Asking,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """The mounting of a channel that is on, its checks as they stand, and every step."""
    found = plain_values(service.mounting_of(desk, device, channel))
    tag = f'"{digest(JSON, found)}"'
    return not_modified(request, tag, None) or answer(
        CommissioningOut(**found).model_dump_json().encode(), tag, None
    )
