"""The judge: pure, the only one that decides conditions."""

from warehouse.judging.judge import Judgement, judge, judged
from warehouse.judging.kept import KeptJudgement, attach_kept, fingerprint, keep
from warehouse.judging.working import CONDITIONS, Machine, work_out, worked_out

__all__ = [
    "CONDITIONS",
    "Judgement",
    "KeptJudgement",
    "Machine",
    "attach_kept",
    "fingerprint",
    "judge",
    "judged",
    "keep",
    "work_out",
    "worked_out",
]
