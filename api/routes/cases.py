"""Cases: what wants somebody's attention, what a planner needs of it, and acting on it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Header, Path, Query, Request
from fastapi.responses import Response

from api.answers import answer, judged_tag, not_modified
from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.models_cases import (
    CaseActed,
    CaseActionIn,
    CaseHappening,
    CaseOut,
    CaseQuery,
    CaseSummary,
    Notice,
    NoticeList,
    NoticeQuery,
    SuppressionDone,
    SuppressionIn,
    SuppressionList,
    SuppressionOut,
)
from api.models_lists import RowList
from api.paging import next_page
from api.refusals import ContentError, KeyReusedError
from api.routes.current import IfNoneMatch, documented, listed, problems
from api.shown import CASE_MOMENTS, AskedDisplay, named, shown
from api.tables import Besides, table_answer
from warehouse.services import cases_served as service
from warehouse.services.desk import Desk
from warehouse.services.exporting import plain_values
from warehouse.services.serving import State

router = APIRouter(tags=["cases"], dependencies=[needs("read:condition")])
changing = APIRouter(tags=["cases"], dependencies=[needs("write:work")])

CaseNumber = Annotated[int, Path(ge=0, le=2**53, description="number of the case", examples=[8])]
IdempotencyKey = Annotated[
    str | None,
    Header(
        description="required: a name of this request, such as a UUID, so that sending it again "
        "acts no second time and gets the same answer; kept for 30 days",
        max_length=200,
    ),
]


@router.get(
    "/v1/cases",
    operation_id="cases_list",
    summary="List cases, the most urgent first",
    response_model=RowList,
    responses={
        **listed("One page of cases, or all of them in another form"),
        **problems(400, 406, 410, 422, 503),
    },
)
def list_cases(
    request: Request,
    query: Annotated[CaseQuery, Query()],
    desk: Asking,
    newest: Newest,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """Open cases with what kind of action they ask for and until when; closed ones by `state`.

    JSON comes page by page; NDJSON, CSV and an Arrow stream are whole.
    """
    filters = query.filters()

    def make(state: State) -> object:
        return service.cases_table(desk, state, filters)

    paging = (query.limit, query.cursor, query.format)
    asked = {**filters, **named(query.display)}
    besides = Besides(display=shown(desk, query.display, CASE_MOMENTS))
    return table_answer(request, desk, newest, "cases", paging, asked, make, besides)


@router.get(
    "/v1/cases/{case_id}",
    operation_id="cases_get",
    summary="One case with all a planner needs",
    response_model=CaseOut,
    responses={**documented("The case"), **problems(404, 422, 503)},
)
def get_case(
    request: Request,
    case_id: CaseNumber,
    desk: Asking,
    state: Newest,
    display: AskedDisplay = None,
    if_none_match: IfNoneMatch = None,  # noqa: ARG001 - read by `not_modified`
) -> Response:
    """What changed since when, the evidence, what to do by when, and everything that happened.

    A notification, never an order.
    """
    told = ("case", case_id, display)
    tag, content = state.memory.get(told, lambda: _document(desk, state, case_id, display))
    return not_modified(request, tag, state) or answer(content, tag, state)


def _document(desk: Desk, state: State, case_id: int, display: str | None) -> tuple[str, bytes]:
    found = service.case_of(desk, state, case_id)
    case, now = found["case"], found["summary"]
    told = {"summary", "repairs", "events", "caution", "snapshot", "display"}
    own = CaseOut.model_fields.keys() - told
    body = CaseOut(
        **{name: case[name] for name in own},
        summary=CaseSummary(**_of(CaseSummary, now)) if now else None,
        repairs=[plain_values(row) for row in found["repairs"]],
        events=[CaseHappening(**_of(CaseHappening, row)) for row in found["life"]],
        caution=found["caution"],
        snapshot=snapshot_document(state.snapshot),
        display=_shown(desk, state, display, case | (found["measured"] or {})),
    )
    return judged_tag(body), body.model_dump_json().encode()


def _shown(desk: Desk, state: State, wanted: str | None, row: dict[str, Any]) -> Any:
    add = shown(desk, wanted, CASE_MOMENTS)
    return plain_values(add(state, [row])[0]["display"]) if add else None


def _of(model: Any, row: dict[str, Any]) -> dict[str, Any]:
    return {name: row[name] for name in model.model_fields}


@changing.post(
    "/v1/cases/{case_id}/actions",
    operation_id="cases_act",
    summary="Record what a person does about a case",
    responses=problems(400, 404, 408, 409, 413, 422, 503),
)
def act(
    case_id: CaseNumber, wanted: CaseActionIn, desk: Asking, idempotency_key: IdempotencyKey = None
) -> CaseActed:
    """Acknowledge, confirm, request work, defer, report or verify work, dispose, assign, comment.

    What does not fit the state of the case is refused and says what is allowed.
    The lists show it in the next published state.
    """
    name = _named(idempotency_key)
    done = service.act_once(desk, name, case_id, wanted.action, wanted.person, wanted.said())
    return CaseActed(**_fitting(done), repeated=done.repeated)


def _named(key: str | None) -> str:
    if not key:
        raise ContentError("the header Idempotency-Key is missing: name the request, as by a UUID")
    return key


def _fitting(done: service.Acted) -> dict[str, Any]:
    if done.clashes:
        raise KeyReusedError("this Idempotency-Key came before with something else")
    return done.answer


@router.get(
    "/v1/suppressions",
    operation_id="suppressions_list",
    summary="List machines of which no case is wanted",
    responses=problems(503),
)
def list_suppressions(desk: Asking, state: Newest) -> SuppressionList:
    """Suppressions in force: until when, by whom and why. Danger is told all the same."""
    rows = service.suppressions_of(desk, state)
    return SuppressionList(
        items=[SuppressionOut(**row) for row in rows],
        next=None,
        snapshot=snapshot_document(state.snapshot),
    )


@changing.post(
    "/v1/suppressions",
    operation_id="suppressions_record",
    summary="Want no case of a machine until a day, or again",
    responses=problems(400, 404, 408, 409, 413, 422, 503),
)
def suppress(
    wanted: SuppressionIn, desk: Asking, idempotency_key: IdempotencyKey = None
) -> SuppressionDone:
    """No new case of a machine until a day, with a reason; `release` ends that before."""
    machine = (wanted.site, wanted.asset, wanted.member)
    done = service.suppress_once(
        desk, _named(idempotency_key), machine, wanted.basis, wanted.action, wanted.person,
        wanted.said(),
    )  # fmt: skip
    return SuppressionDone(**_fitting(done), repeated=done.repeated)


@router.get(
    "/v1/notifications",
    operation_id="notifications_list",
    summary="What the maintenance system is told, after a number",
    responses=problems(409, 422, 503),
)
def list_notifications(
    request: Request, query: Annotated[NoticeQuery, Query()], desk: Asking, state: Newest
) -> NoticeList:
    """Notifications of cases in order, each once. Ask with `after` of the page before.

    That number never expires, and nothing comes late behind it. An `after` beyond the newest
    number there is ends with 409: the store was put back to an older copy.
    """
    found = service.notices_after(desk, state, query.after, query.limit, query.site)
    given = {n: v for n, v in (("limit", query.limit), ("site", query.site)) if v is not None}
    return NoticeList(
        items=[Notice(**row) for row in found.rows],
        after=found.after,
        more=found.more,
        newest=found.newest,
        next=next_page(request.url.path, given, None, after=found.after),
        snapshot=snapshot_document(state.snapshot),
    )
