"""Read-only SQL over the published views, for those who may; off unless it is switched on."""

from __future__ import annotations

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.answers import JSON, SNAPSHOT_HEADER, form_of
from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.models_tables import SqlIn, SqlOut
from api.refusals import NotAllowedError
from api.routes.current import documented, problems
from api.tables import json_bytes
from warehouse.services.exporting import FORMATS, columns_of, encode_table, plain_rows
from warehouse.services.guarded_sql import ask

router = APIRouter(tags=["query"], dependencies=[needs("query:sql")])


@router.post(
    "/v1/query",
    operation_id="query_run",
    summary="Run one SELECT",
    response_model=SqlOut,
    responses={
        200: documented("Rows", *FORMATS.values())[200],
        **problems(400, 406, 408, 413, 422, 503),
    },
)
def run_query(
    request: Request,
    wanted: SqlIn,
    desk: Asking,
    state: Newest,
    format: str | None = Query(
        None, description="form of the answer, instead of `Accept`: json, ndjson, csv or arrow"
    ),
) -> Response:
    """One SELECT over the published views, as of the newest state and of the caller's sites.

    It runs in a process of its own with limits on time, memory and rows, opens
    no file and changes nothing. `Truncated: true` says that rows were left out.
    """
    if not desk.places.store.settings.sql_endpoint:
        raise NotAllowedError("SQL is switched off here (setting sql_endpoint)")
    form = form_of(request, format)
    done = ask(desk, state, wanted.statement, wanted.limit)
    headers = {
        "Cache-Control": "no-store",
        SNAPSHOT_HEADER: str(state.snapshot.seq),
        "Truncated": str(done.truncated).lower(),
    }
    if form != "json":
        return Response(encode_table(done.rows, form), headers=headers, media_type=FORMATS[form])
    body = {
        "items": plain_rows(done.rows),
        "columns": columns_of(done.rows.schema),
        "next": None,
        "truncated": done.truncated,
        "snapshot": snapshot_document(state.snapshot).model_dump(mode="json"),
    }
    return Response(json_bytes(body), headers=headers, media_type=JSON)
