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
    """A published state is loaded, and whether it can be judged anew; else `not-ready`."""
    state = request.app.state.serving.current
    if state is None:
        raise NotReadyError("no judged state has been published yet")
    # what was judged before is still served: not judging makes a server no less ready
    judging = "stopped" if request.app.state.serving.rule_faults else "possible"
    return {"status": "ready", "snapshot": state.snapshot.seq, "judging": judging}


@router.get("/metrics", operation_id="probes_metrics", dependencies=[needs("read:metrics")])
async def metrics(request: Request) -> Response:
    """Figures of this process for Prometheus."""
    state = request.app.state.serving.current
    seq, as_of = (state.snapshot.seq, state.snapshot.as_of.timestamp()) if state else (None, None)
    faults = len(request.app.state.serving.rule_faults)
    text = request.app.state.figures.text(seq, as_of, faults)
    return Response(text, headers={"Content-Type": CONTENT_TYPE_LATEST})
