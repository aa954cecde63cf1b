"""A small cut of `make prove-judging`: a tiny site made, taken in, replayed and reckoned.

Its seed is one for building with: nothing is proved here but that the proof works.
"""

from __future__ import annotations

from functools import cache

import pytest

from ingest_examples.large.size import Size
from tests.proofs.judging.plants import CLEAN, Case, Result, prove_site
from tests.proofs.judging.prove import report
from tests.proofs.judging.replay import moments
from tests.proofs.judging.verdicts import DAY, Planted

_SIZE = Size(online=2, route=2, failures=2, online_days=120, route_days=150, hours=24)


@cache
def _result() -> Result:
    return prove_site(Case(6, _SIZE, CLEAN, 60.0, closing_in=True))


@pytest.mark.slow
def test_a_tiny_site_is_judged_at_every_moment_and_every_machine_is_reckoned() -> None:
    result = _result()
    assert len(result.verdicts) == _SIZE.online + _SIZE.route
    assert result.moments >= 5
    for verdict in result.verdicts:
        assert sum(verdict.sound_levels.values()) > 0


def test_a_loud_failure_is_found_between_the_first_showing_and_its_coming() -> None:
    found = [v for v in _result().verdicts if v.alerted is not None]
    assert found, "a judge that says nothing is noticed"
    for verdict in found:
        assert verdict.planted.visible is not None
        assert verdict.planted.visible <= (verdict.alerted or 0) < verdict.planted.fails


def test_the_report_tells_all() -> None:
    text = "\n".join(report([_result()]))
    for words in (
        "failures that could be seen",
        "false alerts",
        "by type and method",
        "sound machines stood at",
    ):
        assert words in text


def test_moments_are_even_and_include_the_eve_of_a_failure_online() -> None:
    failing = Planted("P-1", "online", 0, 40 * DAY, "unbalance", "linear", 3, 4, 20 * DAY, True)
    walked = Planted("P-2", "route", 0, 40 * DAY, "unbalance", "linear", 3, 4, 25 * DAY, True)
    assert moments([failing, walked], 10 * DAY, 40 * DAY, 10.0) == [
        10 * DAY, 20 * DAY - 3600, 20 * DAY, 30 * DAY, 40 * DAY,
    ]  # fmt: skip
