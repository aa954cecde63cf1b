"""Lists for people who meet: what changed since the last time, and what an outage must take in."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.caller import Asking, Newest, needs
from api.models_meetings import (
    MeetingSheetOut,
    MeetingSheetQuery,
    OutageListOut,
    OutageListQuery,
)
from api.routes.current import IfNoneMatch, listed, problems
from api.shown import MEETING_MOMENTS, shown
from api.tables import XLSX, Besides, table_answer
from warehouse.services import meetings_served as service
from warehouse.services.desk import Desk
from warehouse.services.meetings_served import Served
from warehouse.services.serving import State

router = APIRouter(tags=["meetings"], dependencies=[needs("read:condition")])


def _listed(description: str) -> dict[int | str, dict[str, Any]]:
    return {**listed(description, XLSX), **problems(400, 406, 410, 422, 503)}


@router.get(
    "/v1/meeting-sheet",
    operation_id="meetings_get_sheet",
    summary="What changed since the last meeting",
    response_model=MeetingSheetOut,
    responses=_listed("One page of the sheet, or all of it in another form"),
)
def get_meeting_sheet(
    request: Request,
    query: Annotated[MeetingSheetQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """New, worse, cleared, overdue, no longer put off, and silent since a day.

    A case stands under every heading that fits it. JSON comes page by page; NDJSON, CSV, an
    Arrow stream and the workbook are whole.
    """
    filters = query.filters()

    def make(state: State) -> Served:
        return service.sheet_of(desk, state, query.since, filters)

    return _answer(request, desk, newest, "meeting-sheet", query, make)


@router.get(
    "/v1/outage-list",
    operation_id="meetings_get_outage_list",
    summary="What must go in to an outage, and what can wait",
    response_model=OutageListOut,
    responses=_listed("One page of the list, or all of it in another form"),
)
def get_outage_list(
    request: Request,
    query: Annotated[OutageListQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Open cases that need an outage, or may, by what speaks for this one or the next.

    A notification, never an order. JSON comes page by page; NDJSON, CSV, an Arrow stream and the
    workbook are whole.
    """
    filters, window = query.filters(), (query.from_, query.to)

    def make(state: State) -> Served:
        return service.outage_of(desk, state, window, query.following, filters)

    return _answer(request, desk, newest, "outage-list", query, make)


def _answer(
    request: Request, desk: Desk, newest: State, name: str,
    query: MeetingSheetQuery | OutageListQuery, make: Any,
) -> Response:  # fmt: skip
    besides = Besides(
        facts=lambda state: make(state).about,
        display=shown(desk, query.display, MEETING_MOMENTS),
        workbook=lambda state: service.book_of(desk, state, make(state)),
    )
    paging = (query.limit, query.cursor, query.format)
    return table_answer(
        request, desk, newest, name, paging, query.asked(), lambda state: make(state).rows, besides
    )
