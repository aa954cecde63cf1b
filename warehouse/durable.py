"""Making bytes durable: the one place that asks the disk to keep them.

The Delta library writes and links its files without asking; until the files
and their folders are synced, a power cut may take an acknowledged commit back.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path


def sync_file(path: Path) -> None:
    """Ask the disk to keep the content of a file."""
    descriptor = os.open(path, os.O_RDONLY if os.name != "nt" else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def sync_folder(path: Path) -> None:
    """Ask the disk to keep the names in a folder; Windows has no such call."""
    if os.name != "nt":
        sync_file(path)


def write_whole(path: Path, text: str) -> None:
    """Write a small file, durably, so that it has its old content or the new, never half of it."""
    making = path.with_name(f"{path.name}.making")
    try:
        making.write_text(text, encoding="utf-8")
        sync_file(making)
        making.replace(path)
    except BaseException:
        making.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_all(files: Iterable[Path]) -> None:
    """Files, then each of their folders once."""
    listed = list(files)
    for path in listed:
        sync_file(path)
    for folder in sorted({path.parent for path in listed}):
        sync_folder(folder)
