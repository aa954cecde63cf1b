"""The command as a user has it: a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

_MCW = Path(sys.executable).parent / ("mcw.exe" if os.name == "nt" else "mcw")


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended and what it said."""

    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        """Both streams, white space made single: tables break lines where they like."""
        return " ".join((self.out + " " + self.err).split())


def start(*arguments: str | Path, cwd: Path | None = None) -> subprocess.Popen[str]:
    """Start `mcw` without waiting."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("MCW_")}
    return subprocess.Popen(
        [str(_MCW), *map(str, arguments)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        env=environment | {"COLUMNS": "250", "PYTHONUTF8": "1"},
        cwd=cwd,
    )


def finish(process: subprocess.Popen[str]) -> Ended:
    """Wait for a started command; it never ends in a traceback."""
    out, err = process.communicate(timeout=120)
    ended = Ended(process.returncode, out, err)
    assert "Traceback" not in ended.said, ended.said
    return ended


def mcw(*arguments: str | Path, cwd: Path | None = None) -> Ended:
    """Run `mcw` to its end."""
    return finish(start(*arguments, cwd=cwd))
