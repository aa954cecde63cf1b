"""`display=site`: what the people of a site read, beside the canonical values of a page."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from warehouse.services.desk import Desk
from warehouse.services.displays_served import displays_at
from warehouse.services.serving import State

Row = dict[str, Any]
Shown = Callable[[State, list[Row]], list[Row]]


def shown(desk: Desk, wanted: str | None, moments: Iterable[str]) -> Shown | None:
    """What adds `display` to rows of a state, its times those named; None where not asked for."""
    if wanted is None:
        return None
    names = tuple(moments)
    return lambda state, rows: displays_at(desk, state).beside(rows, names)
