"""`display=site`: what the people of a site read, beside the canonical values of a page."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Annotated, Any, Literal

from fastapi import Query

from warehouse.services.desk import Desk
from warehouse.services.displays_served import displays_at
from warehouse.services.serving import State

Row = dict[str, Any]
MOMENTS = ("measured_at", "stale_after")
"""Times of a condition that people read."""
CASE_MOMENTS = (
    "level_since", "opened_at", "cleared_at", "until", "verify_by", "plan_by", "respond_by",
    "measured_at",
)  # fmt: skip
"""Times of a case."""
MEETING_MOMENTS = (
    "level_since", "respond_by", "measured_at", "deadline", "boundary_on", "boundary_from",
)  # fmt: skip
"""Times of the lists for meetings."""
AskedDisplay = Annotated[
    Literal["site"] | None,
    Query(description="`site`: values as the people of the site read them as well, in `display`"),
]
Shown = Callable[[State, list[Row]], list[Row]]


def shown(desk: Desk, wanted: str | None, moments: Iterable[str]) -> Shown | None:
    """What adds `display` to rows of a state, its times those named; None where not asked for."""
    if wanted is None:
        return None
    names = tuple(moments)
    return lambda state, rows: displays_at(desk, state).beside(rows, names)


def named(wanted: str | None) -> dict[str, Any]:
    """The parameter as it stands in the URL of the next page, where it was given."""
    return {"display": wanted} if wanted else {}
