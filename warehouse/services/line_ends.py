"""Whether a file of lines was written to its end: its last line has one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from warehouse.adapters import LineAdapter, adapter
from warehouse.mapping import AnyMapping

_WIDEST = 4
"""Bytes of a line end in the widest of encodings."""


def line_end_check(mapping: AnyMapping) -> Callable[[Path], bool]:
    """Tells of a file whether its last line has its end; true where the mapping reads no lines.

    Raises AdapterError where the mapping's adapter is not installed.
    """
    reader = adapter(mapping.source.adapter)
    if not isinstance(reader, LineAdapter) or not reader.is_of_lines(mapping):
        return lambda _: True
    ends = {_last(end.encode(mapping.file.encoding)) for end in "\n\r"}
    return lambda path: _last(_tail(path)) in ends


def _tail(path: Path) -> bytes:
    """The last bytes of a file; a line end where nobody may look, so that the reader tells."""
    try:
        with path.open("rb") as stream:
            stream.seek(max(0, path.stat().st_size - _WIDEST))
            return stream.read(_WIDEST)
    except OSError:
        return b"\n"


def _last(text: bytes) -> bytes:
    """The last byte that is not the zero half of a wide character."""
    return text.strip(b"\0")[-1:]
