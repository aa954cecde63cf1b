"""A mounting is corrected, and what was refused on arrival is replayed: each item counts once."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from tests.warehouse.services.small_plant import (
    REGISTRY,
    Plant,
    make_plant,
    series,
    stamp,
    write_registry,
)
from warehouse.errors import StoreError
from warehouse.inbox import Ledger, Package
from warehouse.inbox.package import RE_PLACED
from warehouse.services.checking import check_store
from warehouse.services.ingest import commit_all, only_committer, receive, replay
from warehouse.services.registry import import_registry
from warehouse.services.rejected import open_rejects
from warehouse.services.retracting import retract

_ALWAYS = "2020-01-01T00:00:00Z"


def _mounted_from(plant: Plant, time: str, before: str) -> None:
    """State another beginning of channel 1's mounting, as a person would: both in one import."""
    row = f"L1,1,works,M-1,motor-de,horizontal,{before},passed,true\n"
    header = "device,channel,site,asset,position,axis,mounted_from,commissioning,withdraw\n"
    others = [line for line in REGISTRY["mountings"].splitlines() if line.startswith("L1,2")]
    mountings = header + row + row.replace(before, time).replace("true", "false")
    mountings += "".join(f"{line},false\n" for line in others)
    import_registry(plant.store, write_registry(plant.folder / "registry", mountings=mountings))


def _replayed(plant: Plant, package: Package) -> Package:
    with Ledger.open(plant.store.inbox) as ledger:
        replay(ledger, [package.number])
        commit_all(plant.store, ledger)
        return ledger.package(package.number)


@pytest.mark.slow
@pytest.mark.parametrize("refused", [("L9", "1", stamp(0), "2.00"), ("L1", "1", stamp(9), "CAL")])
def test_what_a_correction_put_on_no_machine_is_not_refused_again(
    tmp_path: Path, refused: tuple[str, str, str, str]
) -> None:
    plant = make_plant(tmp_path)
    (package,) = plant.ingest([*series(0, 3), refused])
    _mounted_from(plant, f"{stamp(2)}:00Z", before=_ALWAYS)
    after = _replayed(plant, package)
    assert after.state == "committed-with-rejects"
    assert after.counts == package.counts
    assert len(plant.current()) == 1

    with Ledger.open(plant.store.inbox) as ledger:
        corrected = next(one for one in ledger.packages() if one.mapping == RE_PLACED)
    assert (corrected.source, corrected.state) == ("logger", "committed-with-rejects")
    assert (corrected.counts.items, corrected.counts.accepted) == (2, 0)
    assert corrected.counts.rejected_by_reason == {"not-mounted": 2}
    groups = {(g["source"], g["reason"]): g["items"] for g in open_rejects(plant.store, 50).groups}
    assert groups[("logger", "not-mounted")] == 2
    assert sum(groups.values()) == 3
    assert check_store(plant.store).findings == []

    _mounted_from(plant, _ALWAYS, before=f"{stamp(2)}:00Z")
    assert _replayed(plant, package).counts == package.counts
    assert len(plant.current()) == 3
    with Ledger.open(plant.store.inbox) as ledger:
        corrected = ledger.package(corrected.number)
    assert (corrected.state, corrected.counts.accepted) == ("committed", 2)
    assert check_store(plant.store).findings == []


@pytest.mark.slow
def test_mounted_earlier_on_replay_and_later_again(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    _mounted_from(plant, f"{stamp(1)}:00Z", before=_ALWAYS)
    (package,) = plant.ingest(series(0, 3))
    assert (package.counts.accepted, package.counts.rejected) == (2, 1)
    _mounted_from(plant, f"{stamp(2)}:00Z", before=f"{stamp(1)}:00Z")
    assert _replayed(plant, package).counts == package.counts
    _mounted_from(plant, _ALWAYS, before=f"{stamp(2)}:00Z")
    after = _replayed(plant, package)
    assert (after.counts.accepted, after.counts.rejected) == (3, 0)
    assert len(plant.current()) == 3
    assert open_rejects(plant.store, 50).groups == []


@pytest.mark.slow
def test_readings_of_several_sources_are_put_elsewhere_source_by_source(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    plant.ingest(series(0, 3))
    mapping = tmp_path / "logger.toml"
    text = mapping.read_text(encoding="utf-8").replace('id = "logger"', 'id = "export"')
    with Ledger.open(plant.store.inbox) as ledger:
        arrival = plant.arrive("other.csv", series(0, 4))
        mapping.write_text(text, encoding="utf-8")
        receive(plant.store, ledger, [arrival])
        commit_all(plant.store, ledger)
    _mounted_from(plant, f"{stamp(2)}:00Z", before=_ALWAYS)
    groups = {g["source"]: (g["reason"], g["items"]) for g in open_rejects(plant.store, 50).groups}
    assert groups == {"export": ("not-mounted", 2), "logger": ("not-mounted", 2)}
    rows = plant.ask("SELECT source, count(*) AS n FROM rejects GROUP BY ALL ORDER BY ALL")
    assert rows == [{"source": "export", "n": 2}, {"source": "logger", "n": 2}]
    assert len(plant.current()) == 3
    assert check_store(plant.store).findings == []


def test_counts_that_do_not_add_up_fail_their_package_and_no_other(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    (package,) = plant.ingest([*series(0, 3), ("L9", "1", stamp(0), "2.00")])
    with closing(sqlite3.connect(plant.store.inbox / "ledger.sqlite")) as database, database:
        database.execute("UPDATE packages SET accepted = 2")  # as a fault of the program would
    with Ledger.open(plant.store.inbox) as ledger:
        replay(ledger, [package.number])
    (other,) = plant.ingest(series(10, 5))
    assert (other.state, other.counts.accepted) == ("committed", 5)
    with Ledger.open(plant.store.inbox) as ledger:
        failed = ledger.package(package.number)
    assert failed.state == "failed"
    assert failed.error is not None
    assert "4 items came in, 3 are accounted for" in failed.error
    assert "packages" in {finding.check for finding in check_store(plant.store).findings}
    assert len(plant.current()) == 8


@pytest.mark.parametrize("withdrawn_while_off", [True, False])
def test_a_withdrawn_package_does_not_come_back_with_its_mounting(
    tmp_path: Path, withdrawn_while_off: bool
) -> None:
    plant = make_plant(tmp_path)
    (package,) = plant.ingest(series(0, 3))
    steps: list[Callable[[], None]] = [
        lambda: _mounted_from(plant, f"{stamp(2)}:00Z", before=_ALWAYS),
        lambda: _withdraw(plant, package),
    ]
    for step in steps if withdrawn_while_off else reversed(steps):
        step()
    _mounted_from(plant, _ALWAYS, before=f"{stamp(2)}:00Z")
    assert plant.current() == []
    _withdraw(plant, package, undo=True)
    assert len(plant.current()) == 3
    assert check_store(plant.store).findings == []


def test_what_counts_again_is_placed_by_the_registry_of_today(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    (package,) = plant.ingest(series(0, 3))
    _withdraw(plant, package)
    _mounted_from(plant, f"{stamp(2)}:00Z", before=_ALWAYS)
    _withdraw(plant, package, undo=True)
    assert [time for _, _, time, _ in plant.current()] == [stamp(2)]


def test_what_the_registry_placed_anew_cannot_be_withdrawn_by_itself(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    plant.ingest(series(0, 3))
    _mounted_from(plant, f"{stamp(2)}:00Z", before=_ALWAYS)
    with Ledger.open(plant.store.inbox) as ledger:
        corrected = next(one for one in ledger.packages() if one.mapping == RE_PLACED)
    with pytest.raises(StoreError, match="withdraw the package they came in"):
        _withdraw(plant, corrected)


def _withdraw(plant: Plant, package: Package, *, undo: bool = False) -> None:
    with Ledger.open(plant.store.inbox) as ledger, only_committer(plant.store):
        retract(plant.store, ledger, package.number, undo=undo, dry_run=False)
    with Ledger.open(plant.store.inbox) as ledger:
        commit_all(plant.store, ledger)


@pytest.mark.slow
def test_of_two_that_come_back_the_last_said_counts_and_the_other_is_its_revision(
    tmp_path: Path,
) -> None:
    plant = make_plant(tmp_path)
    first, second = plant.ingest(series(0, 3, value=2.0), series(0, 3, value=5.0))
    _mounted_from(plant, f"{stamp(3)}:00Z", before=_ALWAYS)
    _withdraw(plant, second)  # what it had revised counts again, and is on no machine either
    _mounted_from(plant, _ALWAYS, before=f"{stamp(3)}:00Z")
    assert [value for *_, value in plant.current()] == [2.0, 2.01, 2.02]
    _withdraw(plant, second, undo=True)
    assert [value for *_, value in plant.current()] == [5.0, 5.01, 5.02]
    _withdraw(plant, second)
    assert [value for *_, value in plant.current()] == [2.0, 2.01, 2.02]
    assert open_rejects(plant.store, 50).groups == []
    assert check_store(plant.store).findings == []
    assert first.counts.accepted == 3


@pytest.mark.slow
def test_what_its_own_file_revised_stays_revised_while_it_is_on_no_machine(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    first, second = ("L1", "1", stamp(0), "3.00"), ("L1", "1", stamp(0), "1.00")
    (package,) = plant.ingest([first, second])
    _mounted_from(plant, f"{stamp(3)}:00Z", before=_ALWAYS)
    _withdraw(plant, package)
    _withdraw(plant, package, undo=True)
    assert plant.current() == []
    _mounted_from(plant, _ALWAYS, before=f"{stamp(3)}:00Z")
    assert [value for *_, value in plant.current()] == [1.0]
    assert check_store(plant.store).findings == []


@pytest.mark.slow
def test_brought_back_while_a_later_word_is_on_no_machine(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    said = [("L1", "1", stamp(0), value) for value in ("3.00", "2.00", "1.00")]
    first, _ = plant.ingest([said[0]], [said[1]])
    _withdraw(plant, first)
    plant.ingest([said[0], said[2]])
    assert [value for *_, value in plant.current()] == [1.0]
    _mounted_from(plant, f"{stamp(3)}:00Z", before=_ALWAYS)
    _withdraw(plant, first, undo=True)
    assert plant.current() == []
    _mounted_from(plant, _ALWAYS, before=f"{stamp(3)}:00Z")
    assert [value for *_, value in plant.current()] == [1.0]


@pytest.mark.slow
@pytest.mark.parametrize("moved_before", [False, True])
def test_nothing_counts_on_a_machine_that_the_registry_no_longer_gives(
    tmp_path: Path, moved_before: bool
) -> None:
    """The channel's only mounting is withdrawn, then the last word is: the one before counts."""
    plant = make_plant(tmp_path)
    said = [("L1", "1", stamp(0), value) for value in ("2.00", "1.00")]
    _, second = plant.ingest([said[0]], [said[1]])
    row = f"L1,1,works,M-1,motor-de,horizontal,{_ALWAYS},passed"
    header = "device,channel,site,asset,position,axis,mounted_from,commissioning,withdraw\n"
    steps = [f"{row},true\n"]
    if moved_before:
        steps.insert(0, f"{row.replace('M-1', 'M-2')},false\n")
    for number, step in enumerate(steps):
        folder = write_registry(tmp_path / f"registry-{number}", mountings=header + step)
        import_registry(plant.store, folder)
    assert plant.current() == []
    _withdraw(plant, second)
    assert plant.current() == []
    _withdraw(plant, second, undo=True)
    assert plant.current() == []
    again = header + f"{row},false\n"
    import_registry(plant.store, write_registry(tmp_path / "again", mountings=again))
    assert [value for *_, value in plant.current()] == [1.0]
    assert check_store(plant.store).findings == []


@pytest.mark.slow
def test_what_comes_back_beside_a_later_reading_is_its_revision(tmp_path: Path) -> None:
    """While the first was on no machine, a mapping that names the point itself said another."""
    plant = make_plant(tmp_path)
    plant.ingest(series(0, 3, value=2.0))
    _mounted_from(plant, f"{stamp(3)}:00Z", before=_ALWAYS)
    mapping = tmp_path / "logger.toml"
    text = mapping.read_text(encoding="utf-8").replace(
        "[record]",
        '[record]\nsite = "works"\nasset = "M-1"\nposition = "motor-de"\naxis = "horizontal"',
    )
    with Ledger.open(plant.store.inbox) as ledger:
        arrival = plant.arrive("named.csv", series(0, 2, value=5.0))
        mapping.write_text(text, encoding="utf-8")
        receive(plant.store, ledger, [arrival])
        commit_all(plant.store, ledger)
    assert [value for *_, value in plant.current()] == [5.0, 5.01]
    _mounted_from(plant, _ALWAYS, before=f"{stamp(3)}:00Z")
    assert [value for *_, value in plant.current()] == [5.0, 5.01, 2.02]
    assert open_rejects(plant.store, 50).groups == []
    assert check_store(plant.store).findings == []
