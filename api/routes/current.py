"""What routes say of themselves in the description: their problems and headers."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Header, Query

from api.examples import problem_example
from api.problems import MEDIA_TYPE
from warehouse.services.exporting import FORMATS

IfNoneMatch = Annotated[
    str | None,
    Header(description="ETags of copies at hand, or `*`: 304 where one of them is still right"),
]
Format = Annotated[
    str | None,
    Query(description="form of the answer, instead of `Accept`: json, ndjson, csv or arrow"),
]

_PROBLEMS = {
    400: "The request cannot be understood: a cursor, a body or a query is at fault",
    401: "No key was sent, or one that is not good any more",
    403: "The key is good, but not for this",
    404: "Not known in the published state, or not the caller's business",
    406: "No form of the answer is one the caller takes",
    408: "The body did not come in time",
    409: "The same request is being served already",
    410: "The state a cursor pages through is not held any more",
    412: "It was changed since the version named in If-Match",
    413: "The body is too large",
    415: "The body is of a form that is not taken here",
    422: "A parameter or the body is unknown or has a value that is not allowed",
    428: "If-Match is missing",
    429: "Too many requests of this key; see Retry-After",
    500: "A fault of the server; nothing of its inner state is told",
    503: "No judged state has been published yet, or the store cannot be used",
}
DOORS = (401, 403, 429)
"""What every route behind the doors may answer."""


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """`responses` of a route for these statuses, as problem documents with an example each."""
    schema = {"$ref": "#/components/schemas/Problem"}
    return {
        status: {
            "description": _PROBLEMS[status],
            "content": {MEDIA_TYPE: {"schema": schema, "example": problem_example(status)}},
        }
        for status in (*statuses, 500)
    }


_HEADERS = {
    "ETag": "validator of the answer; send it back in If-None-Match",
    "Cache-Control": "`private, no-cache`: keep it, but ask before each use",
    "Vary": "request headers the answer depends on",
    "X-Request-Id": "id of this request, as in the server's log",
    "Snapshot-Seq": "number of the published state the answer is taken from",
    "Judging": "`stopped` where faults of limit files or work rules keep the store from being "
    "judged: the answer is of before, whatever came since; absent otherwise",
}


def listed(description: str, *forms: str) -> dict[int | str, dict[str, Any]]:
    """`responses` of a list: a JSON page with the way to the next, or all of it in other forms.

    `forms` are media types beside those that every list has.
    """
    link = '`<URL>; rel="next"` (RFC 8288), but on the last page'
    return documented(description, *FORMATS.values(), *forms, Link=link)


def documented(description: str, *forms: str, **more: str) -> dict[int | str, dict[str, Any]]:
    """`responses` of a route that answers with an ETag, for 200 and 304.

    `forms` are media types the answer may have besides JSON.
    """
    headers = {
        name: {"description": text, "schema": {"type": "string"}}
        for name, text in {**_HEADERS, **more}.items()
    }
    whole: dict[str, Any] = {"description": description, "headers": headers}
    if forms:
        text = {"type": "string", "description": "the whole table in this form"}
        whole["content"] = {form: {"schema": text} for form in forms}
    return {
        200: whole,
        304: {"description": "The copy named in If-None-Match is still right", "headers": headers},
    }
