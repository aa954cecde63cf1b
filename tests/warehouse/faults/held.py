"""`mcw` in a process of its own that stands still in the middle of a commit until it is let go on.

    python -m tests.warehouse.faults.held METHOD TABLE FOLDER COMMAND ...

stands still when `DeltaLog.METHOD` of the table is called: it makes FOLDER/there
and waits for FOLDER/go.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

_ROOT = Path(__file__).parents[3]


class Background:
    """A started `mcw`, whose messages can be read while it runs."""

    def __init__(self, folder: Path, *arguments: str | Path, hold: str | None = None) -> None:
        """Start it; `hold` is `METHOD TABLE`, where it shall stand still."""
        folder.mkdir()
        self._folder = folder
        words = [str(one) for one in arguments]
        command = [sys.executable, "-c", "from warehouse.cli import main; main()", *words]
        if hold:
            module = "tests.warehouse.faults.held"
            command = [sys.executable, "-m", module, *hold.split(), str(folder), *words]
        environment = {k: v for k, v in os.environ.items() if not k.startswith("MCW_")}
        with (folder / "said").open("w") as said:
            self.process = subprocess.Popen(
                command, cwd=_ROOT, stdout=said, stderr=said, env=environment | {"COLUMNS": "250"}
            )
        if hold:
            self.until(lambda: (folder / "there").exists())

    def said(self) -> str:
        """What it has said so far, on both streams."""
        return (self._folder / "said").read_text(encoding="utf-8")

    def until(self, true: Callable[[], object]) -> None:
        """Wait until something holds."""
        deadline = time.monotonic() + 60
        while not true():
            assert time.monotonic() < deadline, self.said()
            time.sleep(0.02)

    def until_said(self, words: str) -> None:
        """Wait until it has said something."""
        self.until(lambda: words in self.said())

    def signal(self, number: int) -> None:
        """Send a signal."""
        self.process.send_signal(number)

    def let_go_on(self) -> None:
        """End its standing still."""
        (self._folder / "go").touch()

    def ended(self) -> int:
        """Wait for its end, which is never a traceback; its exit code."""
        code = self.process.wait(60)
        assert "Traceback" not in self.said(), self.said()
        return code

    def __enter__(self) -> Background:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(30)


def _stand_still(method: str, table: str, folder: Path) -> None:
    from warehouse.store.delta import DeltaLog

    plain: Callable[..., Any] = getattr(DeltaLog, method)

    def standing(self: DeltaLog, *arguments: Any, **named: Any) -> Any:
        if self.table.name == table and not (folder / "there").exists():
            (folder / "there").touch()
            while not (folder / "go").exists():
                time.sleep(0.01)
        return plain(self, *arguments, **named)

    setattr(DeltaLog, method, standing)


if __name__ == "__main__":
    from warehouse.cli import main

    _stand_still(sys.argv[1], sys.argv[2], Path(sys.argv[3]))
    sys.argv = ["mcw", *sys.argv[4:]]
    main()
