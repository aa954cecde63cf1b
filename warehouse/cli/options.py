"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Home = Annotated[
    Path,
    typer.Option("--home", envvar="MCW_HOME", help="Folder of the store.", show_default=True),
]
DEFAULT_HOME = Path("condition-store")
Json = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]
