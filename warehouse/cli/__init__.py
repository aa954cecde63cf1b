"""The command `mcw`. Data go to stdout, progress and messages to stderr.

Exit codes: 0 done, 2 usage, 3 configuration, mapping or registry at fault,
4 nothing usable in the input, 5 the input is not there, 6 the store cannot be
used, 70 a fault of this program.
"""

from __future__ import annotations

import sys
import traceback
from importlib.metadata import entry_points

from warehouse.errors import WarehouseError

_FAULT_OF_OURS = 70


def main() -> None:
    """Entry point of the command `mcw`."""
    from warehouse.cli.app import app

    for entry in sorted(entry_points(group="mcw.commands"), key=lambda e: e.name):
        app.command(entry.name)(entry.load())
    try:
        app(prog_name="mcw")
    except WarehouseError as error:
        sys.stderr.write(f"{error.message}\n")
        raise SystemExit(error.exit_code) from None
    except Exception:
        traceback.print_exc()
        sys.stderr.write("This is a fault of mcw itself; the lines above say where.\n")
        raise SystemExit(_FAULT_OF_OURS) from None
