"""A process with less than it would like: a small disk, small files, or no right where it has none.

Run as a program it reads commands, one JSON array a line, runs `mcw` with them
and answers with how it ended; as a module it gives tests that process. The
superuser's right to pass over permissions is given up first.
"""

from __future__ import annotations

import contextlib
import ctypes
import io
import json
import os
import shutil
import subprocess
import sys
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.cli.running import Ended

_ROOT = Path(__file__).parents[3]
_DROP_FROM_BOUNDING_SET = 24
_PASSES_OVER_PERMISSIONS = (1, 2)  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH
_BOUND = "MCW_TEST_IS_BOUND"


class Confined:
    """`mcw` in that process."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process
        self._root = f"/proc/{process.pid}/root"

    def seen(self, path: Path) -> Path:
        """A path of that process, as this one sees it: its disks are its own."""
        return Path(self._root + str(path))

    def _own(self, path: str | Path) -> str:
        return str(path).removeprefix(self._root)

    def mcw(self, *arguments: str | Path, largest_file: int | None = None) -> Ended:
        """Run `mcw` to its end, perhaps with a bound on the size of files."""
        words = [self._own(one) for one in arguments]
        code, out, err = self._ask({"mcw": words, "largest_file": largest_file})
        ended = Ended(code, out, err)
        assert "Traceback" not in ended.said, ended.said
        return ended

    def fill(self, folder: Path, leave: int) -> None:
        """Fill the disk that holds a folder until so many bytes are left."""
        self._ask({"fill": self._own(folder), "leave": leave})

    def make_room(self, folder: Path) -> None:
        """Take away what `fill` put there."""
        self._ask({"make_room": self._own(folder)})

    def mount_read_only(self, folder: Path, *, writable: bool = False) -> None:
        """Let a folder be for reading only, or take that back."""
        self._ask({"mount": str(folder), "options": "rw" if writable else "ro"})

    def _ask(self, order: dict[str, Any]) -> Any:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(order) + "\n")
        self._process.stdin.flush()
        return json.loads(self._process.stdout.readline())


@contextmanager
def confined(
    disk: Path | None = None, size_mb: int = 6, *, mounts: bool = False
) -> Iterator[Confined]:
    """That process; a folder given as `disk` becomes a small disk that it alone sees.

    Skips the test where this machine does not let it.
    """
    command = [sys.executable, "-m", "tests.warehouse.faults.confined"]
    if disk or mounts:
        make = f"mkdir -p '{disk}' && mount -t tmpfs -o size={size_mb}m none '{disk}' && "
        command = ["unshare", "-rm", "sh", "-c", f'{make if disk else ""}exec "$@"', "sh", *command]
        if shutil.which("unshare") is None:
            pytest.skip("no unshare here")
    environment = {k: v for k, v in os.environ.items() if not k.startswith("MCW_")}
    process = subprocess.Popen(
        command,
        cwd=_ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        encoding="utf-8",
        env=environment | {"COLUMNS": "250", "PYTHONUTF8": "1"},
    )
    with process:
        try:
            assert process.stdout is not None
            if process.stdout.readline() != "ready\n":
                pytest.skip("this machine lets no process be confined")
            yield Confined(process)
        finally:
            process.kill()


def _give_up_rights() -> None:
    """Have permissions bind the superuser too; that takes effect with the next program."""
    if sys.platform != "linux" or os.geteuid() != 0 or _BOUND in os.environ:
        return
    library = ctypes.CDLL(None)
    for right in _PASSES_OVER_PERMISSIONS:
        library.prctl(_DROP_FROM_BOUNDING_SET, right, 0, 0, 0)
    os.environ[_BOUND] = "yes"
    os.execv(sys.executable, [sys.executable, "-m", "tests.warehouse.faults.confined"])


def _serve() -> None:
    from warehouse.cli import complete_app  # what every command needs, before the disk is full

    complete_app()
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    answers.write("ready\n")
    answers.flush()
    for line in sys.stdin:
        answers.write(json.dumps(_obey(json.loads(line))) + "\n")
        answers.flush()


def _obey(order: dict[str, Any]) -> Any:
    if "mcw" in order:
        with _bounded(order["largest_file"]):
            return run_here(order["mcw"])
    if "fill" in order:
        return _fill(Path(order["fill"]), order["leave"])
    if "make_room" in order:
        return _filler(Path(order["make_room"])).unlink()
    folder = order["mount"]
    for words in (["--bind", folder, folder], ["-o", f"remount,bind,{order['options']}", folder]):
        subprocess.run(["mount", *words], check=True, stdout=subprocess.DEVNULL)
    return None


@contextmanager
def _bounded(largest: int | None) -> Iterator[None]:
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    if largest is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def run_here(arguments: Sequence[str | Path]) -> tuple[int, str, str]:
    """Run `mcw` in this very process: its exit code and what it said."""
    from warehouse.cli import main

    out, err = io.StringIO(), io.StringIO()
    code: Any = 0
    sys.argv = ["mcw", *map(str, arguments)]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main()
        except SystemExit as ended:
            code = ended.code or 0
        except BaseException:
            traceback.print_exc()
            code = -1
    return code, out.getvalue(), err.getvalue()


def _filler(folder: Path) -> Path:
    return folder / "filler"


def _fill(folder: Path, leave: int) -> None:
    disk = os.statvfs(folder)
    with _filler(folder).open("wb") as stream:
        os.posix_fallocate(stream.fileno(), 0, disk.f_bavail * disk.f_frsize - leave)


def mcw_here(*arguments: str | Path) -> Ended:
    """Run `mcw` in this very process; it never ends in a traceback."""
    ended = Ended(*run_here(arguments))
    assert "Traceback" not in ended.err
    return ended


if __name__ == "__main__":
    _give_up_rights()
    _serve()
