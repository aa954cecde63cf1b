"""Problem types: the `type` of every error is one of these pages."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path

from api.models import ProblemType, ProblemTypes
from api.problems import KINDS, Kind
from api.routes.current import problems
from warehouse.errors import NotFoundError

router = APIRouter(tags=["problems"])


def _document(kind: Kind) -> ProblemType:
    return ProblemType(
        type=kind.type,
        title=kind.title,
        status=kind.status,
        meaning=kind.meaning,
        remedy=kind.remedy,
    )


@router.get(
    "/problems",
    operation_id="problems_list",
    summary="List the problem types",
    responses=problems(),
)
async def list_problem_types() -> ProblemTypes:
    """Every problem type of this server, by type."""
    return ProblemTypes(items=[_document(KINDS[slug]) for slug in sorted(KINDS)])


@router.get(
    "/problems/{slug}",
    operation_id="problems_get",
    summary="Explain a problem type",
    responses=problems(404, 422),
)
async def get_problem_type(
    slug: Annotated[str, Path(description="last part of a type", examples=["not-found"])],
) -> ProblemType:
    """What a problem type means and what helps."""
    if slug not in KINDS:
        raise NotFoundError("problem type", slug)
    return _document(KINDS[slug])
