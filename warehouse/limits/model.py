"""What a limit file may say. Unknown keys are refused: a typing slip is not a limit."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from schemas.codes import EQUIPMENT_CLASS, PUMP_CATEGORY, SUPPORT
from schemas.units import canonical_unit

Confidence = Literal["V1", "V2", "M"]
"""V1: seen in a text quoting the standard. V2: secondary text only. M: from memory."""

Positive = Annotated[float, Field(gt=0)]
Words = Annotated[str, Field(min_length=3)]
Slug = Annotated[str, Field(pattern=r"^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$")]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Sourced(_Strict):
    source: Words
    confidence: Confidence


class Scope(_Sourced):
    """Machines a set covers at all; a value known to lie outside rules the set out."""

    power_over_kw: Positive | None = None
    power_up_to_kw: Positive | None = None
    speed_from: Positive | None = None
    speed_up_to: Positive | None = None
    vanes_from: Annotated[int, Field(gt=0)] | None = None


class LowSpeed(_Sourced):
    """Below `speed` (/min; at it too if `inclusive`) the band must start at `band_low_hz`."""

    speed: Positive
    inclusive: bool
    band_low_hz: Positive


class Applies(_Sourced):
    """Machines of one group. Every bound given needs a known value inside it."""

    group: Slug
    equipment_classes: Annotated[list[str], Field(min_length=1)]
    power_over_kw: Positive | None = None
    power_up_to_kw: Positive | None = None
    shaft_height_from_mm: Positive | None = None
    shaft_height_below_mm: Positive | None = None
    pump_category: str | None = None

    @model_validator(mode="after")
    def _known_codes(self) -> Self:
        for name in self.equipment_classes:
            if name not in EQUIPMENT_CLASS:
                raise ValueError(f"equipment class {name!r} is not in the code list")
        if self.pump_category is not None and self.pump_category not in PUMP_CATEGORY:
            raise ValueError(f"pump category {self.pump_category!r} is not in the code list")
        return self


class _Quantity(_Sourced):
    groups: Annotated[list[Slug], Field(min_length=1)]
    quantity: Literal["velocity", "displacement"]
    detector: Literal["rms", "peak-to-peak"]
    unit: str
    speed_up_to: Positive | None = None

    @model_validator(mode="after")
    def _canonical_unit(self) -> Self:
        wanted = canonical_unit(self.quantity, self.detector)
        if self.unit != wanted:
            raise ValueError(f"unit of {self.quantity} must be {wanted!r}, found {self.unit!r}")
        return self


class Row(_Quantity):
    """Boundaries A/B, B/C, C/D of one quantity, in `unit`, with printed alarm and trip."""

    supports: Annotated[list[str], Field(min_length=1)]
    band_low_hz: Positive | None = None
    band_high_hz: Positive | None = None
    a_b: Positive
    b_c: Positive
    c_d: Positive
    alarm: Positive | None = None
    trip: Positive | None = None
    clause: Words

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.a_b < self.b_c < self.c_d:
            raise ValueError(f"boundaries must rise: {self.a_b}, {self.b_c}, {self.c_d}")
        for name in self.supports:
            if name not in SUPPORT:
                raise ValueError(f"support {name!r} is not in the code list")
        return self


class Acceptance(_Quantity):
    """One acceptance value, in `unit`, as printed; shown, never used as a zone."""

    place: Literal["in-situ", "factory"]
    operating_region: Literal["preferred", "allowable"]
    value: Positive


class LimitSet(_Strict):
    """One standard in one edition."""

    format_version: Literal[1]
    id: Slug
    standard: Words
    edition: Words
    title: Words
    note: str = ""
    priority: int
    worse_quantity_governs: bool
    assumed_support: Literal["rigid", "flexible"]
    assumed_pump_category: str | None = None
    scope: Scope
    low_speed: LowSpeed
    applies: Annotated[list[Applies], Field(min_length=1)]
    row: Annotated[list[Row], Field(min_length=1)]
    acceptance: list[Acceptance] = []

    @model_validator(mode="after")
    def _groups_have_rows(self) -> Self:
        chosen = {block.group for block in self.applies}
        valued = {group for row in self.row for group in row.groups}
        if missing := sorted(chosen - valued):
            raise ValueError(f"no row gives values for {', '.join(missing)}")
        if unused := sorted(valued - chosen):
            raise ValueError(f"no applies block leads to {', '.join(unused)}")
        keys = [
            (group, support, row.quantity, row.detector)
            for row in self.row
            for group in row.groups
            for support in row.supports
        ]
        if twice := sorted({str(key) for key in keys if keys.count(key) > 1}):
            raise ValueError(f"values stand twice for {', '.join(twice)}")
        return self


class Default(_Strict):
    """One judging default with its unit, reason and confidence."""

    value: float
    unit: str
    reason: Words
    confidence: Words


class Uncovered(_Strict):
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
