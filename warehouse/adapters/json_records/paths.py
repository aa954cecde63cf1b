"""Paths into JSON: `axes.x.velocity`, `$.gateway`, `$.messages[*]`."""

from __future__ import annotations

import re

_STEP = re.compile(r"([^.\[\]]+)|\[(\d+|\*)\]")


def engine_path(path: str) -> str:
    """The path as the SQL engine writes it, keys quoted: `$."axes"."x"."velocity"`."""
    found = _STEP.findall(path.removeprefix("$"))
    return "$" + "".join(f'."{key}"' if key else f"[{index}]" for key, index in found)


def steps(path: str) -> list[str]:
    """Keys of the path in order; `item` stands for the elements of an array."""
    return [key or "item" for key, _ in _STEP.findall(path.removeprefix("$"))]
