"""What the files beside the limit sets may say: precedence, levels, defaults, what is uncovered."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from schemas.codes import EQUIPMENT_CLASS, LEVEL
from schemas.tables.conditions import BASIS, ZONE
from warehouse.limits.model import Kind, Slug, Strict, Words, one_of


class Precedence(Strict):
    """Which sets are in force, the first that fits counts; every other is for information."""

    format_version: Literal[1]
    order: Annotated[list[Slug], Field(min_length=1)]
    reason: Words


class Level(Strict):
    """What is to be done about a step of a basis: the one table from basis to level (rule J2).

    `step` 1 to 4 counts the boundaries of a set that a value exceeds; `grade` is the set's own
    word for it.
    """

    basis: Annotated[str, one_of(BASIS)]
    kind: Kind | Literal["change"]
    step: Annotated[int, Field(ge=1, le=4)]
    grade: Annotated[str, one_of(ZONE)] | None = None
    level: Annotated[str, one_of(LEVEL)]


class Boundaries(Strict):
    """How the boundaries of a kind of set are called; null where it has none there."""

    kind: Kind
    lower: str | None = None
    middle: Words
    upper: str | None = None


class Levels(Strict):
    """From basis and step to grade and level; whatever is not listed is `unknown`."""

    format_version: Literal[1]
    reason: Words
    confidence: Words
    boundaries: list[Boundaries]
    level: list[Level]

    @model_validator(mode="after")
    def _once(self) -> Self:
        keys = [(one.basis, one.kind, one.step) for one in self.level]
        if twice := sorted({str(key) for key in keys if keys.count(key) > 1}):
            raise ValueError(f"a level stands twice for {', '.join(twice)}")
        return self


class Default(Strict):
    """One judging default with its unit, reason and confidence."""

    value: float
    unit: str
    reason: Words
    confidence: Words


class Uncovered(Strict):
    """Why a class of machine is not judged where no set fits."""

    format_version: Literal[1]
    reasons: dict[str, Words]

    @model_validator(mode="after")
    def _every_class(self) -> Self:
        if unknown := sorted(self.reasons.keys() - EQUIPMENT_CLASS.keys()):
            raise ValueError(f"not equipment classes: {', '.join(unknown)}")
        if missing := sorted(EQUIPMENT_CLASS.keys() - self.reasons.keys()):
            raise ValueError(f"no reason for: {', '.join(missing)}")
        return self
