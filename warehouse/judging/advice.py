"""What to do next, from a small reviewed data file, and the caution every judgement carries."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

import pyarrow as pa

from schemas.codes import LEVEL
from schemas.tables.conditions import BASIS
from warehouse.wording import counted

CAUTION = (
    "Screening aid, not a machinery protection system and not a safety function. "
    "The bought edition in force and the site's rules count; a licensed or certified "
    "vibration analyst decides."
)


_HOURS_A_DAY = 24


@cache
def _file() -> Mapping[str, Mapping[str, Any]]:
    text = (files("warehouse.judging") / "next_steps.toml").read_text(encoding="utf-8")
    content = tomllib.loads(text)
    return {basis: steps for basis, steps in content.items() if isinstance(steps, dict)}


@cache
def _times(critical: bool) -> Mapping[str, str]:
    """The times to respond within, in words; whole days are cut, never rounded up."""
    listed = _file()["respond_within"]
    share = listed["share_for_criticality_a"] if critical else 1
    return {
        name.removesuffix("_hours"): _duration(hours * share)
        for name, hours in listed.items()
        if name.endswith("_hours")
    }


def _duration(hours: float) -> str:
    if hours <= _HOURS_A_DAY:
        return f"{hours:.0f} hours"
    return counted(int(hours // _HOURS_A_DAY), "day")


@cache
def next_step(basis: str, level: str, criticality: str | None = None, doubted: bool = False) -> str:
    """What a planner does about this basis and level, in plain words.

    The entry of the basis counts, else the default of the level (rule W2), which is another one
    where something of a machine that is well is `doubted`.
    Criticality A shortens the times to respond within; no class lengthens them.
    Raises KeyError for a level outside the code list.
    """
    steps = _file()
    default = steps["doubted" if doubted and level == "normal" else "default"][level]
    found: str = steps.get(basis, {}).get(level) or default
    return found.format_map(_times(criticality == "A"))


@cache
def next_steps() -> pa.Table:
    """What to do next: columns basis, level, critical, doubted, next_step."""
    rows = [
        {"basis": basis, "level": level, "critical": critical, "doubted": doubted}
        | {"next_step": next_step(basis, level, "A" if critical else None, doubted)}
        for basis in BASIS
        for level in LEVEL
        for critical in (False, True)
        for doubted in (False, True)
    ]
    return pa.Table.from_pylist(rows)
