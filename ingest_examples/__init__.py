"""An invented plant group whose files show every kind of source.

Nothing here was measured. All sites, machines, devices, people and values are
made by `python -m ingest_examples.generator`; they say nothing of any real plant.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parent
REGISTRY: Final = ROOT / "registry"
MAPPINGS: Final = ROOT / "mappings"
FILES: Final = ROOT / "files"
MANIFEST: Final = ROOT / "manifest.toml"
TRUTH: Final = ROOT / "truth.csv"

__all__ = ["FILES", "MANIFEST", "MAPPINGS", "REGISTRY", "ROOT", "TRUTH"]
