"""What every route that answers from the store needs: the published state, and problems."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Depends, Request

from api.problems import MEDIA_TYPE, TABLE, NotReadyError
from warehouse.services.serving import Serving, State


async def serving(request: Request) -> Serving:
    """What follows the store."""
    found = request.app.state.serving
    assert isinstance(found, Serving)
    return found


async def newest_state(following: Annotated[Serving, Depends(serving)]) -> State:
    """The newest published state. Raises NotReadyError before the first."""
    if following.current is None:
        raise NotReadyError(TABLE[NotReadyError].meaning)
    return following.current


Following = Annotated[Serving, Depends(serving)]
Newest = Annotated[State, Depends(newest_state)]

_PROBLEMS = {
    400: "The cursor is malformed or belongs to another query",
    404: "Not known in the published state",
    410: "The state a cursor pages through is not held any more",
    422: "A parameter is unknown or has a value that is not allowed",
    500: "A fault of the server; nothing of its inner state is told",
    503: "No judged state has been published yet, or the store cannot be used",
}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """`responses` of a route for these statuses, as problem documents."""
    schema = {"$ref": "#/components/schemas/Problem"}
    return {
        status: {"description": _PROBLEMS[status], "content": {MEDIA_TYPE: {"schema": schema}}}
        for status in (*statuses, 500)
    }


_HEADERS = {
    "ETag": "strong validator of the very bytes served; send it back in If-None-Match",
    "Cache-Control": "`private, no-cache`: keep it, but ask before each use",
    "Vary": "request headers the answer depends on",
    "X-Request-Id": "id of this request, as in the server's log",
}


def documented(description: str, **more: str) -> dict[int | str, dict[str, Any]]:
    """`responses` of a route that answers with an ETag, for 200 and 304."""
    headers = {
        name: {"description": text, "schema": {"type": "string"}}
        for name, text in {**_HEADERS, **more}.items()
    }
    return {
        200: {"description": description, "headers": headers},
        304: {"description": "The copy named in If-None-Match is still right", "headers": headers},
    }
