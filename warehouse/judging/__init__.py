"""Judging: the only writer of conditions. Level and zone, with their whole evidence."""

from warehouse.judging.judge import Judgement, judge

__all__ = ["Judgement", "judge"]
