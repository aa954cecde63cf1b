"""The judge: pure, the only one that decides conditions."""

from warehouse.judging.judge import Judgement, judge, judged_rows
from warehouse.judging.kept import KeptJudgement, attach_kept, fingerprint, keep
from warehouse.judging.working import CONDITIONS, forget, work_out, worked_out

__all__ = [
    "CONDITIONS",
    "Judgement",
    "KeptJudgement",
    "attach_kept",
    "fingerprint",
    "forget",
    "judge",
    "judged_rows",
    "keep",
    "work_out",
    "worked_out",
]
