"""Values that come and go again: whatever stands in which file, the last one counts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.warehouse.services.small_plant import Reading, make_plant
from warehouse.inbox import Counts, Ledger
from warehouse.services.ingest import commit_all, only_committer, replay
from warehouse.services.retracting import retract

_TIME = "2025-06-01T10:00:00"


def _values(*values: str) -> list[Reading]:
    return [("L1", "1", _TIME, value) for value in values]


@pytest.mark.parametrize(
    "later",
    [["3.00", "2.00"], ["2.00", "3.00"], ["3.00", "2.00", "2.00"], ["2.00", "3.00", "2.00"]],
)
def test_a_file_that_goes_away_from_the_stored_value_and_back(
    tmp_path: Path, later: list[str]
) -> None:
    plant = make_plant(tmp_path)
    plant.ingest(_values("2.00"))
    (package,) = plant.ingest(_values(*later, "--"))
    assert [row[3] for row in plant.current()] == [float(later[-1])]
    assert package.counts.items == package.counts.accounted == len(later)


_HISTORIES = st.lists(
    st.lists(st.sampled_from(["1.00", "2.00", "3.00"]), min_size=1, max_size=3),
    min_size=1,
    max_size=5,
)


@settings(max_examples=3, deadline=None)
@given(histories=_HISTORIES, together=st.booleans(), withdrawn=st.integers(0, 4))
def test_the_last_value_of_what_was_not_withdrawn_counts(
    tmp_path_factory: pytest.TempPathFactory,
    histories: Sequence[Sequence[str]],
    together: bool,
    withdrawn: int,
) -> None:
    plant = make_plant(tmp_path_factory.mktemp("chain"))
    files = [_values(*values, *["--"] * n) for n, values in enumerate(histories)]
    batches = [files] if together else [[file] for file in files]
    packages = [package for batch in batches for package in plant.ingest(*batch)]
    assert [row[3] for row in plant.current()] == [float(histories[-1][-1])]
    if withdrawn >= len(packages):
        return
    with Ledger.open(plant.store.inbox) as ledger:
        with only_committer(plant.store):
            retract(plant.store, ledger, packages[withdrawn].number, dry_run=False)
        commit_all(plant.store, ledger)
    left = [values for n, values in enumerate(histories) if n != withdrawn]
    assert [row[3] for row in plant.current()] == ([float(left[-1][-1])] if left else [])


def _fates(counts: Counts) -> tuple[int, int, int]:
    return counts.accepted, counts.duplicate, counts.revised


def _same(one: str, other: str) -> bool:
    """Equal within half a unit of the last digit of the coarser one."""
    coarser = min(len(text.partition(".")[2]) for text in (one, other))
    return abs(float(one) - float(other)) <= 0.5 * 10.0**-coarser * (1 + 1e-9)


_DIGITS = st.lists(
    st.lists(st.sampled_from(["2", "2.1", "2.10", "2.14", "2.16", "2.4"]), min_size=1, max_size=4),
    min_size=2,
    max_size=4,
)


@pytest.mark.slow
@settings(max_examples=4, deadline=None)
@given(histories=_DIGITS, together=st.booleans())
def test_values_with_other_digits_are_compared_with_the_one_that_counts(
    tmp_path_factory: pytest.TempPathFactory, histories: Sequence[Sequence[str]], together: bool
) -> None:
    """2.14 is the same as 2.1, and not the same as the 2.10 that 2.1 was a copy of."""
    standing, expected = None, []
    for values in histories:
        fates = [0, 0, 0]
        for value in values:
            copy = standing is not None and _same(value, standing)
            fates[1 if copy else 0 if standing is None else 2] += 1
            standing = standing if copy else value
        expected.append(tuple(fates))
    plant = make_plant(tmp_path_factory.mktemp("digits"))
    files = [_values(*values, *["--"] * n) for n, values in enumerate(histories)]
    batches = [files] if together else [[file] for file in files]
    packages = [package for batch in batches for package in plant.ingest(*batch)]
    assert [_fates(package.counts) for package in packages] == expected
    assert [row[3] for row in plant.current()] == [float(standing or "nan")]


def test_a_replay_that_changes_nothing_leaves_a_value_that_went_away_since_alone(
    tmp_path: Path,
) -> None:
    """The copy equals the first value, not the last: it is a copy all the same."""
    plant = make_plant(tmp_path)
    strange = ("L9", "1", _TIME, "1.00")
    _, second, _ = plant.ingest(_values("1.00"), [*_values("1.00"), strange], _values("2.00"))
    with Ledger.open(plant.store.inbox) as ledger:
        assert replay(ledger) == [second.number]
        commit_all(plant.store, ledger)
        assert ledger.package(second.number).counts == second.counts
    assert plant.ask("SELECT count(*) AS n FROM readings") == [{"n": 2}]
