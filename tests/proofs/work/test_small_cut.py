"""A small cut of `make prove-work`, and proof that it would notice."""

from __future__ import annotations

from collections import Counter

import pytest

from schemas.tables.work import CASE_EVENT
from tests.proofs.work.rounds import live, violations
from warehouse.work import folding, stepping

_SEEDS = range(60)


def test_nothing_is_violated() -> None:
    assert [fault for seed in _SEEDS for fault in violations(seed)] == []


def test_everything_that_can_happen_does() -> None:
    happened = Counter(row["kind"] for seed in range(400) for row in live(seed)[2])
    assert set(CASE_EVENT) - set(happened) == set()


def test_a_state_that_is_not_put_right_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stepping, "_corrected", lambda one, _: one)
    found = [fault for seed in _SEEDS for fault in violations(seed)]
    assert any("another end" in fault or "told 2 times" in fault for fault in found)


def test_a_case_too_many_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folding, "_is_past", lambda *_: True)
    assert any(f for seed in _SEEDS for f in violations(seed))
