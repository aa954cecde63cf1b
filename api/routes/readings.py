"""Readings of a series or of everything, as they are or thinned without losing an extreme."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.answers import form_of, list_tag, not_modified, streamed
from api.caller import Asking, Newest, needs
from api.models_lists import RowList
from api.models_tables import ReadingsQuery
from api.routes.current import IfNoneMatch, listed, problems
from api.tables import table_answer
from warehouse.services.exporting import encode
from warehouse.services.readings_served import Readings, Wanted, readings_page
from warehouse.services.serving import State

router = APIRouter(tags=["readings"], dependencies=[needs("read:readings")])


@router.get(
    "/v1/readings",
    operation_id="readings_list",
    summary="Readings that count",
    response_model=RowList,
    responses={
        **listed("One page of readings, or all of them in another form"),
        **problems(400, 406, 410, 422, 503),
    },
)
def list_readings(
    request: Request,
    query: Annotated[ReadingsQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Readings of a place and window, superseded ones left out, in canonical units.

    With `points` each series is thinned to so many readings, all of them real:
    the lowest and highest of each span, and the first and last. JSON comes page
    by page and holds at most 100,000; the other forms are streamed and whole.
    """
    wanted = Wanted(
        query.place(), query.from_, query.to, query.points, tuple(query.column or ()), query.sorted
    )
    form = form_of(request, query.format)
    if form == "json":

        def make(state: State) -> object:
            return readings_page(desk, state, wanted)

        paging = (query.limit, query.cursor, query.format)
        return table_answer(request, desk, newest, "readings", paging, query.asked(), make)
    tag = list_tag(request, newest, 0, form)
    if known := not_modified(request, tag, newest):
        return known
    readings = Readings(desk, newest, wanted)
    return streamed(
        encode(readings.schema, readings.batches(), form, _codec(query)),
        readings.close,
        tag,
        newest,
        form,
        "readings",
    )


def _codec(query: ReadingsQuery) -> str | None:
    return None if query.codec == "none" else query.codec
