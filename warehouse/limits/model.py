"""What a limit file may say, field by field. Unknown keys are refused: a slip is not a limit.

What fields must be together is checked in `warehouse.limits.checks`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from schemas.codes import EQUIPMENT_CLASS, FAN_APPLICATION, POINT_PART, PUMP_CATEGORY

Confidence = Literal["V1", "V2", "C", "M", "own"]
"""V1: seen in a text quoting the standard. V2: secondary text only. C: computed here. M: memory.

own: what a plant has decided or agreed, and answers for.
"""

VERIFIED = frozenset({"V1", "own"})
"""Confidences of values that stand as they are; all others are told as not verified."""

Kind = Literal["zones", "zones-a-b-merged", "levels", "acceptance", "watch-alert"]


def one_of(codes: Mapping[str, str]) -> AfterValidator:
    """Holds a text to a code list; the fault names every code."""
    return AfterValidator(_listed(codes))


def _listed(codes: Mapping[str, str]) -> Callable[[str], str]:
    def check(text: str) -> str:
        if text not in codes:
            raise ValueError(f"{text!r} is not one of {', '.join(codes)}")
        return text

    return check


Support = Literal["rigid", "flexible"]
Positive = Annotated[float, Field(gt=0)]
Words = Annotated[str, Field(min_length=3)]
Slug = Annotated[str, Field(pattern=r"^[A-Za-z0-9]+([.-][A-Za-z0-9]+)*$")]
EquipmentClass = Annotated[str, one_of(EQUIPMENT_CLASS)]
PumpCategory = Annotated[str, one_of(PUMP_CATEGORY)]
FanApplication = Annotated[str, one_of(FAN_APPLICATION)]
Part = Annotated[str, one_of(POINT_PART)]


class Strict(BaseModel):
    """Closed and frozen; a text is no number, and no "yes" a `true`."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class _Sourced(Strict):
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


class Assumed(Strict):
    """What is taken where the registry does not say; named wherever it decides."""

    support: Support = "rigid"
    pump_category: PumpCategory | None = None
    pump_type: str | None = None
    fan_application: FanApplication | None = None
    operating_region: Literal["preferred"] | None = None


class Applies(_Sourced):
    """Machines of one group. Every bound given needs a known value inside it.

    A group that is `by_hand` is never chosen by rule: its definition asks for
    what no registry says.
    """

    group: Slug
    equipment_classes: Annotated[list[EquipmentClass], Field(min_length=1)]
    by_hand: bool = False
    power_over_kw: Positive | None = None
    power_up_to_kw: Positive | None = None
    shaft_height_from_mm: Positive | None = None
    shaft_height_below_mm: Positive | None = None
    pump_category: PumpCategory | None = None
    pump_types: Annotated[list[Words], Field(min_length=1)] | None = None
    fan_application: FanApplication | None = None


class Valued(_Sourced):
    """What a value is of: quantity, detector, unit, and the speeds (/min) it holds at.

    Values may stand in any unit of their quantity; they are loaded in its
    canonical unit, a rise over a `baseline` as a difference.
    """

    groups: Annotated[list[Slug], Field(min_length=1)]
    quantity: Literal["velocity", "displacement", "acceleration", "temperature"]
    detector: Literal["rms", "peak-to-peak", "value"]
    reference: Literal["absolute", "baseline"] = "absolute"
    unit: str
    speed_over: Positive | None = None
    speed_up_to: Positive | None = None
    note: str = ""


BOUNDARIES: Mapping[Kind, tuple[str, ...]] = MappingProxyType(
    {
        "zones": ("a_b", "b_c", "c_d"),
        "zones-a-b-merged": ("b_c", "c_d"),
        "levels": ("start_up", "alarm", "shutdown"),
        "acceptance": ("accept",),
        "watch-alert": ("watch", "alert"),
    }
)
"""The boundaries a row has, in order, by the kind of its set."""


class Row(Valued):
    """Boundaries of one quantity, in `unit`: which ones, the kind of the set says.

    A set with zones may print `alarm` and `trip` settings beside them.
    `printed_peak` is what the standard prints beside its rms figures: shown,
    never compared with an rms. A row with `parts` holds there only, one without
    holds at bearing housings.
    """

    supports: Annotated[list[Support], Field(min_length=1)] = ["rigid", "flexible"]
    parts: Annotated[list[Part], Field(min_length=1)] | None = None
    band_low_hz: Positive | None = None
    band_high_hz: Positive | None = None
    a_b: Positive | None = None
    b_c: Positive | None = None
    c_d: Positive | None = None
    start_up: Positive | None = None
    alarm: Positive | None = None
    shutdown: Positive | None = None
    accept: Positive | None = None
    watch: Positive | None = None
    alert: Positive | None = None
    trip: Positive | None = None
    printed_peak: dict[str, Positive] = {}
    a_b_confidence: Confidence | None = None
    disputed: bool = False
    clause: Words

    @property
    def parts_measured(self) -> list[Part | None]:
        """The parts of the machine it holds for; None alone: its bearing housings."""
        return [*self.parts] if self.parts else [None]

    def boundaries(self, kind: Kind) -> tuple[float | None, float | None, float | None]:
        """Lower, middle and upper boundary as they are compared."""
        if kind == "levels":
            return self.start_up, self.alarm, self.shutdown
        if kind == "acceptance":
            return None, self.accept, None
        if kind == "watch-alert":
            return self.watch, self.alert, None
        return self.a_b, self.b_c, self.c_d


class Acceptance(Valued):
    """One acceptance value, in `unit`, as printed; shown, never used as a zone."""

    place: Literal["in-situ", "factory"]
    operating_region: Literal["preferred", "allowable"] | None = None
    mounting: str | None = None
    value: Positive


class LimitSet(Strict):
    """One standard in one edition, or one set of a plant's own."""

    format_version: Literal[1]
    id: Slug
    standard: Words
    edition: str
    title: Words
    note: str = ""
    status: Literal["current", "withdrawn", "common-practice", "plant"]
    kind: Kind
    in_service: bool = True
    worse_quantity_governs: bool = False
    assumed: Assumed = Assumed()
    scope: Scope | None = None
    low_speed: LowSpeed | None = None
    applies: list[Applies] = []
    row: list[Row] = []
    acceptance: list[Acceptance] = []
