"""Bytes to UTF-8 text: checked, and transcoded where the source uses another encoding."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

from warehouse.errors import UnreadableSourceError

_PROBE_BYTES = 65_536
_BLOCK_CHARACTERS = 1 << 20
_DIRECT = {"utf-8", "ascii", "utf-8-sig"}


@contextmanager
def as_utf8(path: Path, encoding: str, file: str) -> Iterator[Path]:
    """The text of `path` as a UTF-8 file, transcoded next to it where need be.

    Raises UnreadableSourceError for an empty or binary file, or bytes that are
    not of the declared encoding.
    """
    _refuse_binary(path, encoding, file)
    if encoding in _DIRECT:
        yield path
        return
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        target = Path(folder) / "utf8"
        _transcode(path, target, encoding, file)
        yield target


def _refuse_binary(path: Path, encoding: str, file: str) -> None:
    with path.open("rb") as stream:
        head = stream.read(_PROBE_BYTES)
    if not head:
        raise UnreadableSourceError(file, "it is empty", "a header line and data are needed")
    if b"\x00" in head and not encoding.startswith(("utf-16", "utf-32")):
        offset = head.index(b"\x00")
        raise UnreadableSourceError(
            file,
            f"it is binary: a zero byte at byte {offset + 1}",
            f"text in {encoding} is needed; check adapter and encoding in the mapping",
        )


def _transcode(path: Path, target: Path, encoding: str, file: str) -> None:
    with (
        path.open(encoding=encoding, newline="") as source,
        target.open("w", encoding="utf-8", newline="") as sink,
    ):
        try:
            while block := source.read(_BLOCK_CHARACTERS):
                sink.write(block)
        except UnicodeError as error:
            raise UnreadableSourceError(
                file, f"it is not {encoding} text: {error}", "mend `encoding` in the mapping"
            ) from error


def first_lines(path: Path, count: int, longest: int) -> list[str]:
    """The first `count` lines, without line ends and byte order mark."""
    with path.open("rb") as stream:
        raw = list(islice(iter(lambda: stream.readline(longest), b""), count))
    return [line.decode("utf-8-sig", errors="replace").rstrip("\r\n") for line in raw]
