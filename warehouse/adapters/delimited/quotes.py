"""Quotes over lines: which lines leave one open, and what then is a record over several lines.

The engine's parser takes a quote that is not closed for open until the next
one, through all lines between, and counts a record over several lines as one.
It is spared both: a record over several lines is followed by a line that is
none for each it takes more, and a line whose quotes are not in order is taken
out and refused. Only files where a quote stands where none opens or closes a
cell are gone through so, line by line.
"""

from __future__ import annotations

import csv
import re
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np

from warehouse.adapters.base import RAW_LENGTH
from warehouse.mapping import File

_ZERO = "\0"
ZERO_BYTE = "ZERO BYTE"
_BLOCK = 1 << 20
_LONGEST_LINE = 1 << 24
_FEED, _RETURN = b"\n\r"
_MARK = b"\xef\xbb\xbf"


class Stray(NamedTuple):
    """A line that was taken out: its number, the cell (from 0) that is not in order, text, why."""

    line: int
    cell: int
    raw: str
    fault: str = "UNQUOTED VALUE"


def line_of_nothing(options: File) -> str:
    """A line that is no record and that the parser counts, as it does not an empty one."""
    return "\t" if options.delimiter == " " else " "


def all_in_order(path: Path, options: File) -> bool:
    """Whether every quote opens a cell or closes one on the same line, or stands doubled in one.

    Looked at in columns of bytes. No, where that is not certain.
    """
    marks = (options.delimiter + options.quote).encode()
    if len(marks) != 2:
        return False
    rest = b""
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            seen = rest + block
            end = seen.rfind(b"\n") + 1
            if len(seen) - end > _LONGEST_LINE or not _in_order(seen[:end], *marks):
                return False
            rest = seen[end:]
    return _in_order(rest + b"\n", *marks)


def _in_order(lines: bytes, delimiter: int, quote: int) -> bool:
    """The same of whole lines: of the quotes of each, one opens and the next closes."""
    data = np.frombuffer(lines.removeprefix(_MARK), np.uint8)
    quotes = np.flatnonzero(data == quote)
    until = np.searchsorted(quotes, np.flatnonzero(data == _FEED))
    if (until & 1).any():
        return False
    edges = np.zeros(256, bool)
    edges[[delimiter, quote, _FEED]] = True
    opening, closing = quotes[::2], quotes[1::2]
    if not edges[data[opening - 1]].all():  # what stands before the first byte is a line end
        return False
    edges[_RETURN] = True
    return bool(edges[data[closing + 1]].all())


class _Grammar:
    """Lines as the engine's parser reads them, as patterns."""

    def __init__(self, options: File) -> None:
        mark, quote = re.escape(options.delimiter), re.escape(options.quote)
        space = "" if options.delimiter == " " else " *+"
        inside = f"(?:[^{quote}]++|{quote}{quote})*+"
        quoted = f"{space}{quote}{inside}{quote}{space}"
        cell = f"(?:{quoted}|{space}(?!{quote})[^{mark}\n]*+)"
        begun = f"(?:{cell}{mark})*+"
        self._cell, self._mark = cell, mark
        self._whole_cell = re.compile(cell + mark)
        self._sound = re.compile(begun + cell)
        self._open = re.compile(f"{begun}{space}{quote}{inside}")
        self._still_open = re.compile(
            f"{inside}(?:{quote}{space}{mark}{begun}{space}{quote}{inside})?"
        )

    def is_sound(self, line: str) -> bool:
        """Whether every quote that opens a cell is closed at its end."""
        return self._sound.fullmatch(line) is not None

    def is_open(self, line: str) -> bool:
        """Whether its last cell is quoted and goes on behind it."""
        return self._open.fullmatch(line) is not None

    def stays_open(self, line: str) -> bool:
        """Whether a line that begins inside quotes ends inside."""
        return self._still_open.fullmatch(line) is not None

    def is_record(self, text: str, width: int) -> bool:
        """Whether lines together are one record of so many cells."""
        cells = f"(?:{self._cell}{self._mark}){{{width - 1}}}{self._cell}"
        return width > 0 and re.fullmatch(cells, text) is not None

    def cells_in_order(self, line: str) -> int:
        """How many cells stand before the one that is not in order."""
        place = number = 0
        while found := self._whole_cell.match(line, place):
            place, number = found.end(), number + 1
        return number


@dataclass(slots=True)
class Lines:
    """The lines of a text, for the parser to count as a person does; `strays` fills meanwhile."""

    options: File
    longest: int
    """The longest record in characters; longer lines come in pieces and pass as they are."""
    strays: list[Stray] = field(default_factory=list)
    _waiting: deque[str] = field(default_factory=deque)
    _width: int = 0

    def mended(self, pieces: Iterator[str]) -> Iterator[str]:
        """What is to be written for these pieces: whole lines, and parts of those too long."""
        grammar = _Grammar(self.options)
        nothing = f"{line_of_nothing(self.options)}\n"
        number, begins = 1, True
        while piece := self._next(pieces):
            text = piece.replace(_ZERO, " ")  # the parser is spared those of parts too long
            if number == self.options.header_line:
                self._width = _width(piece, self.options)
            if begins and piece == "\n":
                text = nothing
            elif begins and number > self.options.header_line and len(piece) <= self.longest:
                text = self._in_order(piece, number, grammar, pieces) or nothing
            yield text
            lines, begins = text.count("\n"), text.endswith("\n")
            if begins:
                yield nothing * (lines - 1)
            number += lines

    def _next(self, pieces: Iterator[str]) -> str:
        return self._waiting.popleft() if self._waiting else next(pieces, "")

    def _in_order(
        self, piece: str, number: int, grammar: _Grammar, pieces: Iterator[str]
    ) -> str | None:
        """The record a line begins; None where its quotes are not in order."""
        line = piece.removesuffix("\n")
        if _ZERO in line:
            cell = line[: line.index(_ZERO)].count(self.options.delimiter)
            self.strays.append(Stray(number, cell, _shown(line), ZERO_BYTE))
            return None
        if self.options.quote not in line or grammar.is_sound(line):
            return piece
        if grammar.is_open(line) and (record := self._record(piece, grammar, pieces)):
            return record
        self.strays.append(Stray(number, grammar.cells_in_order(line), _shown(line)))
        return None

    def _record(self, first: str, grammar: _Grammar, pieces: Iterator[str]) -> str | None:
        """A line with those up to the one that closes its quote; None where they are no record."""
        taken: list[str] = []
        size, is_open = len(first), True
        while is_open and size <= self.longest and (piece := self._next(pieces)):
            taken.append(piece)
            size += len(piece)
            is_open = grammar.stays_open(piece.removesuffix("\n"))
        text = "".join((first, *taken))
        record = text.removesuffix("\n")
        if not is_open and size <= self.longest and grammar.is_record(record, self._width):
            return text
        self._waiting.extendleft(reversed(taken))
        return None


def _width(header: str, options: File) -> int:
    """How many columns a header line names."""
    try:
        return len(next(csv.reader([header], delimiter=options.delimiter, quotechar=options.quote)))
    except (csv.Error, StopIteration):
        return 0


def _shown(line: str) -> str:
    """A line as a reject keeps it; zero bytes and bytes of another encoding are not text."""
    return (
        line[:RAW_LENGTH]
        .replace(_ZERO, "\ufffd")
        .encode(errors="surrogateescape")
        .decode(errors="replace")
    )
