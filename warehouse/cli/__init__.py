"""The command `mcw`. Data go to stdout, progress and messages to stderr.

Exit codes: 0 done, 2 usage, 3 configuration, mapping or registry at fault,
4 nothing usable in the input, 5 the input is not there, 6 the store cannot be
used, 70 a fault of this program.
"""

from __future__ import annotations

import sys
import traceback
from functools import cache
from importlib.metadata import entry_points
from typing import TYPE_CHECKING

from warehouse.errors import WarehouseError

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
        app(prog_name="mcw")
    except WarehouseError as error:
        sys.stderr.write(f"{error.message}\n")
        raise SystemExit(error.exit_code) from None
    except Exception:
        traceback.print_exc()
        sys.stderr.write("This is a fault of mcw itself; the lines above say where.\n")
        raise SystemExit(_FAULT_OF_OURS) from None
