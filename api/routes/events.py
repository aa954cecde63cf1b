"""Maintenance events posted back: a package like any other, by the same inbox."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.caller import Asking, needs
from api.handing import RECEIVED, handed_over, receipt_answer
from api.models_packages import ReceiptOut
from api.models_work import EventsIn
from api.routes.current import problems
from warehouse.services.posted_events import events_delivery

router = APIRouter(tags=["cases"], dependencies=[needs("write:work")])


@router.post(
    "/v1/maintenance-events",
    operation_id="maintenance_events_report",
    summary="Report what maintenance did",
    status_code=202,
    response_model=ReceiptOut,
    responses={**RECEIVED, **problems(400, 404, 408, 413, 422, 503)},
)
async def report(
    request: Request,
    reported: EventsIn,
    desk: Asking,
    wait: Annotated[
        float, Query(ge=0, le=30, description="seconds to wait for it to be taken in")
    ] = 0.0,
) -> Response:
    """One event or many of a source; each version of an event counts once, however often it comes.

    They go through the inbox like a file: what cannot be used is refused with its reason, and
    the package tells. `version_at` orders the versions of an event; without it receipt does.
    A machine that is of no site of the key is refused like an unknown one.
    """
    desk.check_source(reported.source)
    events = [event.model_dump(mode="json") for event in reported.events]
    receipt = await handed_over(request, desk, events_delivery(reported.source, events))
    return await receipt_answer(desk, receipt, wait)
