"""Probes for whoever runs the server; not part of the described API."""

from __future__ import annotations

from fastapi import APIRouter

from api.routes.current import Newest

router = APIRouter(include_in_schema=False)


@router.get("/livez", operation_id="probes_live")
async def live() -> dict[str, str]:
    """The process answers. Touches nothing."""
    return {"status": "alive"}


@router.get("/readyz", operation_id="probes_ready")
async def ready(state: Newest) -> dict[str, str | int]:
    """A published state is loaded; the problem `not-ready` otherwise."""
    return {"status": "ready", "snapshot": state.snapshot.seq}
