"""What is received is kept, byte for byte, and gets one number."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

import pytest

from tests.warehouse.inbox.received import SMALL_MAPPING, kept, received
from tests.warehouse.services.small_plant import MAPPING, make_plant, series
from warehouse.errors import LedgerError, NotFoundError, SourceMissingError, StoreError
from warehouse.inbox import Counts, Ledger
from warehouse.mapping import parse_mapping
from warehouse.services.ingest import receive


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    return Ledger.open(tmp_path)


@pytest.mark.parametrize("size", [1, 262_144, 262_145, 2_000_000], ids=str)
def test_bytes_come_back_as_they_werereceived(tmp_path: Path, ledger: Ledger, size: int) -> None:
    content = os.urandom(size)
    number = received(ledger, tmp_path, content)
    (tmp_path / "arrival.bin").unlink()
    assert kept(ledger, number) == content


def test_small_payloads_lie_in_the_ledger_and_large_ones_in_files(
    tmp_path: Path, ledger: Ledger
) -> None:
    received(ledger, tmp_path, b"small")
    assert list(tmp_path.glob("payloads/*/*")) == []
    received(ledger, tmp_path, bytes(300_000))
    (kept,) = tmp_path.glob("payloads/*/*")
    assert kept.stat().st_size == 300_000


def test_a_package_is_source_bytes_and_mapping(tmp_path: Path, ledger: Ledger) -> None:
    first = received(ledger, tmp_path, b"same")
    assert received(ledger, tmp_path, b"same") == first
    assert received(ledger, tmp_path, b"other") != first
    mended = MAPPING.replace('unit = "mm/s"', 'unit = "m/s"')
    path = tmp_path / "arrival.bin"
    path.write_bytes(b"same")
    receipt = ledger.receive(path, parse_mapping(mended, "logger.toml"), mended)
    assert (receipt.repeated, receipt.package != first) == (False, True)
    assert ledger.mapping_text(ledger.package(receipt.package).mapping) == mended
    assert ledger.package(first).repeats == 1


def test_packages_survive_closing(tmp_path: Path, ledger: Ledger) -> None:
    number = received(ledger, tmp_path, b"kept")
    ledger.close()
    with Ledger.open(tmp_path) as again:
        (package,) = again.pending()
        assert (package.number, package.file, package.bytes) == (number, "arrival.bin", 4)
        assert again.package(number).counts == Counts()
        assert again.inbox_id == ledger.inbox_id


def test_numbers_of_two_inboxes_never_meet(tmp_path: Path) -> None:
    numbers = set()
    for name in ("a", "b", "c"):
        (tmp_path / name).mkdir()
        with Ledger.open(tmp_path / name) as ledger:
            numbers.add(received(ledger, tmp_path, b"same"))
    assert len(numbers) == 3
    assert max(numbers) < 2**53


def test_a_failed_package_tells_why_and_waits_no_longer(tmp_path: Path, ledger: Ledger) -> None:
    number = received(ledger, tmp_path, b"bad")
    ledger.fail(ledger.package(number), "arrival.bin: it is binary")
    package = ledger.package(number)
    assert (package.state, package.error) == ("failed", "arrival.bin: it is binary")
    assert ledger.pending() == []


def test_a_missing_file_leaves_no_trace(tmp_path: Path, ledger: Ledger) -> None:
    with pytest.raises(SourceMissingError, match="a readable file is needed"):
        ledger.receive(tmp_path / "nowhere.csv", SMALL_MAPPING, MAPPING)
    assert ledger.packages() == []


def test_an_unknown_package_is_told(ledger: Ledger) -> None:
    with pytest.raises(NotFoundError, match="no package '5'"):
        ledger.package(5)


def test_a_broken_ledger_is_told_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "ledger.sqlite").write_bytes(b"this is no database at all" * 100)
    with pytest.raises(LedgerError, match="cannot be used"):
        Ledger.open(tmp_path)
    assert (tmp_path / "ledger.sqlite").read_bytes().startswith(b"this is no database")


def test_a_ledger_of_another_format_version_is_refused(tmp_path: Path, ledger: Ledger) -> None:
    ledger.close()
    other = sqlite3.connect(tmp_path / "ledger.sqlite")
    other.execute("UPDATE inbox SET format_version = 99")
    other.commit()
    other.close()
    with pytest.raises(LedgerError, match="format version is 99; this program reads version"):
        Ledger.open(tmp_path)


def test_receipt_is_on_disk_before_anyone_is_told(tmp_path: Path, ledger: Ledger) -> None:
    number = received(ledger, tmp_path, b"told")
    with sqlite3.connect(tmp_path / "ledger.sqlite") as other:
        rows = other.execute("SELECT state, bytes FROM packages").fetchall()
    other.close()
    assert rows == [("received", 4)]
    assert ledger.package(number).state == "received"


def test_little_free_disk_refuses_the_receipt(tmp_path: Path) -> None:
    plant = make_plant(tmp_path, {"free_disk_mb": 1_000_000_000})
    with Ledger.open(plant.store.inbox) as ledger:
        with pytest.raises(StoreError, match=r"nothing is received below 1000000000 MB"):
            receive(plant.store, ledger, [plant.arrive("f.csv", series(0, 1))])
        assert ledger.packages() == []
