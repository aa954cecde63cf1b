"""Nothing is lost and nothing is counted twice, whatever arrives and in whatever order."""

from __future__ import annotations

import tempfile
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.warehouse.services.small_plant import Plant, Reading, make_plant, series, stamp
from warehouse.inbox import Counts, Ledger
from warehouse.services.ingest import commit_all, receive


def _fates(counts: Counts) -> tuple[int, int, int, int]:
    assert counts.accounted == counts.items
    return counts.accepted, counts.duplicate, counts.revised, counts.rejected


def _shown(plant: Plant) -> list[Reading]:
    return [(*row[:3], f"{row[3]:.2f}") for row in plant.current()]


def test_same_file_twice_changes_nothing(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    readings = series(0, 5)
    plant.ingest(readings)
    before = plant.ask("SELECT * FROM readings ORDER BY row")
    with Ledger.open(plant.store.inbox) as ledger:
        (receipt,) = receive(plant.store, ledger, [plant.arrive("other name.csv", readings)])
        assert receipt.repeated
        assert ledger.pending() == []
        assert commit_all(plant.store, ledger) == []
        (package,) = ledger.packages()
    assert (package.number, package.repeats) == (receipt.package, 1)
    assert plant.ask("SELECT * FROM readings ORDER BY row") == before


def test_overlapping_exports_store_each_reading_once(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    history = series(0, 12)
    first, second = plant.ingest(history[:8], history[4:])
    assert _fates(first.counts) == (8, 0, 0, 0)
    assert _fates(second.counts) == (4, 4, 0, 0)
    assert [row[3] for row in plant.current()] == pytest.approx([2 + n / 100 for n in range(12)])
    assert plant.ask("SELECT count(*) AS n FROM readings") == [{"n": 12}]


def test_overlap_within_one_group_counts_by_package(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    same = series(0, 3)
    first, second, third = plant.ingest(same, [*same, *series(3, 1)], series(2, 3))
    assert _fates(first.counts) == (3, 0, 0, 0)
    assert _fates(second.counts)[:2] == (1, 3)
    assert third.counts.items == 3
    assert len(plant.current()) == 5


@pytest.mark.parametrize(
    ("again", "outcome"),
    [
        ("2.100", "duplicate"),
        ("2.1", "duplicate"),
        ("2.104", "duplicate"),
        ("2.11", "revised"),
        ("2.2", "revised"),
        ("-1", "rejected"),
    ],
)
def test_equal_within_the_printed_digit_is_a_duplicate(
    tmp_path: Path, again: str, outcome: str
) -> None:
    plant = make_plant(tmp_path)
    _, second = plant.ingest([("L1", "1", stamp(0), "2.10")], [("L1", "1", stamp(0), again)])
    assert getattr(second.counts, outcome) == 1
    assert second.counts.accounted == second.counts.items == 1


def test_revision_keeps_both_rows_and_shows_the_later(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    first, second = plant.ingest([("L1", "1", stamp(0), "2.10")], [("L1", "1", stamp(0), "3.50")])
    assert _fates(second.counts) == (0, 0, 1, 0)
    stored = plant.ask("SELECT package, value FROM readings ORDER BY value")
    assert stored == [
        {"package": first.number, "value": pytest.approx(2.1)},
        {"package": second.number, "value": pytest.approx(3.5)},
    ]
    ended = plant.ask("SELECT package, row, ended_by, why FROM superseded")
    row = plant.ask(f"SELECT row FROM readings WHERE package = {first.number}")[0]["row"]
    assert ended == [
        {"package": first.number, "row": row, "ended_by": second.number, "why": "revision"}
    ]
    assert _shown(plant) == [("L1", "1", stamp(0), "3.50")]


def test_revision_of_a_revision_leaves_one_current_value(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    for value in ("2.10", "3.50", "2.90"):
        plant.ingest([("L1", "1", stamp(0), value)])
    assert _shown(plant) == [("L1", "1", stamp(0), "2.90")]
    assert plant.ask("SELECT count(*) AS n FROM superseded") == [{"n": 2}]


_HISTORY = [*series(0, 4), *series(0, 4, channel="2", value=5.0), *series(1500, 2)]


@settings(max_examples=4, deadline=None)
@given(data=st.data())
def test_any_split_in_any_order_with_repeats_gives_the_same_dataset(data: st.DataObject) -> None:
    order = data.draw(st.permutations(_HISTORY))
    cuts = sorted(data.draw(st.sets(st.integers(1, len(order) - 1), max_size=3)))
    edges = [0, *cuts, len(order)]
    parts: list[list[Reading]] = [order[a:b] for a, b in pairwise(edges)]
    repeats = data.draw(st.lists(st.sampled_from(_HISTORY), max_size=5))
    if repeats:
        parts.insert(data.draw(st.integers(0, len(parts))), repeats)
    with tempfile.TemporaryDirectory() as folder:
        plant = make_plant(Path(folder))
        packages = plant.ingest(*parts)
        assert {row[:3]: f"{row[3]:.2f}" for row in plant.current()} == {
            reading[:3]: reading[3] for reading in _HISTORY
        }
        assert len(plant.current()) == len(_HISTORY)
        for package in packages:
            assert package.counts.accounted == package.counts.items
        assert sum(p.counts.accepted for p in {p.number: p for p in packages}.values()) == len(
            _HISTORY
        )


def test_a_large_package_goes_in_by_parts_of_whole_days(tmp_path: Path) -> None:
    plant = make_plant(tmp_path, {"chunk_rows": 1_000})
    readings = [reading for day in range(4) for reading in series(day * 1440, 400)]
    (package,) = plant.ingest(readings)
    assert _fates(package.counts) == (1_600, 0, 0, 0)
    assert plant.ask("SELECT count(*) AS n, count(DISTINCT ts) AS times FROM readings_current") == [
        {"n": 1_600, "times": 1_600}
    ]
    (again,) = plant.ingest([*readings, ("L1", "2", stamp(0), "1.00")])
    assert _fates(again.counts) == (1, 1_600, 0, 0)


def test_a_failed_file_blocks_no_other(tmp_path: Path) -> None:
    plant: Plant = make_plant(tmp_path)
    with Ledger.open(plant.store.inbox) as ledger:
        broken = plant.arrive("broken.csv", [])
        broken.file.write_bytes(b"")
        good = plant.arrive("good.csv", series(0, 2))
        bad_receipt, good_receipt = receive(plant.store, ledger, [broken, good])
        commit_all(plant.store, ledger)
        bad, fine = ledger.package(bad_receipt.package), ledger.package(good_receipt.package)
    assert bad.state == "failed"
    assert bad.error is not None
    assert "broken.csv" in bad.error
    assert (fine.state, fine.counts.accepted) == ("committed", 2)
