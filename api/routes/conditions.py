"""Conditions as rows: all of them, some by filter, or those of a list of assets."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.models_lists import (
    AssetName,
    ConditionQuery,
    Lookup,
    LookupResult,
    MachineName,
    RowList,
)
from api.routes.current import IfNoneMatch, listed, problems
from api.shown import MOMENTS, named, shown
from api.tables import Besides, table_answer
from warehouse.services.fleet_table import chosen, fleet_table
from warehouse.services.named_conditions import named_conditions
from warehouse.services.serving import State

router = APIRouter(tags=["conditions"], dependencies=[needs("read:condition")])
_COLUMN = {"trend": "trend_state"}


@router.get(
    "/v1/conditions",
    operation_id="conditions_list",
    summary="Conditions of the fleet as rows",
    response_model=RowList,
    responses={
        **listed("One page of conditions, or all of them in another form"),
        **problems(400, 406, 410, 422, 503),
    },
)
def list_conditions(
    request: Request,
    query: Annotated[ConditionQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Every condition of one scope as of now, one row each, with what is registered of its asset.

    JSON comes page by page; NDJSON, CSV and an Arrow stream are whole.
    """
    filters = query.filters()

    def make(state: State) -> object:
        columns = {_COLUMN.get(name, name): values for name, values in filters.items()}
        table = fleet_table(state, desk.now(state), query.scope)
        return chosen(table, columns, state.classes)

    asked = {"scope": query.scope, **filters, **named(query.display)}
    paging = (query.limit, query.cursor, query.format)
    besides = Besides(display=shown(desk, query.display, MOMENTS))
    return table_answer(request, desk, newest, "conditions", paging, asked, make, besides)


@router.post(
    "/v1/conditions/lookup",
    operation_id="conditions_lookup",
    summary="Conditions of a list of assets",
    responses=problems(400, 408, 413, 415, 422, 503),
)
def look_up(lookup: Lookup, desk: Asking, state: Newest) -> LookupResult:
    """The condition of each asset named, by our code or by the maintenance system's, which may
    name a machine in it too.

    What is not found, or named by several, is told apart.
    """
    assets = [(one.site, one.asset) for one in lookup.assets]
    found = named_conditions(state, desk.now(state), assets, lookup.external_ids)
    return LookupResult(
        items=[dict(row) for row in found.rows],
        found_external_ids={
            name: MachineName(site=site, asset=asset, member=member)
            for name, (site, asset, member) in found.by_external_id.items()
        },
        missing_assets=[AssetName(site=site, asset=asset) for site, asset in found.missing_assets],
        missing_external_ids=list(found.missing_external_ids),
        ambiguous_external_ids=list(found.ambiguous_external_ids),
        snapshot=snapshot_document(state.snapshot),
    )
