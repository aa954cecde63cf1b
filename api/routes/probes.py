"""Probes for whoever runs the server; not part of the described API."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response
from prometheus_client import CONTENT_TYPE_LATEST

from api.caller import needs
from api.refusals import NotReadyError

router = APIRouter(include_in_schema=False)


@router.get("/livez", operation_id="probes_live")
async def live() -> dict[str, str]:
    """The process answers. Touches nothing."""
    return {"status": "alive"}


@router.get("/readyz", operation_id="probes_ready")
async def ready(request: Request) -> dict[str, str | int]:
    """A published state is loaded; the problem `not-ready` otherwise."""
    state = request.app.state.serving.current
    if state is None:
        raise NotReadyError("no judged state has been published yet")
    return {"status": "ready", "snapshot": state.snapshot.seq}


@router.get("/metrics", operation_id="probes_metrics", dependencies=[needs("read:metrics")])
async def metrics(request: Request) -> Response:
    """Figures of this process for Prometheus."""
    state = request.app.state.serving.current
    seq, as_of = (state.snapshot.seq, state.snapshot.as_of.timestamp()) if state else (None, None)
    text = request.app.state.figures.text(seq, as_of)
    return Response(text, headers={"Content-Type": CONTENT_TYPE_LATEST})
