"""HEAD wherever GET is: the same answer, without its body."""

from __future__ import annotations

from starlette.types import ASGIApp, Message, Receive, Scope, Send


class Heads:
    """Pure ASGI middleware: a HEAD is served as a GET of which the headers are sent."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def send_without_body(message: Message) -> None:
            if message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        scope["method"] = "GET"
        try:
            await self.app(scope, receive, send_without_body)
        finally:
            scope["method"] = "HEAD"
