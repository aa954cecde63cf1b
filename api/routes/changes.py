"""The changes feed: for systems that must hear of every change once."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request

from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.models_lists import Change, ChangeList, ChangeQuery
from api.paging import next_page
from api.routes.current import problems
from warehouse.services.changes import changes_after
from warehouse.services.serving import State

router = APIRouter(tags=["changes"], dependencies=[needs("read:condition")])


@router.get(
    "/v1/changes",
    operation_id="changes_list",
    summary="Changes of condition after a number",
    responses=problems(409, 422, 503),
)
def list_changes(
    request: Request, query: Annotated[ChangeQuery, Query()], desk: Asking, state: Newest
) -> ChangeList:
    """Changes of level, zone or basis, in the order the judge recorded them.

    Ask with `after` of the page before, or follow `next`: now while `more` is
    true, else whenever you like. That number never expires, and no change
    comes late behind it. A number is never given twice. An `after` beyond the newest number
    there is ends with 409: the store was put back to an older copy.
    """
    scopes = query.scope or ["asset"]
    found = changes_after(desk, state, query.after, query.limit, scopes, query.site)
    parameters = {"limit": query.limit, "site": query.site, "scope": query.scope}
    given = {name: value for name, value in parameters.items() if value is not None}
    path = request.url.path
    return ChangeList(
        items=[Change(**row, external_id=_external_id(state, row)) for row in found.rows],
        after=found.after,
        more=found.more,
        newest=found.newest,
        next=next_page(path, given, None, after=found.after),
        snapshot=snapshot_document(state.snapshot),
    )


def _external_id(state: State, row: dict[str, object]) -> str | None:
    asset = state.assets.get((str(row["site"]), str(row["asset"])))
    return asset["external_id"] if asset else None
