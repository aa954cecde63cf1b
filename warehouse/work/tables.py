"""The activity table and the matrix of priorities: read, checked whole, laid out as tables."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

import pyarrow as pa
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from warehouse.errors import WorkRulesError
from warehouse.faultfinding import every_fault
from warehouse.stamps import Stamps, stamps

Resets = Literal["none", "temperature-mute", "baseline", "new-machine"]
LEVELS = ("danger", "alert", "watch")
CRITICALITIES = ("A", "B", "C", "none")
_ACTIVITIES, _PRIORITIES, _STEPS = "activities.toml", "priorities.toml", "next_steps.toml"
_Code = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
_Words = Annotated[str, Field(min_length=1)]
_Model = TypeVar("_Model", bound=BaseModel)


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Activity(_Part):
    """One activity code."""

    meaning: _Words
    resets: Resets


class Activities(_Part):
    """The activity table."""

    format_version: Literal[1]
    activity: Annotated[dict[_Code, Activity], Field(min_length=1)]


class Priorities(_Part):
    """The matrix: a priority for every level and criticality."""

    format_version: Literal[1]
    reason: _Words
    confidence: _Words
    priority: dict[
        Literal["danger", "alert", "watch"],
        dict[Literal["A", "B", "C", "none"], Annotated[int, Field(ge=1, le=9)]],
    ]

    @model_validator(mode="after")
    def _whole(self) -> Priorities:
        stated = {f"{level} {one}" for level, row in self.priority.items() for one in row}
        lacking = [
            f"priority.{level}.{criticality}: is missing; a number from 1 to 9 is needed"
            for level in LEVELS
            for criticality in CRITICALITIES
            if f"{level} {criticality}" not in stated
        ]
        if lacking:
            raise ValueError("\n".join(lacking))
        return self


_State = Literal[
    "cleared", "confirmed", "work-requested", "deferred", "done", "verified",
    "verified-not-clear", "at-rest",
]  # fmt: skip
_ActionClass = Literal["any", "repeat", "inspect-running", "inspect-stopped", "plan-repair"]


class NextSteps(_Part):
    """What to do next about a case: a sentence for a state and a kind of action."""

    format_version: Literal[1]
    reviewed_by: _Words
    step: dict[_State, Annotated[dict[_ActionClass, _Words], Field(min_length=1)]]


_SOUND: dict[type[BaseModel], dict[str, Any]] = {
    Activities: {"format_version": 1, "activity": {"x": {"meaning": "x", "resets": "none"}}},
    Priorities: {
        "format_version": 1,
        "reason": "x",
        "confidence": "x",
        "priority": {level: dict.fromkeys(CRITICALITIES, 1) for level in LEVELS},
    },
}


def load_work_rules(plant: Path | None = None) -> Mapping[str, pa.Table]:
    """Tables `activities` (activity, meaning, resets), `case_priorities` and `case_next_steps`.

    `case_priorities` has level, criticality (null: none stated) and priority; `case_next_steps`
    state, action_class (null: any) and next_step, which no plant replaces. `plant` is a
    folder in which a plant's own files take the place of this package's. Raises WorkRulesError
    with every fault of both files. A changed file counts at once.
    """
    found = [plant / name for name in (_ACTIVITIES, _PRIORITIES)] if plant else []
    there = [path for path in found if path.is_file()]
    loaded, faults = _load(plant if there else None, stamps(there))
    if faults:
        raise WorkRulesError(list(faults))
    return loaded


@lru_cache(maxsize=8)
def _load(plant: Path | None, _: Stamps) -> tuple[Mapping[str, pa.Table], tuple[str, ...]]:
    """The tables, or the faults: read once for each state of the plant's files."""
    faults: list[str] = []
    activities = _read(_chosen(plant, _ACTIVITIES), Activities, faults)
    priorities = _read(_chosen(plant, _PRIORITIES), Priorities, faults)
    if activities is None or priorities is None:
        return {}, tuple(faults)
    loaded = {
        "case_next_steps": _next_steps(),
        "activities": pa.Table.from_pylist(
            [{"activity": code, **one.model_dump()} for code, one in activities.activity.items()]
        ),
        "case_priorities": pa.Table.from_pylist(
            [
                {
                    "level": level,
                    "criticality": None if criticality == "none" else criticality,
                    "priority": priority,
                }
                for level, row in priorities.priority.items()
                for criticality, priority in row.items()
            ]
        ),
    }
    return loaded, ()


def _next_steps() -> pa.Table:
    text = (files("warehouse.work") / _STEPS).read_text(encoding="utf-8")
    return pa.Table.from_pylist(
        [
            {"state": state, "action_class": None if one == "any" else one, "next_step": words}
            for state, row in NextSteps.model_validate(tomllib.loads(text)).step.items()
            for one, words in row.items()
        ]
    )


def _chosen(plant: Path | None, name: str) -> Traversable:
    own = plant / name if plant else None
    return own if own is not None and own.is_file() else files("warehouse.work") / name


def _read(path: Traversable, model: type[_Model], faults: list[str]) -> _Model | None:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        return model.model_validate(content)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        faults.append(f"{path.name}: not valid TOML: {error}")
    except ValidationError:
        faults += [f"{path.name}: {f}" for f in every_fault(model, content, _SOUND[model])]
    return None
