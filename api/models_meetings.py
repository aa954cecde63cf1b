"""Shapes of the meeting sheet and the outage list: rows in the one envelope, and counts."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

from pydantic import Field, model_validator

from api.models import Criticality, described
from api.models_lists import Display, PageQuery, RowList
from warehouse.services.meetings import Windows

_FIRST, _LAST = dt.date(1970, 1, 1), dt.date(2199, 12, 31)
_Day = Annotated[dt.date, Field(ge=_FIRST, le=_LAST)]


class _ListQuery(PageQuery):
    """Which machines, and in which form."""

    format: Annotated[
        str | None, Field(description="instead of `Accept`: json, ndjson, csv, arrow or xlsx")
    ] = None
    display: Display = None
    site: Annotated[list[str] | None, Field(description="site code")] = None
    area: Annotated[list[str] | None, Field(description="area of the site")] = None
    class_: Annotated[
        list[str] | None, Field(alias="class", description="class of the machine")
    ] = None
    criticality: Annotated[list[Criticality] | None, Field(description="criticality class")] = None

    def filters(self) -> dict[str, list[str]]:
        """The filters given by their names in the URL, each value once."""
        return self._chosen({"site", "area", "class_", "criticality"})

    def asked(self) -> dict[str, Any]:
        """Everything that was asked for, by its name in the URL, but form and page."""
        left_out = {"limit", "cursor", "format", "site", "area", "class_", "criticality"}
        given = self.model_dump(exclude=left_out, exclude_none=True, by_alias=True, mode="json")
        return {**given, **self.filters()}


class MeetingSheetQuery(_ListQuery):
    """Since when, and which machines."""

    since: Annotated[
        _Day | None, Field(description="day of the last meeting; a week ago if not given")
    ] = None


class OutageListQuery(_ListQuery):
    """Which outage, and which machines."""

    from_: Annotated[_Day, Field(alias="from", description="first day of the outage")]
    to: Annotated[_Day, Field(description="last day of the outage")]
    next_from: Annotated[
        _Day | None, Field(description="first day of the one after it, with `next_to`")
    ] = None
    next_to: Annotated[
        _Day | None, Field(description="last day of it; if not given as long, an interval later")
    ] = None

    @model_validator(mode="after")
    def _windows_fit(self) -> OutageListQuery:
        if (self.next_from is None) != (self.next_to is None):
            raise ValueError("next_from and next_to name the next window together")
        day = dt.timedelta(days=1)
        following = self.following or (self.to + day, self.to + day)
        Windows(self.from_, self.to, *following)
        return self

    @property
    def following(self) -> tuple[dt.date, dt.date] | None:
        """The next window, where it was given."""
        if self.next_from is None or self.next_to is None:
            return None
        return self.next_from, self.next_to


class MeetingSheetOut(RowList):
    """One page of the meeting sheet: one row a heading and what stands under it."""

    since: dt.date = described("the day it goes back to; it begins at midnight of each site")
    open_cases: int = described("open cases of the machines asked for, count")
    silent_machines: int = described("those of them without a fresh reading, count")
    machines: int = described("machines that are judged, count")
    cautions: list[str] = described("what this list is not")


class OutageListOut(RowList):
    """One page of the outage list: one row an open case that needs an outage, or may."""

    first: dt.date = described("first day of the outage")
    last: dt.date = described("last day of it")
    next_first: dt.date = described("first day of the next one")
    next_last: dt.date = described("last day of that")
    without_outage: int = described("open cases of the machines asked for that need none, count")
    cautions: list[str] = described("what this list is not")
