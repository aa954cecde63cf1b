"""Files moved away once they were taken in, and followed: their writer may not have done yet.

A writer that holds a file open writes on after it was renamed. What it writes
then makes the file another one, which is taken in again from where it is now.
"""

from __future__ import annotations

import errno
import hashlib
import re
import shutil
import time
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

from warehouse.inbox import Ledger
from warehouse.refusals import plain_refusals
from warehouse.services.folder import PATIENCE, Mark, RestingFiles, mark_of

_FOLLOWED_SECONDS = 86_400.0
_NUMBERED = re.compile(r"\.\d+(?=(\.[^.]*)?$)")
_UNKNOWN = Mark(-1, -1, -1)


class MovedFiles(RestingFiles):
    """The folder that files are moved to, and those of them that may still grow."""

    def __init__(self, folder: Path, rest_seconds: float) -> None:
        super().__init__(rest_seconds)
        self.folder = folder
        self._followed: dict[Path, float] = {}
        self._look_at = 0.0
        with plain_refusals(folder):
            folder.mkdir(parents=True, exist_ok=True)

    def complete(self) -> list[Path]:
        """Moved files that have grown and come to rest; looked for now and then."""
        now = time.monotonic()
        if now < self._look_at and not (self._growing or self._unended):
            return []
        self._look_at = now + PATIENCE * self.rest_seconds
        for path in [path for path, until in self._followed.items() if until < now]:
            del self._followed[path]
        return super().complete()

    def move(self, path: Path, mark: Mark) -> Path | None:
        """Move a file here and follow it; None where it is no longer as marked: then it stays."""
        with plain_refusals(self.folder):
            moved = move_to(path, self.folder, mark)
        if moved is None:
            return None
        self._follow(*moved)
        return moved[0]

    def holds(self, name: str) -> bool:
        """Whether a file of that name was moved here lately."""
        return any(name in _names(path) for path in self._followed)

    def find_grown(self, ledger: Ledger, source: str) -> None:
        """Follow files of a source that were moved here earlier, by whichever program.

        One that begins with the bytes of a package of its name and is longer has
        grown since.
        """
        known = ledger.received_names(source)
        for path in self.folder.iterdir():
            mark = None if path.name.startswith(".") else mark_of(path)
            if mark is None:
                continue
            packages: dict[int, set[str]] = defaultdict(set)
            for name in _names(path):
                for size, digests in known.get(name, {}).items():
                    packages[size] |= digests
            if mark.size in packages:
                if time.time_ns() - mark.changed < _FOLLOWED_SECONDS * 1e9:
                    self._follow(path, mark)
            elif any(_begins(path, mark.size, *known) for known in packages.items()):
                self._follow(path, _UNKNOWN)

    def _follow(self, path: Path, mark: Mark) -> None:
        self._followed[path] = time.monotonic() + _FOLLOWED_SECONDS
        self._done[path] = mark
        self._look_at = 0.0

    def _paths(self) -> Iterable[Path]:
        return self._followed


def _names(path: Path) -> tuple[str, str]:
    """Names a file may have come under: its own, and without the number that moving added."""
    return path.name, _NUMBERED.sub("", path.name)


def _begins(path: Path, size: int, known_size: int, digests: set[str]) -> bool:
    """Whether a file begins with one of the known payloads of that size."""
    if known_size >= size:
        return False
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while known_size and (block := stream.read(min(known_size, 1 << 20))):
            digest.update(block)
            known_size -= len(block)
    return digest.hexdigest() in digests


def move_to(path: Path, folder: Path, mark: Mark) -> tuple[Path, Mark] | None:
    """Move a file into a folder; where its name is taken there, a number is added.

    Returns where it is now and the mark it has there, unless it changed on the
    way. None where it is no longer as marked: then it stays where it is.
    """
    if mark_of(path) != mark:
        return None
    target = folder / path.name
    number = 1
    while target.exists():
        target = folder / f"{path.stem}.{number}{path.suffix}"
        number += 1
    try:
        return path.rename(target), mark
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
    return _move_far(path, target, mark)


def _move_far(path: Path, target: Path, mark: Mark) -> tuple[Path, Mark] | None:
    """Move a file to another disk: it is whole in one of the two places at any time."""
    copy = target.with_name(f".{target.name}.arriving")
    try:
        shutil.copy2(path, copy)
        copied = mark_of(copy)
        if copied is None or mark_of(path) != mark:
            copy.unlink()
            return None
        copy.rename(target)
    except BaseException:
        copy.unlink(missing_ok=True)
        raise
    try:
        path.unlink()
    except OSError:
        target.unlink()  # it cannot be taken away: then it was not moved
        raise
    return target, copied
