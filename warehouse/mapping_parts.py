"""Parts that mappings are made of: attributes taken from the file, and what is said of a stop."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from schemas.tables.rounds import OBSERVATION, STOP_RESULT


class Part(BaseModel):
    """A section of a mapping: what it does not know is a fault."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class Taken(Part):
    """An attribute taken from the file: from which field, and how its words translate."""

    from_: str = Field(alias="from", min_length=1)
    map: dict[str, str] = Field(default_factory=dict)


Attribute = Annotated[str, Field(min_length=1)] | Taken

STOP_CODES: Mapping[str, Mapping[str, str]] = {"result": STOP_RESULT, "observations": OBSERVATION}
"""Attributes of a stop with a closed list of codes."""


class StopAttributes(Part):
    """What a route sheet says of a stop beside its values (rule W4).

    `observations` may be several, parted by commas or semicolons; one that is translated to an
    empty text is none. `route` is the one the sheet is of, where it may be of no other.
    """

    result: Taken
    observations: Taken | None = None
    person: Taken | None = None
    route: str | None = Field(default=None, min_length=1)

    @property
    def stated(self) -> dict[str, Taken]:
        """Attributes that the mapping gives."""
        every = {name: getattr(self, name) for name in StopAttributes.model_fields}
        return {name: value for name, value in every.items() if isinstance(value, Taken)}

    @property
    def fields(self) -> list[str]:
        """Columns they stand in."""
        return [value.from_ for value in self.stated.values()]


def stop_faults(
    stop: StopAttributes, method: str, attributes: Mapping[str, str | Taken]
) -> Iterator[str]:
    """Every fault of the section `[stop]`, in words."""
    if method != "route":
        yield "stop: only a source of method route has stops"
    if "route" not in attributes:
        yield "stop: the route is missing; state it in [record]"
    for name, codes in STOP_CODES.items():
        value = stop.stated.get(name)
        for word in value.map.values() if value else ():
            for code in word.split():
                if code not in codes:
                    yield f"stop: {name} {code!r} is not one of {', '.join(codes)}"
