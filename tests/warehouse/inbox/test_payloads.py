"""Payloads: compressed once they were taken in, and the same bytes come back."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.warehouse.inbox.received import SMALL_MAPPING, kept, received
from tests.warehouse.services.small_plant import MAPPING, make_plant, series
from warehouse.inbox import Ledger
from warehouse.inbox.payloads import Payloads
from warehouse.services.housekeeping import compress_payloads

_SIZES = {"small": 100_000, "large": 400_000}


@pytest.mark.parametrize("size", _SIZES.values(), ids=list(_SIZES))
@pytest.mark.parametrize("packed", [False, True], ids=["text", "packed already"])
def test_bytes_are_the_same_compressed(tmp_path: Path, size: int, packed: bool) -> None:
    content = os.urandom(size) if packed else b"2025-06-01,2.10\n" * (size // 16)
    with Ledger.open(tmp_path) as ledger:
        number = received(ledger, tmp_path, content)
        assert ledger.payloads.compress(10) == 0  # it waits: nobody spends time on it now
        ledger.fail(ledger.package(number), "for this test")
        assert ledger.payloads.compress(10) == 1
        assert kept(ledger, number) == content
        assert ledger.payloads.kept(ledger.package(number))
        assert ledger.payloads.compress(10) == 0


def test_compressing_frees_disk(tmp_path: Path) -> None:
    content = b"2025-06-01,2.10\n" * 40_000
    with Ledger.open(tmp_path) as ledger:
        ledger.fail(ledger.package(received(ledger, tmp_path, content)), "for this test")
        ledger.payloads.compress(10)
    (file,) = (tmp_path / "payloads").glob("*/*")
    assert file.stat().st_size < len(content) / 10


def test_stopped_while_compressing_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = b"2025-06-01,2.10\n" * 40_000
    with Ledger.open(tmp_path) as ledger:
        number = received(ledger, tmp_path, content)
        ledger.fail(ledger.package(number), "for this test")
        with monkeypatch.context() as patch:
            patch.setattr(Path, "unlink", _power_cut)
            with pytest.raises(KeyboardInterrupt):
                ledger.payloads.compress(10)
        assert kept(ledger, number) == content
        assert ledger.payloads.compress(10) == 1
        assert kept(ledger, number) == content


def _power_cut(*_: object, **__: object) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize(("codec", "looked_at"), [("zstd", 1), ("none", 0)])
def test_the_setting_decides(tmp_path: Path, codec: str, looked_at: int) -> None:
    plant = make_plant(tmp_path, {"payload_codec": codec})
    plant.ingest(series(0, 3))
    with Ledger.open(plant.store.inbox) as ledger:
        assert compress_payloads(plant.store, ledger) == looked_at


def test_a_file_that_changes_while_it_is_copied_is_kept_as_it_was_copied(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "growing.csv"
    path.write_bytes(b"a" * 300_000)
    copy_large = Payloads.copy_large

    def grown(self: Payloads, path: Path, payload: object) -> object:
        path.write_bytes(b"b" * 310_000)
        return copy_large(self, path, payload)  # type: ignore[arg-type]

    monkeypatch.setattr(Payloads, "copy_large", grown)
    with Ledger.open(tmp_path) as ledger:
        number = ledger.receive(path, SMALL_MAPPING, MAPPING).package
        assert (kept(ledger, number), ledger.package(number).bytes) == (b"b" * 310_000, 310_000)
