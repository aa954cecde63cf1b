"""Tables as answers: a JSON page in the one envelope, or the whole in another form."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from fastapi import Request
from fastapi.responses import Response

from api.answers import answer, form_of, list_tag, not_modified
from api.documents import snapshot_document
from api.paging import check_cursor, fingerprint, next_page
from api.refusals import CursorError, NotAcceptableError
from warehouse.services.desk import Desk
from warehouse.services.exporting import FORMATS, columns_of, encode_table, plain_rows, plain_values
from warehouse.services.serving import State

XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_KEPT_BYTES = 20_000_000


@dataclass(frozen=True, slots=True)
class Besides:
    """What some tables have besides their rows, each made of the state that is asked."""

    facts: Callable[[State], Mapping[str, Any]] | None = None
    """Members of a JSON page besides its items."""
    display: Callable[[State, list[dict[str, Any]]], list[dict[str, Any]]] | None = None
    """Rows of a JSON page with what their site reads."""
    workbook: Callable[[State], bytes] | None = None
    """The whole for people, as XLSX."""


_NOTHING = Besides()


def table_answer(
    request: Request,
    desk: Desk,
    newest: State,
    name: str,
    paging: tuple[int, str | None, str | None],
    parameters: Mapping[str, Any],
    make: Callable[[State], Any],
    besides: Besides = _NOTHING,
) -> Response:
    """The table that `make` gives for a state, as the caller wants it.

    `paging` is limit, cursor and form as asked for. JSON comes page by page; the
    other forms are whole. `parameters` say what is asked and go on into `next`.
    """
    limit, given, wanted = paging
    forms = {**FORMATS, **({"xlsx": XLSX} if besides.workbook else {})}
    form = form_of(request, wanted, forms)
    if besides.display and form not in ("json", "xlsx"):
        raise NotAcceptableError(f"display=site stands in JSON (format=json), not in {form}")
    pages = request.app.state.pages
    cursor = pages.parse(given) if given is not None else None
    state = pages.begin(desk, newest, cursor)
    asked = fingerprint(name, parameters, state.snapshot, desk.caller)
    if cursor:
        check_cursor(cursor, asked)
    tag = list_tag(request, state, state.passed(desk.now(state)), form)
    if known := not_modified(request, tag, state):
        return known
    if form != "json":
        headers = {"Content-Disposition": f'attachment; filename="{name}.{form}"'}
        # The tag names the bytes: those of a form that was asked for a moment ago are at hand.
        content = desk.places.tables.look(tag)
        if content is None:
            if form == "xlsx" and besides.workbook:
                content = besides.workbook(state)
            else:
                content = encode_table(make(state), form)
            if len(content) < _KEPT_BYTES:
                desk.places.tables.keep(tag, content)
        return answer(content, tag, state, forms[form], headers)
    table = make(state)
    start = cursor.after if cursor else 0
    if not isinstance(start, int):
        raise CursorError("the cursor is of another list")
    url = None
    if start + limit < table.num_rows:
        end = pages.end(cursor, state.snapshot, start + limit, asked)
        shown = {"format": wanted} if wanted else {}
        url = next_page(request.url.path, {"limit": limit, **parameters, **shown}, end)
    page = table.slice(start, limit)
    items = plain_rows(page)
    if besides.display:
        items = [plain_values(row) for row in besides.display(state, page.to_pylist())]
    body = {
        "items": items,
        "columns": columns_of(table.schema),
        "next": url,
        **(besides.facts(state) if besides.facts else {}),
        "snapshot": snapshot_document(state.snapshot).model_dump(mode="json"),
    }
    link = {"Link": f'<{url}>; rel="next"'} if url else {}
    return answer(json_bytes(body), tag, state, headers=link)


def json_bytes(body: Mapping[str, Any] | Sequence[Any]) -> bytes:
    """A JSON body of plain values."""
    return json.dumps(body, ensure_ascii=False, allow_nan=False).encode()
