"""Assets: the list, and the judged condition of one with its whole evidence."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import islice
from typing import Annotated

from anyio.to_thread import run_sync
from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from api.answers import answer, judged_tag, list_tag, not_modified
from api.caller import Asking, Newest, needs
from api.documents import asset_condition, asset_item, snapshot_document
from api.models import AssetCondition, AssetItem, AssetList, AssetQuery
from api.paging import Cursor, check_cursor, fingerprint, next_page
from api.refusals import CursorError
from api.routes.current import IfNoneMatch, documented, problems
from api.shown import MOMENTS, AskedDisplay, shown
from warehouse.errors import NotFoundError
from warehouse.services.desk import Desk
from warehouse.services.serving import Key, State

router = APIRouter(tags=["assets"], dependencies=[needs("read:condition")])


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
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Registered assets, sorted by site and asset, each with its level as of now.

    All pages are taken from the state of the first page. Begin again without a
    cursor to see newer states.
    """
    pages = request.app.state.pages
    filters = query.filters()
    cursor = pages.parse(query.cursor) if query.cursor is not None else None
    state = pages.begin(desk, newest, cursor)
    asked = fingerprint("assets", filters, state.snapshot, desk.caller)
    if cursor:
        check_cursor(cursor, asked)
    tag = list_tag(request, state, state.passed(desk.now(state)), "json")
    if known := not_modified(request, tag, state):
        return known
    found = list(islice(_chosen(desk, state, filters, _after(cursor)), query.limit + 1))
    page, more = found[: query.limit], found[query.limit :]
    url = None
    if more:
        end = pages.end(cursor, state.snapshot, [page[-1].site, page[-1].asset], asked)
        url = next_page(request.url.path, {"limit": query.limit, **filters}, end)
    body = AssetList(items=page, next=url, snapshot=snapshot_document(state.snapshot))
    link = {"Link": f'<{url}>; rel="next"'} if url else {}
    return answer(body.model_dump_json().encode(), tag, state, headers=link)


def _after(cursor: Cursor | None) -> Key | None:
    if cursor is None:
        return None
    if isinstance(cursor.after, int) or len(cursor.after) != 2:
        raise CursorError("the cursor is of another list")
    return cursor.after[0], cursor.after[1]


def _chosen(
    desk: Desk, state: State, filters: Mapping[str, list[str]], last: Key | None
) -> Iterator[AssetItem]:
    now = desk.now(state)
    for key in state.after(last):
        item = asset_item(key, state.assets[key], state.summary(key, now))
        if all(_passes(item, state, key, name, values) for name, values in filters.items()):
            yield item


def _passes(item: AssetItem, state: State, key: Key, name: str, values: list[str]) -> bool:
    if name == "class":
        return not state.classes.get(key, frozenset()).isdisjoint(values)
    return getattr(item, name) in values


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
    desk: Asking,
    state: Newest,
    display: AskedDisplay = None,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """The judged condition of an asset, its machines and its measuring positions.

    Past `stale_after` the level is `unknown` and the judged one stands in
    `last_level`: silence is never served as healthy.
    """
    key: Key = (site, asset)
    place = state.places.get(key)
    # As long as no moment of the asset passes, the answer is the same: it is made once.
    told = (key, place.span(desk.now(state)) if place else None, display)
    found = state.memory.look(told)
    if found is None and display:  # the first of a state reads the registry
        found = await run_sync(_document, desk, state, key, display)
        state.memory.keep(told, found)
    tag, content = found or state.memory.get(told, lambda: _document(desk, state, key))
    return not_modified(request, tag, state) or answer(content, tag, state)


def _document(desk: Desk, state: State, key: Key, display: str | None = None) -> tuple[str, bytes]:
    name = "/".join(key)
    if key not in state.assets:
        raise NotFoundError("asset", name)
    judgement = state.judgement(key, desk.now(state))
    if judgement is None:
        raise NotFoundError("judged condition of asset", name)
    add = shown(desk, display, MOMENTS)
    body = asset_condition(
        state.assets[key], judgement, state.snapshot, partial(add, state) if add else None
    )
    return judged_tag(body), body.model_dump_json().encode()
