"""A small cut of `make prove-arrival`: one round under kills, compared with the plain model."""

from __future__ import annotations

from tests.proofs.arrival.prove import prove


def test_killed_here_and_there_nothing_is_lost_doubled_or_unexplained() -> None:
    tally = prove(seed=12, wanted=10)
    assert tally.kills >= 10
    assert len(tally.killed) > 5, "killed at steps of several kinds"
    assert str(tally) == f"kills {tally.kills}  lost 0  doubled 0  unexplained 0"
