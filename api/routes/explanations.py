"""Why a machine is judged as it is, step by step."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from api.answers import answer, judged_tag, not_modified
from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.models_work import ExplanationOut, ExplanationQuery
from api.routes.current import IfNoneMatch, documented, problems
from warehouse.errors import NotFoundError
from warehouse.services.desk import Desk
from warehouse.services.explaining import Asked, explain
from warehouse.services.exporting import plain_values
from warehouse.services.serving import State

router = APIRouter(tags=["assets"], dependencies=[needs("read:condition")])


@router.get(
    "/v1/assets/{site}/{asset:path}/explanation",
    operation_id="assets_explain",
    summary="Why an asset is judged as it is",
    response_model=ExplanationOut,
    responses={**documented("Every step with its numbers"), **problems(404, 422, 503)},
)
def get_explanation(
    request: Request,
    site: Annotated[str, Path(description="site code", examples=["raw-water"])],
    asset: Annotated[str, Path(description="asset tag as registered", examples=["P-104"])],
    query: Annotated[ExplanationQuery, Query()],
    desk: Asking,
    state: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Each step of the judgement in words and numbers, and why not another; as `mcw explain`.

    Of the judgement as it was published: silence since then, which makes a level `unknown` in
    other answers, is not in it. It reads the machine's history, and takes longer than they do.
    """
    if (site, asset) not in state.assets:
        raise NotFoundError("asset", f"{site}/{asset}")
    asked = Asked(site, asset, query.member, query.position, query.axis)
    told = ("explained", asked, query.as_of)
    tag, content = state.memory.get(told, lambda: _document(desk, state, asked, query))
    return not_modified(request, tag, state) or answer(content, tag, state)


def _document(desk: Desk, state: State, asked: Asked, query: ExplanationQuery) -> tuple[str, bytes]:
    with desk.places.one() as store:
        found = explain(store, asked, query.as_of, state.snapshot)
    plain: dict[str, Any] = plain_values(found.plain())
    body = ExplanationOut(**{**plain, "snapshot": snapshot_document(state.snapshot)})
    return judged_tag(body), body.model_dump_json().encode()
