"""A file read by a wrong mapping, then by the mended one: what the page on it says is so."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.services.small_plant import MAPPING, Plant, make_plant, series, write_file
from warehouse.inbox import Ledger, Package
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services.ingest import Arrival, commit_all, judge_now, only_committer, receive
from warehouse.services.judging import published
from warehouse.services.rejected import first_rejects
from warehouse.services.retracting import retract

_STATED = MAPPING.replace(
    'band = "10-1000Hz"',
    'band = "10-1000Hz"\nsite = "works"\nasset = "M-1"\nposition = "motor-de"\naxis = "horizontal"',
)
_OTHER_READINGS = (3, 0, 0)
_DUPLICATES = (0, 3, 0)
_REVISIONS = (0, 0, 3)
_ONE_BLANK = (0, 2, 0)


def _take(plant: Plant, name: str, mapping: str) -> Package:
    path = plant.folder / f"{name}.toml"
    path.write_text(mapping, encoding="utf-8")
    arrival = Arrival(write_file(plant.folder / "a.csv", series(0, 3)), path)
    with Ledger.open(plant.store.inbox) as ledger:
        (receipt,) = receive(plant.store, ledger, [arrival])
        commit_all(plant.store, ledger)
        return ledger.package(receipt.package)


def _current(plant: Plant) -> list[dict[str, object]]:
    return plant.ask(
        "SELECT asset, position, axis, quantity, detector, band, feature, method, ts, value, unit "
        "FROM readings_current ORDER BY ALL"
    )


def _slow(*case: object) -> object:
    """A case much like one that is not slow."""
    return pytest.param(*case, marks=pytest.mark.slow)


@pytest.mark.parametrize(
    ("mended", "right", "wrong", "becomes"),
    [
        (MAPPING, '"UTC"', '"Europe/Vienna"', _OTHER_READINGS),
        _slow(MAPPING, '"wired"', '"route"', _OTHER_READINGS),
        (MAPPING, '"rms"', '"peak"', _OTHER_READINGS),
        _slow(MAPPING, "10-1000Hz", "2-1000Hz", _OTHER_READINGS),
        _slow(MAPPING, "band =", 'feature = "1x"\nband =', _OTHER_READINGS),
        (MAPPING, '"mm/s"', '"[in_i]/s"', _REVISIONS),
        (MAPPING.replace('"--"', '"2.01"'), '"2.01"', '"--"', _ONE_BLANK),
        (_STATED, "M-1", "M-2", _DUPLICATES),
        _slow(_STATED, '"horizontal"', '"axial"', _DUPLICATES),
    ],
    ids=["time", "method", "detector", "band", "feature", "unit", "blank", "asset", "axis"],
)
def test_what_a_mended_mapping_makes_of_the_same_file(
    tmp_path: Path, mended: str, right: str, wrong: str, becomes: tuple[int, int, int]
) -> None:
    never_wrong = make_plant(tmp_path / "never-wrong")
    _take(never_wrong, "mended", mended)
    plant = make_plant(tmp_path / "plant")
    first = _take(plant, "wrong", mended.replace(right, wrong))
    second = _take(plant, "mended", mended).counts
    assert (second.accepted, second.duplicate, second.revised) == becomes
    assert (_current(plant) == _current(never_wrong)) == (becomes == _REVISIONS)
    with Ledger.open(plant.store.inbox) as ledger:
        with only_committer(plant.store):
            retract(plant.store, ledger, first.number, dry_run=False)
        commit_all(plant.store, ledger)
    assert _current(plant) == _current(never_wrong)


def test_what_the_mended_mapping_took_in_is_open_no_more(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    first = _take(plant, "wrong", MAPPING.replace("[values]", '[values]\ndecimal = ","'))
    judge_now(plant.store)
    asked = {"sources": None, "reason": None, "most": 50}
    for unsettled in (3, 0):
        versions = published(plant.store).versions
        with newest_ledger(plant.store) as ledger:
            of_all = first_rejects(plant.store, ledger, versions, None, **asked)
            of_one = first_rejects(plant.store, ledger, versions, first.number, **asked)
        assert (len(of_all), len(of_one)) == (unsettled, unsettled)
        _take(plant, "mended", MAPPING)
