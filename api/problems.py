"""Errors as RFC 9457 problems: one table from exception class to status, type and title.

Every problem type is a page of its own at `/problems/SLUG`. Below 500 the
detail is the message of the error, which says what was wrong and what is
allowed; from 500 on it is the type's general text, so that no path or inner
state leaves the process.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from api.models import Problem, ProblemDetail
from api.refusals import (
    BodySlowError,
    BodyTooLargeError,
    ContentError,
    CursorError,
    DigestError,
    HostRefusedError,
    KeyReusedError,
    MediaTypeError,
    MethodNotAllowedError,
    NotAcceptableError,
    NotAllowedError,
    NotAuthenticatedError,
    NotReadyError,
    PreconditionError,
    PreconditionNeededError,
    RequestRefusedError,
    RequestUnderWayError,
    RouteNotFoundError,
    SnapshotGoneError,
    TooManyError,
)
from warehouse import errors

MEDIA_TYPE: Final = "application/problem+json"
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Kind:
    """A problem type: its slug, status and title, what it means and what helps."""

    slug: str
    status: int
    title: str
    meaning: str
    remedy: str

    @property
    def type(self) -> str:
        """The relative URI of the type."""
        return f"/problems/{self.slug}"


INTERNAL = Kind(
    "internal-error", 500, "Internal error",
    "The server failed; this is a fault of the program or its set-up, not of the request.",
    "Report it with the request id (`instance`); the server's log has the cause under that id.",
)  # fmt: skip
_UNAVAILABLE = Kind(
    "store-unavailable", 503, "Store unavailable",
    "The store cannot be used at the moment.",
    "Ask again later; whoever runs the server finds the cause in its log.",
)  # fmt: skip
_FAULTY = Kind(
    "faulty-file", 422, "Faulty file",
    "A mapping, registry or limit file has faults; nothing of it was recorded.",
    "Mend every fault listed in `detail`.",
)  # fmt: skip
_UNUSABLE = Kind(
    "source-unusable", 422, "Source unusable",
    "The content sent cannot be used at all.",
    "Send a file of the form its mapping declares.",
)  # fmt: skip

_INVALID = Kind(
    "invalid-request", 422, "Invalid request",
    "A parameter or field of the request is unknown, missing, or has a value that is not allowed.",
    "Mend every entry of `errors`; `pointer` says where it stands.",
)  # fmt: skip

TABLE: Final[Mapping[type[Exception], Kind]] = {
    errors.WarehouseError: INTERNAL,
    errors.SettingsError: INTERNAL,
    errors.FaultListError: _FAULTY,
    errors.MappingError: _FAULTY,
    errors.RegistryError: _FAULTY,
    errors.LimitSetError: _FAULTY,
    errors.WorkRulesError: _FAULTY,
    errors.CaseError: Kind(
        "case-action-refused", 409, "Case action refused",
        "The state of the case forbids the action; nothing was recorded.",
        "Do one of the actions that `detail` says are allowed now.",
    ),
    errors.CaseFieldError: _INVALID,
    errors.CommissioningError: Kind(
        "commissioning-step-refused", 409, "Commissioning step refused",
        "The step does not fit the mounting; nothing was recorded.",
        "Do what `detail` allows.",
    ),
    errors.PushError: Kind(
        "push-refused", 422, "Push refused",
        "The subscription cannot be like that: its target is not allowed, or its name is taken.",
        "Do what `detail` allows; whoever runs the server allows targets (setting `push_targets`).",
    ),
    errors.AheadError: Kind(
        "after-unknown", 409, "Number not known yet",
        "`after` lies beyond the newest number there is: the store was put back to an older copy.",
        "Go on after `newest`, or read from the start; numbers behind it are given anew.",
    ),
    errors.RouteError: _FAULTY,
    errors.SourceError: _UNUSABLE,
    errors.SourceMissingError: _UNUSABLE,
    errors.UnreadableSourceError: _UNUSABLE,
    errors.AdapterError: Kind(
        "adapter-unknown", 422, "Adapter unknown",
        "The adapter named is not installed, or failed to load.",
        "Name one of those listed in `detail`.",
    ),
    errors.StoreError: _UNAVAILABLE,
    errors.StoreMissingError: _UNAVAILABLE,
    errors.StoreVersionError: _UNAVAILABLE,
    errors.StoreConflictError: _UNAVAILABLE,
    errors.LedgerError: _UNAVAILABLE,
    errors.MissingLedgerError: _UNAVAILABLE,
    errors.OldLedgerError: _UNAVAILABLE,
    errors.LedgerVersionError: _UNAVAILABLE,
    errors.ForeignLedgerError: _UNAVAILABLE,
    errors.DiskFullError: _UNAVAILABLE,
    errors.NoRightError: _UNAVAILABLE,
    errors.BusyError: Kind(
        "busy", 503, "Busy",
        "Others are at work on what this needs; nothing was done.",
        "Ask again as `Retry-After` says.",
    ),
    errors.ClockError: _UNAVAILABLE,
    errors.QueryError: Kind(
        "query-refused", 400, "Query refused",
        "The query is not valid, or ran too long and was stopped.",
        "Correct the query as `detail` says, or ask for less.",
    ),
    errors.NotFoundError: Kind(
        "not-found", 404, "Not found",
        "The thing asked for is not known in the published state, or nothing is judged of it.",
        "Look it up in `/v1/assets`; site and tag are spelt exactly as registered.",
    ),
    RequestValidationError: _INVALID,
    CursorError: Kind(
        "cursor-invalid", 400, "Cursor invalid",
        "The cursor is malformed, or was given for another query, other filters or another store.",
        "Follow `next` or the `Link` header as they are, or begin again without a cursor.",
    ),
    SnapshotGoneError: Kind(
        "snapshot-expired", 410, "Snapshot expired",
        "The published state this cursor pages through is not held any more.",
        "Begin again without a cursor: the list is then of the newest state.",
    ),
    NotReadyError: Kind(
        "not-ready", 503, "Not ready",
        "No judged state has been published yet.",
        "Take readings in with `mcw ingest`, or run `mcw judge`; then ask again.",
    ),
    RouteNotFoundError: Kind(
        "route-not-found", 404, "Route not found",
        "Nothing is served at this path.",
        "The routes are listed at `/docs` and in `/openapi.json`.",
    ),
    MethodNotAllowedError: Kind(
        "method-not-allowed", 405, "Method not allowed",
        "The path is served, but not by this method.",
        "Use a method named in the `Allow` header.",
    ),
    NotAuthenticatedError: Kind(
        "not-authenticated", 401, "Not authenticated",
        "No key was sent, or one that is not known, has ended or was revoked.",
        "Send `Authorization: Bearer KEY`; `mcw keys add` makes a key.",
    ),
    NotAllowedError: Kind(
        "not-allowed", 403, "Not allowed",
        "The key is good, but not for this: it lacks a scope, or is limited to sites or sources.",
        "Use a key that may; `detail` says what is lacking.",
    ),
    HostRefusedError: Kind(
        "host-refused", 403, "Host refused",
        "A server without keys answers to loopback names only, so that no page of another site "
        "can ask it through a browser.",
        "Ask for `localhost`, `127.0.0.1` or `[::1]`, or start the server with keys.",
    ),
    TooManyError: Kind(
        "too-many-requests", 429, "Too many requests",
        "This key has too many requests under way, or asked too often.",
        "Wait as long as `Retry-After` says, then ask again.",
    ),
    BodyTooLargeError: Kind(
        "body-too-large", 413, "Body too large",
        "The body of the request, or what it unpacks to, is larger than this server takes.",
        "Send smaller packages, or have setting `body_mb` raised.",
    ),
    BodySlowError: Kind(
        "body-slow", 408, "Body too slow",
        "The body of the request did not come in time.",
        "Send it again, in smaller pieces where the line is slow.",
    ),
    ContentError: Kind(
        "content-unreadable", 400, "Content unreadable",
        "The body cannot be unpacked as `Content-Encoding` says, or is not valid.",
        "Send it as its headers say.",
    ),
    DigestError: Kind(
        "digest-mismatch", 400, "Digest mismatch",
        "The body that arrived is not the one `Content-Digest` (RFC 9530) was made of.",
        "Send it again; check what stands between the sender and this server.",
    ),
    MediaTypeError: Kind(
        "media-type-unsupported", 415, "Media type unsupported",
        "The body is of a form, or packed in a way, that is not taken here.",
        "Send one of those named in `detail`.",
    ),
    NotAcceptableError: Kind(
        "not-acceptable", 406, "Not acceptable",
        "No form of the answer is one that `Accept` or `format` names.",
        "Ask for one of those named in `detail`.",
    ),
    KeyReusedError: Kind(
        "idempotency-key-reused", 422, "Idempotency key reused",
        "The same `Idempotency-Key` came before with another body or source.",
        "Use a new key for each package, the same only to send it once more.",
    ),
    RequestUnderWayError: Kind(
        "request-under-way", 409, "Request under way",
        "A request with the same `Idempotency-Key` is being served.",
        "Wait a second and send it again: the answer is then the same.",
    ),
    PreconditionError: Kind(
        "precondition-failed", 412, "Precondition failed",
        "The thing was changed by others since the version named in `If-Match`.",
        "Read it again, make the change on that, and send its ETag.",
    ),
    PreconditionNeededError: Kind(
        "precondition-required", 428, "Precondition required",
        "A change must name the version it was made on, so that nobody's change is lost.",
        "Send the ETag of the last read in `If-Match`.",
    ),
    RequestRefusedError: Kind(
        "request-refused", 400, "Request refused",
        "The request cannot be served as HTTP; the status says more.",
        "Correct the request.",
    ),
}  # fmt: skip
"""Exception class to problem type; a class not listed takes that of its nearest base."""

KINDS: Final[Mapping[str, Kind]] = {kind.slug: kind for kind in (*TABLE.values(), INTERNAL)}
"""Problem types by slug."""


def kind_of(error: type[BaseException]) -> Kind:
    """The problem type of an exception class."""
    for base in error.__mro__:
        if base in TABLE:
            return TABLE[base]
    return INTERNAL


def problem(
    kind: Kind,
    request_id: str,
    detail: str | None = None,
    details: Sequence[ProblemDetail] = (),
    headers: Mapping[str, str] | None = None,
    status: int | None = None,
    newest: int | None = None,
) -> Response:
    """A problem response. From 500 on the detail is the kind's own text."""
    code = status or kind.status
    body = Problem(
        type=kind.type,
        title=kind.title,
        status=code,
        detail=detail if detail and code < HTTPStatus.INTERNAL_SERVER_ERROR else kind.meaning,
        instance=request_id,
        newest=newest,
        errors=list(details) or None,
    )
    more = {"Cache-Control": "no-store", **(headers or {})}
    if code == HTTPStatus.SERVICE_UNAVAILABLE:
        more["Retry-After"] = "2"
    text = body.model_dump_json(exclude_none=True)
    return Response(text, code, more, media_type=MEDIA_TYPE)


def request_id(request: Request) -> str:
    """The id under which this request is logged."""
    return str(request.state.request_id)


def install(app: FastAPI) -> None:
    """Answer every error of `app` as a problem."""
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
    for error in TABLE:
        if error is not RequestValidationError:
            app.add_exception_handler(error, _deliberate)


async def _deliberate(request: Request, error: Exception) -> Response:
    kind = kind_of(type(error))
    if kind.status >= HTTPStatus.INTERNAL_SERVER_ERROR and not isinstance(error, NotReadyError):
        _log.error("request %s: %s", request_id(request), error)
    headers = {"Retry-After": str(error.seconds)} if isinstance(error, TooManyError) else None
    told, details = str(error) or kind.meaning, _fields(error)
    newest = error.newest if isinstance(error, errors.AheadError) else None
    return problem(kind, request_id(request), told, details, headers, newest=newest)


def _fields(error: Exception) -> list[ProblemDetail]:
    """Where in the body a service found fault, as a fault of the shape is told."""
    if not isinstance(error, errors.CaseFieldError):
        return []
    return [
        ProblemDetail(detail=fault, pointer=f"/body/{name}", code="value_error")
        for name, fault in error.fields
    ]


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    details = [_detail(entry) for entry in error.errors()]
    kind = TABLE[RequestValidationError]
    told = "; ".join(f"{entry.pointer}: {entry.detail}" for entry in details)
    sent = request.headers.get("content-type", "")
    if any(entry.pointer == "/body" for entry in details) and "json" not in sent.lower():
        told += "; the body was not read as JSON: send Content-Type: application/json"
    return problem(kind, request_id(request), told, details)


def _detail(entry: Mapping[str, Any]) -> ProblemDetail:
    steps = (str(step).replace("~", "~0").replace("/", "~1") for step in entry["loc"])
    return ProblemDetail(
        detail=entry["msg"], pointer="".join(f"/{step}" for step in steps), code=entry["type"]
    )


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    path, method = request.url.path, request.method
    headers = dict(error.headers or {})
    if error.status_code == HTTPStatus.NOT_FOUND:
        kind, detail = TABLE[RouteNotFoundError], f"nothing is served at {path}"
    elif error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        kind = TABLE[MethodNotAllowedError]
        detail = f"{method} is not allowed at {path}; allowed: {headers.get('Allow', 'see /docs')}"
    elif error.status_code >= HTTPStatus.INTERNAL_SERVER_ERROR:
        kind, detail = INTERNAL, INTERNAL.meaning
    elif isinstance(error.__cause__, (BodyTooLargeError, BodySlowError)):
        # The framework tells every failure to read a body as 400: this one is known better.
        return await _deliberate(request, error.__cause__)
    else:
        kind, detail = TABLE[RequestRefusedError], HTTPStatus(error.status_code).phrase
    return problem(kind, request_id(request), detail, headers=headers, status=error.status_code)
