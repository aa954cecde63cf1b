"""What surrounds every request: its id, the security headers, and the last net for errors."""

from __future__ import annotations

import logging
import re
import uuid

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.answers import SNAPSHOT_HEADER
from api.problems import INTERNAL, problem
from api.watching import Figures
from warehouse.services.serving import Serving

_OWN_ID = re.compile(r"[A-Za-z0-9._-]{1,100}")
_SECURITY = {
    # Styles: the documentation page sets some inline. Scripts never are.
    "Content-Security-Policy": "default-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; object-src 'none'; base-uri 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
_log = logging.getLogger(__name__)


class Surroundings:
    """Pure ASGI middleware; stands outside everything else of the application.

    A request may bring its own id in `X-Request-Id` (letters, digits, `.`, `_`,
    `-`, at most 100); any other is replaced.
    """

    def __init__(self, app: ASGIApp, figures: Figures, serving: Serving) -> None:
        self.app = app
        self.figures = figures
        self.serving = serving

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request with its id and headers; a failure becomes a problem."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        sent = Headers(scope=scope).get("x-request-id", "")
        request_id = sent if _OWN_ID.fullmatch(sent) else uuid.uuid4().hex
        scope.setdefault("state", {})["request_id"] = request_id
        started = False
        status, length = 500, 0
        began = self.figures.begin()

        async def send_with_headers(message: Message) -> None:
            nonlocal started, status, length
            length += len(message.get("body", b""))
            if message["type"] == "http.response.start":
                started = True
                status = message["status"]
                headers = MutableHeaders(scope=message)
                headers["X-Request-Id"] = request_id
                for name, value in _SECURITY.items():
                    headers[name] = value
                if self.serving.rule_faults and SNAPSHOT_HEADER in headers:
                    headers["Judging"] = "stopped"
            await send(message)

        try:
            await self.app(scope, receive, send_with_headers)
        except Exception:
            _log.exception("request %s: %s %s failed", request_id, scope["method"], scope["path"])
            if started:
                raise
            await problem(INTERNAL, request_id)(scope, receive, send_with_headers)
        finally:
            self.figures.end(scope, status, began, length)
