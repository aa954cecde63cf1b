"""Bytes to UTF-8 text: checked, and transcoded where the source uses another encoding."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

from warehouse.errors import UnreadableSourceError
from warehouse.mapping import File
from warehouse.workspace import own_folder

_PROBE_BYTES = 65_536
_BLOCK = 1 << 20
_DIRECT = {"utf-8", "ascii", "utf-8-sig"}


@contextmanager
def as_utf8(path: Path, options: File, file: str) -> Iterator[Path]:
    """The text of `path` as a UTF-8 file whose lines the engine counts as a person does.

    It is written anew next to `path` where its encoding is another one, where
    its lines do not all end alike, or where some are blank. Raises
    UnreadableSourceError for an empty or binary file, or bytes that are not of
    the declared encoding.
    """
    _refuse_binary(path, options.encoding, file)
    if options.encoding in _DIRECT and _is_plain(path):
        yield path
        return
    with own_folder(path.parent) as folder:
        target = folder / "utf8"
        _rewrite(path, target, options, file)
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


def _is_plain(path: Path) -> bool:
    """Whether all lines end alike, in LF or CR LF, and none is blank."""
    returns = feeds = pairs = 0
    before = b"\n"
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            seen = before + block
            if b"\n\n" in seen:
                return False
            found = block.count(b"\r")
            if found:
                if b"\n\r\n" in seen:
                    return False
                pairs += seen.count(b"\r\n") - before.count(b"\r\n")
            returns += found
            feeds += block.count(b"\n")
            before = seen[-2:]
    return returns == 0 or returns == feeds == pairs


def _rewrite(path: Path, target: Path, options: File, file: str) -> None:
    """The text in UTF-8, each line ended by LF; a blank line becomes a space, to be counted."""
    direct = options.encoding in _DIRECT
    encoding = "utf-8" if direct else options.encoding
    errors = "surrogateescape" if direct else "strict"  # what is no UTF-8 is refused line by line
    blank = "\n" if options.delimiter == " " else " \n"
    with (
        path.open(encoding=encoding, errors=errors) as source,
        target.open("w", encoding="utf-8", errors=errors, newline="\n") as sink,
    ):
        quoted, begins = False, True
        try:
            while piece := source.readline(_BLOCK):
                sink.write(blank if begins and not quoted and piece == "\n" else piece)
                quoted ^= piece.count(options.quote) % 2 == 1
                begins = piece.endswith("\n")
        except UnicodeError as error:
            raise UnreadableSourceError(
                file,
                f"it is not {options.encoding} text: {error}",
                "mend `encoding` in the mapping",
            ) from error


def first_lines(path: Path, count: int, longest: int) -> list[str]:
    """The first `count` lines, without line ends and byte order mark."""
    with path.open("rb") as stream:
        raw = list(islice(iter(lambda: stream.readline(longest), b""), count))
    return [line.decode("utf-8-sig", errors="replace").rstrip("\r\n") for line in raw]
