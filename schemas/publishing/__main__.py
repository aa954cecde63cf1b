"""`python -m schemas.publishing [FOLDER]`: write the published documents."""

from __future__ import annotations

import sys
from pathlib import Path

from schemas.publishing.documents import documents


def main() -> None:
    """Write every document to the folder given, `schemas/published` by default."""
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "schemas/published")
    for name, text in documents().items():
        (folder / name).write_text(text, encoding="utf-8")
        sys.stderr.write(f"wrote {folder / name}\n")


main()
