"""Conditions as rows: all of them, some by filter, or those of a list of assets."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.models_lists import AssetName, ConditionQuery, Lookup, LookupResult, RowList
from api.routes.current import IfNoneMatch, listed, problems
from api.shown import MOMENTS, named, shown
from api.tables import Besides, table_answer
from warehouse.services.exporting import plain_rows
from warehouse.services.fleet_table import chosen, fleet_table
from warehouse.services.serving import Key, State

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
    """The condition of each asset named, by our code or by the maintenance system's.

    What is not found, or named by several assets, is told apart.
    """
    by_external: dict[str, list[Key]] = {}
    for key, asset in state.assets.items():
        if asset["external_id"] is not None:
            by_external.setdefault(asset["external_id"], []).append(key)
    asked = list(dict.fromkeys(lookup.external_ids))
    several = [name for name in asked if len(by_external.get(name, [])) > 1]
    keys = {(one.site, one.asset) for one in lookup.assets}
    keys |= {by_external[name][0] for name in asked if len(by_external.get(name, [])) == 1}
    table = chosen(fleet_table(state, desk.now(state), "asset"), {}, state.classes, keys)
    rows = plain_rows(table)
    found = {(row["site"], row["asset"]) for row in rows}
    told = {row["external_id"] for row in rows}
    return LookupResult(
        items=rows,
        missing_assets=[
            AssetName(site=one.site, asset=one.asset)
            for one in lookup.assets
            if (one.site, one.asset) not in found
        ],
        missing_external_ids=[name for name in asked if name not in told and name not in several],
        ambiguous_external_ids=several,
        snapshot=snapshot_document(state.snapshot),
    )
