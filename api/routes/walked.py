"""Walked routes: what they are, how well they are walked, sheets out and filled sheets back."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import quote

from anyio.to_thread import run_sync
from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from api.answers import answer, form_of, list_tag, not_modified
from api.bodies import check_headers, take_body
from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.handing import RECEIVED, handed_over, receipt_answer
from api.models_lists import RowList
from api.models_packages import ReceiptOut
from api.models_work import (
    FilledSheetQuery,
    RouteLinks,
    RouteListQuery,
    RouteOut,
    RoutesQuery,
    SheetOut,
    SheetQuery,
)
from api.routes.current import IfNoneMatch, documented, listed, problems
from api.tables import XLSX, json_bytes, table_answer
from warehouse.services import routes_served as service
from warehouse.services.exporting import plain_values
from warehouse.services.receiving import Spool
from warehouse.services.serving import State

router = APIRouter(tags=["routes"], dependencies=[needs("read:condition")])
changing = APIRouter(tags=["routes"], dependencies=[needs("write:work")])

RouteCode = Annotated[str, Path(description="route code", examples=["RW-R1"])]


@router.get(
    "/v1/routes",
    operation_id="routes_list",
    summary="List routes and how well they are walked",
    response_model=RowList,
    responses={**listed("Routes"), **problems(400, 406, 410, 422, 503)},
)
def list_routes(
    request: Request,
    query: Annotated[RoutesQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Each route with its stops, walks within the last year, and how the next walk stands.

    JSON comes page by page; NDJSON, CSV and an Arrow stream are whole.
    """
    given = {"site": query.site, "state": query.state}
    filters = {name: sorted(set(values)) for name, values in given.items() if values}

    def make(state: State) -> object:
        return service.routes_table(desk, state, filters)

    paging = (query.limit, query.cursor, query.format)
    return table_answer(request, desk, newest, "routes", paging, filters, make)


@router.get(
    "/v1/routes/{route}",
    operation_id="routes_get",
    summary="One route: how well it is walked, and its stops",
    response_model=RouteOut,
    responses={**documented("The route"), **problems(404, 422, 503)},
)
def get_route(
    request: Request,
    route: RouteCode,
    desk: Asking,
    state: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """The definition of a route: its stops in the order of the walk, and what is read at each."""
    tag = list_tag(request, state, 0, "json")
    if known := not_modified(request, tag, state):
        return known
    walked, stops = service.route_of(desk, state, route)
    url = f"/v1/routes/{quote(route, safe='')}"
    body = RouteOut(
        route=route,
        site=walked["site"],
        time_zone=stops[0]["time_zone"],
        compliance=plain_values(walked),
        stops=[plain_values(row) for row in stops],
        links=RouteLinks(stops=f"{url}/stops", walks=f"{url}/walks", sheet=f"{url}/sheet"),
        snapshot=snapshot_document(state.snapshot),
    )
    return answer(body.model_dump_json().encode(), tag, state)


@router.get(
    "/v1/routes/{route}/stops",
    operation_id="routes_get_stops",
    summary="Stops of a route",
    response_model=RowList,
    responses={
        **listed("Stops in the order of the walk"),
        **problems(400, 404, 406, 410, 422, 503),
    },
)
def list_stops(
    request: Request,
    route: RouteCode,
    query: Annotated[RouteListQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Place, what to read, the last reading and the value above which it is an alert."""

    def make(state: State) -> object:
        return service.stops_table(desk, state, route)

    paging = (query.limit, query.cursor, query.format)
    return table_answer(request, desk, newest, "stops", paging, {}, make)


@router.get(
    "/v1/routes/{route}/walks",
    operation_id="routes_get_walks",
    summary="Walks of a route",
    response_model=RowList,
    responses={**listed("Walks, newest first"), **problems(400, 404, 406, 410, 422, 503)},
)
def list_walks(
    request: Request,
    route: RouteCode,
    query: Annotated[RouteListQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """What was measured on each walk, and why the rest was not; in time or how late."""

    def make(state: State) -> object:
        return service.walks_table(desk, state, route)

    paging = (query.limit, query.cursor, query.format)
    return table_answer(request, desk, newest, "walks", paging, {}, make)


@router.get(
    "/v1/routes/{route}/sheet",
    operation_id="routes_get_sheet",
    summary="The sheet of a walk, to be filled in",
    response_model=SheetOut,
    responses={
        200: documented("A workbook, or the rows of it", XLSX)[200],
        304: documented("")[304],
        **problems(404, 406, 422, 503),
    },
)
def get_sheet(
    request: Request,
    route: RouteCode,
    query: Annotated[SheetQuery, Query()],
    desk: Asking,
    state: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """A workbook with each stop, the last value and the alert value as the meter shows them.

    JSON where `Accept` or `format` asks for it. Coloured columns are to be filled in; the file
    comes back by `POST` to the same URL.
    """
    form = form_of(request, query.format, {"xlsx": XLSX}, "xlsx")
    tag = list_tag(request, state, 0, form)
    if known := not_modified(request, tag, state):
        return known
    rows, workbook = service.sheet_for(desk, state, route, query.date)
    if form == "xlsx":
        name = quote(f"{route}.xlsx")
        headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{name}"}
        return answer(workbook, tag, state, XLSX, headers)
    body = {"items": rows, "next": None, "snapshot": _snapshot(state)}
    return answer(json_bytes(body), tag, state)


def _snapshot(state: State) -> dict[str, Any]:
    return snapshot_document(state.snapshot).model_dump(mode="json")


@changing.post(
    "/v1/routes/{route}/sheet",
    operation_id="routes_hand_back",
    summary="Hand a filled sheet back",
    status_code=202,
    response_model=ReceiptOut,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {XLSX: {"schema": {"type": "string", "format": "binary"}}},
        }
    },
    responses={**RECEIVED, **problems(400, 404, 408, 413, 415, 422, 503)},
)
async def hand_back(
    request: Request,
    route: RouteCode,
    query: Annotated[FilledSheetQuery, Query()],
    desk: Asking,
    state: Newest,
) -> Response:
    """A workbook that `GET` gave and a technician filled in; the same file again is no new one.

    It goes through the inbox like any file: the package tells what was taken and refused. A stop
    of another route is refused.
    """
    coding = check_headers(request)
    with Spool(request.app.state.places.store) as spool:
        content = await take_body(request, spool, coding)
        delivery = await run_sync(service.sheet_delivery, desk, state, route, query.file, content)
        receipt = await handed_over(request, desk, delivery)
    return await receipt_answer(desk, receipt, query.wait)
