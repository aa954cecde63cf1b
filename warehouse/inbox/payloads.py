"""The bytes of packages: small ones in the ledger itself, large ones as files beside it.

Bytes are kept as received, so that a receipt costs no more than it must;
housekeeping compresses them once the package was taken in.
"""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from warehouse.durable import sync_file, sync_folder
from warehouse.inbox.database import SQL, Database
from warehouse.inbox.package import Package
from warehouse.workspace import own_folder

SMALL_BYTES = 256 * 1024
"""A payload of at most so many bytes lies in the ledger itself."""
_CODEC = "zstd"
_ARRIVING = "arriving-"
_LONGEST_PAUSE = 3600.0
"""Seconds; a copy that did not grow for longer was left by a program that is no more."""
_PAYS_BELOW = 0.9
"""Compressed bytes are kept only where they are that much fewer: workbooks are packed already."""


@dataclass(frozen=True, slots=True)
class Payload:
    """Bytes about to be received: their digest and size, and the bytes where they are few."""

    sha256: str
    size: int
    content: bytes | None


def payload_files(folder: Path, sha256: str) -> tuple[Path, Path]:
    """Where a large payload lies: as received, or compressed."""
    plain = folder / "payloads" / sha256[:2] / sha256
    return plain, plain.with_name(f"{sha256}.{_CODEC}")


def clear_half_received(folder: Path) -> None:
    """Remove copies of payloads that a killed program left unfinished."""
    for copy in (folder / "payloads").glob(f"{_ARRIVING}*"):
        with suppress(OSError):
            if abs(time.time() - copy.stat().st_mtime) > _LONGEST_PAUSE:
                copy.unlink()


def _linked(plain: Path, path: Path) -> Path:
    """The payload under another name, so that what is made beside it goes with its folder."""
    try:
        path.hardlink_to(plain)
    except OSError:  # a disk without links
        return plain
    return path


class Payloads:
    """The payloads of one inbox."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def digest(self, content: bytes) -> Payload:
        """Digest and size of bytes that are at hand, and few."""
        return Payload(hashlib.sha256(content).hexdigest(), len(content), content)

    def read(self, path: Path) -> Payload:
        """Digest and size of a file, and its bytes where they are few. OSError where it fails."""
        if path.stat().st_size <= SMALL_BYTES:
            content = path.read_bytes()
            return Payload(hashlib.sha256(content).hexdigest(), len(content), content)
        with path.open("rb") as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
            return Payload(digest, stream.tell(), None)

    def copy_large(self, path: Path, payload: Payload) -> Payload:
        """Keep a large payload, durably; what was copied counts, should the file have changed."""
        if payload.content is not None:
            return payload
        folder = self._database.folder / "payloads"
        folder.mkdir(exist_ok=True)
        copy = folder / f"{_ARRIVING}{uuid.uuid4().hex}"
        try:
            shutil.copyfile(path, copy)
            sync_file(copy)
            with copy.open("rb") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
            kept = payload_files(self._database.folder, digest)[0]
            kept.parent.mkdir(exist_ok=True)
            copy.replace(kept)
        except BaseException:
            copy.unlink(missing_ok=True)
            raise
        sync_folder(kept.parent)
        sync_folder(kept.parent.parent)
        return Payload(digest, kept.stat().st_size, None)

    def keep(self, ledger: sqlite3.Connection, seq: int, payload: Payload) -> None:
        """Keep a small payload in the transaction of its receipt; a large one is there already."""
        if payload.content is not None:
            ledger.execute(SQL["insert_payload"], (seq, payload.content))

    def kept(self, package: Package) -> bool:
        """Whether the package's bytes are still here; old ones are removed by `mcw vacuum`."""
        row = self._database.one("keeps_payload", (package.seq,))
        files = payload_files(self._database.folder, package.sha256)
        return row is not None or any(file.exists() for file in files)

    @contextmanager
    def open(self, packages: Sequence[Package]) -> Iterator[list[Path]]:
        """The packages' bytes as files, for the time of the `with`.

        The caller holds the inbox alone, as whoever compresses payloads does.
        """
        with own_folder(self._database.folder) as folder:
            yield [self._lay_out(package, folder) for package in packages]

    def _lay_out(self, package: Package, folder: Path) -> Path:
        path = folder / str(package.seq)
        row = self._database.one("read_payload", (package.seq,))
        plain, packed = payload_files(self._database.folder, package.sha256)
        if row is not None and row["payload_codec"] == _CODEC:
            path.write_bytes(pa.decompress(row["content"], package.bytes, _CODEC, asbytes=True))
        elif row is not None:
            path.write_bytes(row["content"])
        elif packed.exists():
            with pa.input_stream(packed, compression=_CODEC) as source, path.open("wb") as target:
                shutil.copyfileobj(source, target, 1 << 20)
        else:
            return _linked(plain, path)
        return path

    def compress(self, most: int) -> int:
        """Compress payloads that were taken in and not looked at yet, at most so many; how many.

        The caller holds the inbox alone.
        """
        rows = self._database.all("uncompressed_payloads", (most,))
        for row in rows:
            if row["small"]:
                packed = self._packed_small(row)
                codec = _CODEC if packed else "plain"
            else:
                packed, codec = None, self._compress_large(row)
            with self._database.transaction() as ledger:
                if packed:
                    ledger.execute(SQL["replace_payload"], (packed, row["seq"]))
                ledger.execute(SQL["set_payload_codec"], (codec, row["seq"]))
        return len(rows)

    def _packed_small(self, row: sqlite3.Row) -> bytes | None:
        """The payload compressed; None where that does not pay, or it is gone."""
        found = self._database.one("read_payload", (row["seq"],))
        content = bytes(found["content"]) if found else b""
        packed: bytes = pa.compress(content, _CODEC, asbytes=True)
        return None if len(packed) > _PAYS_BELOW * len(content) else packed

    def _compress_large(self, row: sqlite3.Row) -> str:
        plain, packed = payload_files(self._database.folder, row["sha256"])
        if not plain.exists():
            return _CODEC
        making = packed.with_name(f"{packed.name}.making")
        try:
            with plain.open("rb") as source, pa.output_stream(making, compression=_CODEC) as target:
                shutil.copyfileobj(source, target, 1 << 20)
        except BaseException:
            making.unlink(missing_ok=True)  # half of it would only take up room
            raise
        if making.stat().st_size > _PAYS_BELOW * plain.stat().st_size:
            making.unlink()
            return "plain"
        sync_file(making)
        making.replace(packed)
        sync_folder(packed.parent)
        plain.unlink()
        return _CODEC
