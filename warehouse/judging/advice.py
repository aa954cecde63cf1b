"""What to do next, from a small reviewed data file, and the caution every judgement carries."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

CAUTION = (
    "Screening aid, not a machinery protection system and not a safety function. "
    "The bought edition in force and the site's rules count; a licensed or certified "
    "vibration analyst decides."
)


@cache
def _steps() -> Mapping[str, Mapping[str, str]]:
    text = (files("warehouse.judging") / "next_steps.toml").read_text(encoding="utf-8")
    content = tomllib.loads(text)
    return {basis: steps for basis, steps in content.items() if isinstance(steps, dict)}


def next_step(basis: str, level: str) -> str:
    """What a planner does about this basis and level, in plain words.

    The entry of the basis counts, else the default of the level (rule W2).
    Raises KeyError for a level outside the code list.
    """
    steps = _steps()
    return steps.get(basis, {}).get(level) or steps["default"][level]
