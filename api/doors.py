"""The doors: who asks, whether they may come in now, and how much they may send.

Pure ASGI, outside every route, so that no route can forget it. Who asks is a
`Caller` in the request's state; what that caller may see is held by `desk`.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import kind_of, problem
from api.refusals import (
    BodySlowError,
    BodyTooLargeError,
    HostRefusedError,
    NotAuthenticatedError,
    TooManyError,
)
from api.tokens import Tokens
from warehouse.access import EVERYBODY, Caller
from warehouse.services.keys import Keyring
from warehouse.settings import Settings
from warehouse.store import Store

OPEN: Final = ("/livez", "/readyz", "/docs", "/openapi.json", "/problems")
"""Paths, and what lies below them, that need no key: they tell nothing of any plant."""

_LOOPBACK_NAMES: Final = ("localhost", "127.0.0.1", "[::1]")
_MOST_CALLERS = 10_000
_log = logging.getLogger(__name__)


@dataclass(slots=True)
class _Use:
    """What one caller is doing: requests under way, and those it may still make this minute."""

    under_way: int = 0
    left: float = 0.0
    counted_at: float = field(default_factory=time.monotonic)

    def take(self, rate: int) -> float:
        """One request off what is left; seconds to wait where nothing is."""
        now = time.monotonic()
        self.left = min(rate, self.left + (now - self.counted_at) * rate / 60)
        self.counted_at = now
        if self.left < 1:
            return (1 - self.left) * 60 / rate
        self.left -= 1
        return 0.0


class Guard:
    """Who may come in. Without a keyring everybody may, asked for by a loopback name only."""

    def __init__(self, settings: Settings, keyring: Keyring | None, tokens: Tokens | None) -> None:
        self.settings = settings
        self.keyring, self.tokens = keyring, tokens
        self._uses: OrderedDict[str, _Use] = OrderedDict()

    @classmethod
    def of(cls, store: Store, without_keys: bool = False) -> Guard:
        """The guard of a store; `without_keys` lets everybody in and is for loopback only."""
        if without_keys:
            return cls(store.settings, None, None)
        return cls(store.settings, Keyring(store), Tokens.of(store.settings))

    async def caller(self, headers: Headers) -> Caller:
        """Who asks. Raises NotAuthenticatedError where nobody knows."""
        if self.keyring is None:
            host = headers.get("host", "").rpartition(":")
            name = host[0] if host[0] and host[2].isdigit() else headers.get("host", "")
            if name not in _LOOPBACK_NAMES:
                raise HostRefusedError(
                    "without keys this server answers to a loopback name only: "
                    + ", ".join(_LOOPBACK_NAMES)
                )
            return EVERYBODY
        scheme, _, text = headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer" or not text:
            raise NotAuthenticatedError("a key is needed: Authorization: Bearer mcw_...")
        text = text.strip()
        if key := self.keyring.check(text):
            if self.keyring.use_is_due(key):
                await asyncio.to_thread(self.keyring.note_use, key)
            return key.caller
        if self.tokens and text.count(".") == 2:
            found = await asyncio.to_thread(self.tokens.check, text)
            if found:
                return found
        raise NotAuthenticatedError("the key or token is not known, or not valid any more")

    def enter(self, caller: Caller) -> Callable[[], None]:
        """Count a request in; the function returned counts it out. Raises TooManyError."""
        use = self._uses.setdefault(caller.name, _Use(left=self.settings.key_rate))
        self._uses.move_to_end(caller.name)
        if len(self._uses) > _MOST_CALLERS:
            idle = next((name for name, one in self._uses.items() if not one.under_way), None)
            self._uses.pop(idle or "", None)
        if use.under_way >= self.settings.key_requests:
            raise TooManyError(
                f"{use.under_way} requests of this key are under way; "
                f"{self.settings.key_requests} may be (setting key_requests)",
                1,
            )
        if self.settings.key_rate and (wait := use.take(self.settings.key_rate)):
            raise TooManyError(
                f"this key may ask {self.settings.key_rate} times a minute (setting key_rate)",
                wait,
            )
        use.under_way += 1

        def leave() -> None:
            use.under_way -= 1

        return leave


class Doors:
    """Lets requests in: known callers, within their limits, with bodies of a bearable size."""

    def __init__(self, app: ASGIApp, guard: Guard) -> None:
        self.app, self.guard = app, guard

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, or answer why not."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        state = scope.setdefault("state", {})
        try:
            self._check_length(headers)
            if _is_open(scope["path"]):
                await self.app(scope, self._bounded(receive), send)
                return
            caller = await self.guard.caller(headers)
            state["caller"] = caller
            leave = self.guard.enter(caller)
        except (NotAuthenticatedError, TooManyError, BodyTooLargeError, HostRefusedError) as error:
            await refuse(error, str(state.get("request_id", "")))(scope, receive, send)
            return
        try:
            await self.app(scope, self._bounded(receive), _varied(send))
        finally:
            leave()

    def _check_length(self, headers: Headers) -> None:
        most = self.guard.settings.body_mb * 1_000_000
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > most:
            raise _too_large(self.guard.settings.body_mb)

    def _bounded(self, receive: Receive) -> Receive:
        """What is received, at most so much of it, and no longer waited for than is right."""
        settings = self.guard.settings
        most = settings.body_mb * 1_000_000
        seen = 0
        whole = False

        async def bounded() -> Message:
            nonlocal seen, whole
            if whole:  # what comes now is the caller going away: that may take its time
                return await receive()
            try:
                message = await asyncio.wait_for(receive(), settings.body_seconds)
            except TimeoutError as error:
                raise BodySlowError(
                    f"nothing came for {settings.body_seconds:g} s (setting body_seconds)"
                ) from error
            seen += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if seen > most:
                raise _too_large(settings.body_mb)
            return message

        return bounded


def _is_open(path: str) -> bool:
    return any(path == one or path.startswith(f"{one}/") for one in OPEN)


def _too_large(megabytes: int) -> BodyTooLargeError:
    return BodyTooLargeError(f"the body is larger than {megabytes} MB (setting body_mb)")


def _varied(send: Send) -> Send:
    """Tell caches that an answer is one caller's own."""

    async def told(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message).add_vary_header("Authorization")
        await send(message)

    return told


def refuse(error: Exception, request_id: str) -> ASGIApp:
    """The problem that tells why a request is not let in."""
    headers = {}
    if isinstance(error, NotAuthenticatedError):
        headers["WWW-Authenticate"] = 'Bearer realm="mcw"'
    if isinstance(error, TooManyError):
        headers["Retry-After"] = str(error.seconds)
    return problem(kind_of(type(error)), request_id, str(error), headers=headers)
