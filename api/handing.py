"""Handing packages over: durable before they are acknowledged, and the receipt of it."""

from __future__ import annotations

import asyncio
import queue
from typing import Any, Final

from anyio.to_thread import run_sync
from fastapi import Request
from fastapi.responses import Response

from api.answers import JSON
from api.models_packages import CountsOut, PackageLinks, PackageState, ReceiptOut
from api.refusals import TooManyError
from warehouse.inbox import Delivery, Receipt
from warehouse.services.desk import Desk
from warehouse.services.packages import wait_for_package

RECEIVED: Final[dict[int | str, dict[str, Any]]] = {
    202: {
        "description": "The package is durable; it is taken in by `mcw run`",
        "headers": {
            "Location": {
                "description": "relative URL of the package",
                "schema": {"type": "string"},
            }
        },
    }
}
"""`responses` of a route that takes a package."""


async def handed_over(request: Request, desk: Desk, delivery: Delivery) -> Receipt:
    """The receipt of a delivery, once it is durable. Raises TooManyError where many wait."""
    try:
        told = request.app.state.reception.hand_over(delivery, desk.caller)
    except queue.Full as error:
        raise TooManyError("too many packages wait to be received", 1) from error
    receipt: Receipt = await asyncio.wrap_future(told)
    return receipt


async def receipt_answer(desk: Desk, receipt: Receipt, wait: float) -> Response:
    """202 with the receipt; with `wait` seconds, what became of the package by then.

    Of a package that came before from somebody of more sites no more is told than that.
    """
    package = receipt.package
    url = f"/v1/packages/{package}"
    links = PackageLinks(package=url, rejects=f"{url}/rejects")
    state: PackageState = "received"
    counts, error = None, None
    if wait > 0 and not receipt.wider:
        row = await run_sync(wait_for_package, desk, package, wait)
        state, error = row["state"], row["error"]
        counts = None if state == "received" else CountsOut(**row["counts"])
    body = ReceiptOut(
        package=package,
        repeated=receipt.repeated,
        state=state,
        counts=counts,
        error=error,
        links=links,
    )
    headers = {"Location": url, "Cache-Control": "no-store"}
    return Response(body.model_dump_json(), 202, headers, media_type=JSON)
