"""Makes a large invented site: two years of routes, more than a year online, planted failures.

Written from the trade's rules to be hard to judge. Nothing it writes was measured.
Same arguments give the same bytes.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

MAPPINGS: Final = Path(__file__).resolve().parent / "mappings"

__all__ = ["MAPPINGS"]
