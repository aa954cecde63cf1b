"""The command `mcw`. Data go to stdout, progress and messages to stderr.

Exit codes: 0 done, 2 usage, 3 configuration, mapping, registry or limits at fault,
4 nothing usable in the input, or in one of its files, 5 the input is not there,
6 the store cannot be used, 7 no room on the disk, 8 no right to read or write,
9 another program holds it, 10 the clock cannot be right, 11 a target does not
take what it is told, 70 a fault of this program, 130 and 143 stopped by SIGINT
(Ctrl-C) and SIGTERM. Where several files are given, those that can be used are
taken in whatever becomes of the others.
"""

from __future__ import annotations

import signal
import sys
import traceback
from functools import cache
from importlib.metadata import entry_points
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from warehouse.errors import WarehouseError
from warehouse.refusals import refusal
from warehouse.services.stopping import SIGNALLED, EndedError, StopAskedError, ending_on_signals

if TYPE_CHECKING:
    from typer import Typer

_FAULT_OF_OURS = 70


@cache
def complete_app() -> Typer:
    """The commands, with those that installed packages add by the entry point `mcw.commands`."""
    from warehouse.cli.app import app

    for entry in sorted(entry_points(group="mcw.commands"), key=lambda e: e.name):
        app.command(entry.name)(entry.load())
    return app


def main() -> None:
    """Entry point of the command `mcw`."""
    app = complete_app()
    try:
        with ending_on_signals():
            app(prog_name="mcw")
            sys.stdout.flush()
    except WarehouseError as error:
        _end(error.message, error.exit_code)
    except (StopAskedError, EndedError) as stopped:
        name = signal.Signals(stopped.exit_code - SIGNALLED).name
        _end(f"Stopped by {name}. Nothing is lost; the same command goes on.", stopped.exit_code)
    except Exception as error:
        told = refusal(error, Path("mcw"))
        if told is not None:
            _end(told.message, told.exit_code)
        traceback.print_exc()
        _end("This is a fault of mcw itself; the lines above say where.", _FAULT_OF_OURS)


def _end(message: str, code: int) -> NoReturn:
    sys.stderr.write(f"{message}\n")
    raise SystemExit(code) from None
