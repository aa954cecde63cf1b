"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

# No path is checked by the parser of the command line (`readable=False`): whoever reads it tells
# what is wrong with it, with the exit code that means it.
Home = Annotated[
    Path,
    typer.Option(
        "--home", envvar="MCW_HOME", help="Folder of the store.", show_default=True, readable=False
    ),
]
DEFAULT_HOME = Path("condition-store")
Json = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]
