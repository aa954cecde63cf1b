"""Judging: the only writer of conditions. Level and zone, with their whole evidence."""

from warehouse.judging.judge import Judgement, judge, judged_rows

__all__ = ["Judgement", "judge", "judged_rows"]
