"""Bytes to UTF-8 text: checked, and transcoded where the source uses another encoding."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import NamedTuple

from warehouse.adapters.base import Decoding
from warehouse.adapters.delimited.quotes import Lines, Stray, all_in_order
from warehouse.errors import UnreadableSourceError
from warehouse.mapping import File
from warehouse.workspace import own_folder

_PROBE_BYTES = 65_536
_BLOCK = 1 << 20
_DIRECT = {"utf-8", "ascii", "utf-8-sig"}


class Text(NamedTuple):
    """A UTF-8 file whose lines the engine counts as a person does; what was taken out of it."""

    path: Path
    strays: Sequence[Stray] = ()


@contextmanager
def as_utf8(decoding: Decoding) -> Iterator[Text]:
    """The text of a payload.

    It is written anew next to it where its encoding is another one, where its
    lines do not all end alike, where some are blank or have zero bytes, or where
    quotes go over line ends. Raises UnreadableSourceError for an empty or binary file, or
    bytes that are not of the declared encoding.
    """
    path, options = decoding.payload, decoding.mapping.file
    _refuse_binary(path, options, decoding.file)
    if options.encoding in _DIRECT and _is_plain(path, options):
        yield Text(path)
        return
    with own_folder(path.parent) as folder:
        target = folder / "utf8"
        yield Text(target, _rewrite(target, decoding))


def _refuse_binary(path: Path, options: File, file: str) -> None:
    """A zero byte down to the header line makes a file binary; further down it costs its line.

    Loggers that lose their power leave such lines, and a tail of zero bytes.
    """
    encoding = options.encoding
    with path.open("rb") as stream:
        head = stream.read(_PROBE_BYTES)
    if not head:
        raise UnreadableSourceError(file, "it is empty", "a header line and data are needed")
    above = b"\n".join(head.split(b"\n", options.header_line)[: options.header_line])
    if b"\x00" in above and not encoding.startswith(("utf-16", "utf-32")):
        offset = above.index(b"\x00")
        raise UnreadableSourceError(
            file,
            f"it is binary: a zero byte at byte {offset + 1}",
            f"text in {encoding} is needed; check adapter and encoding in the mapping",
        )


def _is_plain(path: Path, options: File) -> bool:
    """Whether all lines end alike, in LF or CR LF, none is blank, and each is a record at most."""
    returns = feeds = pairs = 0
    quoted, quote = False, options.quote.encode()
    before = b"\n"
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            seen = before + block
            if b"\n\n" in seen or b"\x00" in block:
                return False
            found = block.count(b"\r")
            if found:
                if b"\n\r\n" in seen:
                    return False
                pairs += seen.count(b"\r\n") - before.count(b"\r\n")
            returns += found
            feeds += block.count(b"\n")
            quoted = quoted or quote in block
            before = seen[-2:]
    if returns and not returns == feeds == pairs:
        return False
    return not quoted or all_in_order(path, options)


def _rewrite(target: Path, decoding: Decoding) -> list[Stray]:
    """Write the text in UTF-8, each line ended by LF; the lines that are left out."""
    path, options = decoding.payload, decoding.mapping.file
    direct = options.encoding in _DIRECT
    encoding = "utf-8" if direct else options.encoding
    errors = "surrogateescape" if direct else "strict"  # what is no UTF-8 is refused line by line
    lines = Lines(options, decoding.max_line_bytes)
    with (
        path.open(encoding=encoding, errors=errors) as source,
        target.open("w", encoding="utf-8", errors=errors, newline="\n") as sink,
    ):
        try:
            sink.writelines(lines.mended(iter(lambda: source.readline(lines.longest + 1), "")))
        except UnicodeError as error:
            raise UnreadableSourceError(
                decoding.file,
                f"it is not {options.encoding} text: {error}",
                "mend `encoding` in the mapping",
            ) from error
    return lines.strays


def first_lines(path: Path, count: int, longest: int) -> list[str]:
    """The first `count` lines, without line ends and byte order mark."""
    with path.open("rb") as stream:
        raw = list(islice(iter(lambda: stream.readline(longest), b""), count))
    return [line.decode("utf-8-sig", errors="replace").rstrip("\r\n") for line in raw]
