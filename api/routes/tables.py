"""Every published table and view, as JSON pages, NDJSON, CSV or an Arrow stream."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from api.caller import Asking, Newest, needs
from api.models_lists import RowList
from api.models_tables import TableList, TableOut, TableQuery
from api.routes.current import IfNoneMatch, listed, problems
from api.tables import table_answer
from warehouse.services.relations import Asked, relation, relations, rows_of
from warehouse.services.serving import State

router = APIRouter(tags=["tables"], dependencies=[needs("read:readings")])


@router.get(
    "/v1/tables",
    operation_id="tables_list",
    summary="List the published tables and views",
    responses=problems(),
)
def list_tables() -> TableList:
    """What may be asked for, and what each is for."""
    rows = [
        TableOut(
            name=r.name, kind=r.kind, purpose=r.purpose, links={"rows": f"/v1/tables/{r.name}"}
        )
        for r in relations().values()
    ]
    return TableList(items=rows, next=None)


@router.get(
    "/v1/tables/{name}",
    operation_id="tables_get_rows",
    summary="Rows of a published table or view",
    response_model=RowList,
    responses={
        **listed("One page of rows, or all of them in another form"),
        **problems(400, 404, 406, 410, 422, 503),
    },
)
def get_rows(
    request: Request,
    name: Annotated[str, Path(description="name of a table or view", examples=["worst_machines"])],
    query: Annotated[TableQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Rows of fleet views, trends, series, conditions, the registry, ..., as of one state.

    A filter that the table has no column for is refused. JSON comes page by
    page; NDJSON, CSV and an Arrow stream are whole.
    """
    relation(name)
    asked = Asked(query.filters(), query.from_, query.to, query.time, tuple(query.column or ()))

    def make(state: State) -> object:
        return rows_of(desk, state, name, asked)

    paging = (query.limit, query.cursor, query.format)
    return table_answer(request, desk, newest, name, paging, query.asked(), make)
