"""Who asks, as routes see them: a desk that holds the caller's limits, and the scopes needed."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Annotated, Any

from fastapi import Depends, Request

from api.refusals import NotAllowedError, NotReadyError
from warehouse.access import SCOPES, Caller
from warehouse.services.desk import Desk
from warehouse.services.serving import State


def caller_of(request: Request) -> Caller:
    """Who asks; the doors have found out."""
    found = request.state.caller
    assert isinstance(found, Caller)
    return found


async def desk_of(request: Request) -> Desk:
    """The desk of who asks. There is no other way to the store."""
    state = request.app.state
    return Desk(state.serving, state.places, caller_of(request))


Asking = Annotated[Desk, Depends(desk_of)]


async def newest_state(desk: Asking) -> State:
    """The newest published state as the caller may see it. Raises NotReadyError before it."""
    state = desk.newest()
    if state is None:
        raise NotReadyError("no judged state has been published yet")
    return state


Newest = Annotated[State, Depends(newest_state)]


def needs(scope: str, whole: bool = False) -> Any:
    """A dependency: the caller has this scope, and with `whole` is limited to no sites.

    Every route under `/v1` has one; a test counts them.
    """
    assert scope in SCOPES

    async def check(request: Request) -> None:
        caller = caller_of(request)
        if scope not in caller.scopes:
            raise NotAllowedError(f"this key lacks the scope {scope}")
        if whole and caller.limited:
            raise NotAllowedError("a key that is limited to sites may not do this")

    asked: Callable[[Request], Awaitable[None]] = check
    asked.__dict__["scope"] = scope
    return Depends(asked)
