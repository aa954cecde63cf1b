"""Packages and what became of them: counts, rejects, replay; and the sources they come from."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request

from api.caller import Asking, Newest, needs
from api.models_packages import (
    PackageLife,
    PackageLinks,
    PackageList,
    PackageOut,
    PackageQuery,
    PackageRejects,
    RejectGroup,
    RejectList,
    RejectOut,
    RejectQuery,
    Replay,
    Replayed,
    SourceList,
    SourceOut,
)
from api.paging import next_page
from api.routes.current import problems
from schemas.reasons import REJECT_REASON
from warehouse.services import packages as service

router = APIRouter(tags=["packages"], dependencies=[needs("read:sources")])
changing = APIRouter(tags=["packages"], dependencies=[needs("admin:sources")])

Number = Annotated[
    int, Path(ge=0, le=2**53, description="number of a package", examples=[417220000000012])
]


@router.get(
    "/v1/packages",
    operation_id="packages_list",
    summary="List packages, newest first",
    responses=problems(422, 503),
)
def list_packages(
    request: Request, query: Annotated[PackageQuery, Query()], desk: Asking
) -> PackageList:
    """Packages and what became of each. They come from the ledger, not from a published state."""
    rows = service.list_packages(desk, query.before, query.limit + 1, query.source, query.state)
    url = None
    if len(rows) > query.limit:
        rows = rows[: query.limit]
        given = {"limit": query.limit, "source": query.source, "state": query.state}
        url = next_page(request.url.path, given, before=rows[-1]["number"])
    return PackageList(items=[PackageOut(**row, links=_links(row)) for row in rows], next=url)


def _links(row: dict[str, object]) -> PackageLinks:
    url = f"/v1/packages/{row['number']}"
    return PackageLinks(package=url, rejects=f"{url}/rejects")


@router.get(
    "/v1/packages/{number}",
    operation_id="packages_get",
    summary="One package and its life",
    responses=problems(404, 422, 503),
)
def get_package(number: Number, desk: Asking) -> PackageLife:
    """What became of a package, from its receipt on."""
    found = service.show_package(desk, number)
    return PackageLife.model_validate(
        {**found.row, "links": _links(found.row), "payload_kept": found.kept, "life": found.life}
    )


@router.get(
    "/v1/packages/{number}/rejects",
    operation_id="packages_get_rejects",
    summary="Refused items of one package",
    responses=problems(404, 422, 503),
)
def get_package_rejects(
    number: Number,
    desk: Asking,
    state: Newest,
    limit: Annotated[int, Query(ge=1, le=1000, description="most items shown")] = 100,
) -> PackageRejects:
    """Items of a package that are refused and still open: why, where, and the raw text."""
    rows = service.rejects_of(desk, state, number, limit)
    return PackageRejects(items=[RejectOut(**row) for row in rows], next=None)


@router.get(
    "/v1/rejects",
    operation_id="rejects_list",
    summary="Refused items that are still open",
    responses=problems(422, 503),
)
def list_rejects(query: Annotated[RejectQuery, Query()], desk: Asking, state: Newest) -> RejectList:
    """All refused items, counted by source and reason with the remedy, and the first of them."""
    rows = service.rejects_of(desk, state, None, query.limit, query.source, query.reason)
    groups = [
        RejectGroup(
            **row,
            meaning=REJECT_REASON[row["reason"]].meaning,
            remedy=REJECT_REASON[row["reason"]].remedy,
        )
        for row in service.reject_groups(desk)
        if query.source in (None, row["source"]) and query.reason in (None, row["reason"])
    ]
    return RejectList(groups=groups, items=[RejectOut(**row) for row in rows], next=None)


@router.get(
    "/v1/sources",
    operation_id="sources_list",
    summary="List sources and their silence",
    responses=problems(503),
)
def list_sources(desk: Asking) -> SourceList:
    """Every source, when it was last heard of, and whether it is silent."""
    return SourceList(items=[SourceOut(**row) for row in service.list_sources(desk)], next=None)


@changing.post(
    "/v1/replays",
    operation_id="packages_replay",
    summary="Put packages through once more",
    status_code=202,
    responses=problems(400, 404, 408, 413, 422, 503),
)
def replay(wanted: Replay, desk: Asking) -> Replayed:
    """Put packages back in line after the registry, the activity table or the program was mended.

    They go through the same pipeline once `mcw run` takes them in, each by the mapping it came
    with: after a mapping was mended, send the file again (with another Idempotency-Key).
    """
    found = service.replay_packages(desk, wanted.packages, wanted.source, wanted.reason)
    return Replayed(packages=found)
