"""A plant's own limit files for the tests."""

from __future__ import annotations

from pathlib import Path

OWN_SET = """format_version = 1
id = "works-12"
standard = "Works standard 12"
edition = "2024"
title = "Motors of the works"
status = "plant"
kind = "levels"

[[applies]]
group = "motors"
equipment_classes = ["electric-motor"]
source = "agreed with the maker"
confidence = "own"

[[row]]
groups = ["motors"]
quantity = "velocity"
detector = "rms"
unit = "[in_i]/s"
start_up = 0.05
alarm = 0.07
shutdown = 0.3
clause = "table 1"
source = "agreed with the maker"
confidence = "own"
"""

OWN_ORDER = """format_version = 1
order = ["works-12", "iso-10816-7-2009"]
reason = "the works standard goes first"
"""


def write_own(folder: Path, own_set: str = OWN_SET, order: str | None = OWN_ORDER) -> Path:
    """The plant's files in `folder`, which is the folder `limits` of a store."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "works.toml").write_text(own_set, encoding="utf-8")
    if order is not None:
        (folder / "precedence.toml").write_text(order, encoding="utf-8")
    return folder
