"""What the HTTP side itself refuses: errors that no service raises."""

from __future__ import annotations

import math


class CursorError(Exception):
    """A cursor is malformed, or belongs to another query or store."""


class SnapshotGoneError(Exception):
    """The state a cursor pages through is not held any more."""


class NotReadyError(Exception):
    """No judged state has been published yet."""


class RouteNotFoundError(Exception):
    """Nothing is served at that path."""


class MethodNotAllowedError(Exception):
    """The path is served, but not by that method."""


class RequestRefusedError(Exception):
    """The request cannot be served as HTTP."""


class NotAuthenticatedError(Exception):
    """Nobody knows who asks."""


class NotAllowedError(Exception):
    """Who asks is known, and may not."""


class HostRefusedError(Exception):
    """The server was asked for by a name that is not its own."""


class TooManyError(Exception):
    """Too many requests; `seconds` says when to ask again."""

    def __init__(self, message: str, seconds: float) -> None:
        super().__init__(message)
        self.seconds = max(1, math.ceil(seconds))


class BodyTooLargeError(Exception):
    """The body of the request, or what it unpacks to, is too large."""


class BodySlowError(Exception):
    """The body of the request did not come in time."""


class ContentError(Exception):
    """The body of the request cannot be unpacked."""


class DigestError(Exception):
    """The body is not what `Content-Digest` says it is."""


class MediaTypeError(Exception):
    """The body is of a form that is not taken here."""


class NotAcceptableError(Exception):
    """No form of the answer is one the caller takes."""


class KeyReusedError(Exception):
    """An `Idempotency-Key` came again with something else."""


class RequestUnderWayError(Exception):
    """The same request is being served already."""


class PreconditionError(Exception):
    """The thing was changed since the caller looked."""


class PreconditionNeededError(Exception):
    """A change must name the version it is based on."""
