"""Numbers in words, as a person says them."""

from __future__ import annotations


def counted(number: int, noun: str) -> str:
    """A number with its noun: 1 machine, 2 machines."""
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"


def listed(*parts: tuple[int, str]) -> str:
    """The words of each number that is not zero; empty where all are."""
    return ", ".join(words for number, words in parts if number)
