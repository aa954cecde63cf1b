"""Numbers in words, as a person says them."""

from __future__ import annotations


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun or verb: 1 machine, 2 machines; 1 stops, 2 stop."""
    return f"{number:,} {one if number == 1 else many or f'{one}s'}"


def listed(*parts: tuple[int, str]) -> str:
    """The words of each number that is not zero; empty where all are."""
    return ", ".join(words for number, words in parts if number)
