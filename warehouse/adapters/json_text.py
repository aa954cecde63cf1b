"""JSON text: numbers as they are printed, and keys that stand twice in one object noticed.

Of a key that stands twice, parsers keep the last value, or the first, or both (RFC 8259,
section 4): which of them is the reading cannot be told, so it is not guessed.
"""

from __future__ import annotations

import json
from collections import deque
from typing import Any


class TwiceNamed(dict[str, Any]):
    """An object in which `key` stands twice."""

    key = ""

    def __setitem__(self, key: str, value: Any) -> None:
        if key in self:
            self.key = key
        super().__setitem__(key, value)


def parse(text: str) -> tuple[Any, int]:
    """The value with all numbers as text, and how many objects in it name a key twice.

    Raises json.JSONDecodeError, and RecursionError where it is nested too deeply.
    """
    found: list[TwiceNamed] = []

    def made(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        plain = dict(pairs)
        if len(plain) == len(pairs):
            return plain
        twice = TwiceNamed()
        for key, value in pairs:
            twice[key] = value
        found.append(twice)
        return twice

    value = json.loads(
        text, parse_float=str, parse_int=str, parse_constant=str, object_pairs_hook=made
    )
    return value, len(found)


def twice_named(value: Any) -> list[str]:
    """The keys that stand twice in an object of the value, one for each such object.

    The outermost come first. However deeply a value is nested, it is walked without recursion.
    """
    keys: list[str] = []
    waiting = deque([value])
    while waiting:
        one = waiting.popleft()
        if isinstance(one, TwiceNamed) and one.key:
            keys.append(one.key)
        if isinstance(one, dict):
            waiting.extend(one.values())
        elif isinstance(one, list):
            waiting.extend(one)
    return keys
