"""Assets: the list, and the judged condition of one with its whole evidence."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Annotated

from fastapi import APIRouter, Header, Path, Query, Request
from fastapi.responses import Response

from api.answers import answer
from api.documents import asset_condition, asset_item, snapshot_document
from api.models import AssetCondition, AssetItem, AssetList, AssetQuery
from api.paging import Cursor, check_cursor, fingerprint, next_page, parse_cursor
from api.problems import CursorError, SnapshotGoneError
from api.routes.current import Following, Newest, documented, problems
from warehouse.errors import NotFoundError
from warehouse.services.serving import Key, Serving, State

router = APIRouter(tags=["assets"])

_IfNoneMatch = Annotated[
    str | None,
    Header(description="ETags of copies at hand, or `*`: 304 where one of them is still right"),
]


@router.get(
    "/v1/assets",
    operation_id="assets_list",
    summary="List assets with their level",
    response_model=AssetList,
    responses={
        **documented("One page of assets", Link='`<URL>; rel="next"` (RFC 8288), but on the last'),
        **problems(400, 410, 422, 503),
    },
)
def list_assets(
    request: Request,
    query: Annotated[AssetQuery, Query()],
    following: Following,
    newest: Newest,
    if_none_match: _IfNoneMatch = None,  # noqa: ARG001 - read by `answer`; here for the description
) -> Response:
    """Registered assets, sorted by site and asset, each with its level as of now.

    All pages are taken from the state of the first page. Begin again without a
    cursor to see newer states.
    """
    filters = query.filters()
    cursor = parse_cursor(query.cursor) if query.cursor is not None else None
    state = _paged_state(cursor, following, newest)
    asked = fingerprint(filters, state.snapshot)
    if cursor:
        check_cursor(cursor, asked)
    found = list(islice(_chosen(following, state, filters, cursor), query.limit + 1))
    page, more = found[: query.limit], found[query.limit :]
    url = None
    if more:
        site, asset = page[-1].site, page[-1].asset
        end = Cursor(seq=state.snapshot.seq, site=site, asset=asset, query=asked)
        url = next_page(request.url.path, {"limit": query.limit, **filters}, end)
    body = AssetList(items=page, next=url, snapshot=snapshot_document(state.snapshot))
    return answer(request, body, {"Link": f'<{url}>; rel="next"'} if url else {})


def _paged_state(cursor: Cursor | None, following: Serving, newest: State) -> State:
    if cursor is None:
        return newest
    if cursor.seq > newest.snapshot.seq:
        raise CursorError("the cursor was given by another store")
    state = following.held(cursor.seq)
    if state is None:
        raise SnapshotGoneError("the state this cursor pages through is not held any more")
    return state


def _chosen(
    following: Serving, state: State, filters: Mapping[str, list[str]], cursor: Cursor | None
) -> Iterator[AssetItem]:
    now = following.now(state)
    for key in state.after(cursor.key if cursor else None):
        item = asset_item(key, state.assets[key], state.summary(key, now))
        if all(getattr(item, name) in values for name, values in filters.items()):
            yield item


@router.get(
    "/v1/assets/{site}/{asset:path}/condition",
    operation_id="assets_get_condition",
    summary="Condition of one asset, with its evidence",
    response_model=AssetCondition,
    responses={**documented("The judged condition as of now"), **problems(404, 422, 503)},
)
async def get_condition(
    request: Request,
    site: Annotated[str, Path(description="site code", examples=["raw-water"])],
    asset: Annotated[str, Path(description="asset tag as registered", examples=["P-101"])],
    following: Following,
    state: Newest,
    if_none_match: _IfNoneMatch = None,  # noqa: ARG001 - read by `answer`; here for the description
) -> Response:
    """The judged condition of an asset, its machines and its measuring positions.

    Past `stale_after` the level is `unknown` and the judged one stands in
    `last_level`: silence is never served as healthy.
    """
    key: Key = (site, asset)
    if key not in state.assets:
        raise NotFoundError("asset", f"{site}/{asset}")
    judgement = state.judgement(key, following.now(state))
    if judgement is None:
        raise NotFoundError("judged condition of asset", f"{site}/{asset}")
    return answer(request, asset_condition(state.assets[key], judgement, state.snapshot))
