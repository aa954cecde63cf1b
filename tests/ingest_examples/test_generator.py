"""The invented files are what the generator makes, byte for byte."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from ingest_examples import ROOT
from ingest_examples.generator.build import build
from ingest_examples.generator.clock import Period

_TEXT = {".csv", ".toml", ".json", ".ndjson", ".senml"}
_MADE = ("files", "registry", "manifest.toml", "truth.csv")


def _texts(root: Path) -> dict[str, bytes]:
    listed = [path for name in _MADE for path in [root / name, *(root / name).rglob("*")]]
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in listed
        if path.is_file() and path.suffix in _TEXT
    }


def test_default_arguments_make_the_same_bytes_again(tmp_path: Path) -> None:
    start = dt.datetime(2025, 8, 16, tzinfo=dt.UTC)
    build(Period(int(start.timestamp()), 90, 20_718, 1.0), tmp_path, lambda _: None)
    made, kept = _texts(tmp_path), _texts(ROOT)
    assert made.keys() == kept.keys()
    assert [name for name in kept if made[name] != kept[name]] == []
