"""A small cut of `make prove-arrival`: one round under kills, compared with the plain model.

The seed is one whose first round has a commit that dies when its readings are
in and the ledger does not know: made twice, it would be noticed.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

_ROOT = Path(__file__).parents[3]
_SEED = 7
_KILLS = 12


@pytest.mark.slow
def test_killed_here_and_there_nothing_is_lost_doubled_or_unexplained() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.proofs.arrival.prove"],
        cwd=_ROOT,
        env=os.environ | {"SEED": str(_SEED), "KILLS": str(_KILLS)},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    last = done.stdout.splitlines()[-1]
    found = re.fullmatch(r"kills (\d+)  lost 0  doubled 0  unexplained 0", last)
    assert found, last
    assert int(found[1]) >= _KILLS
    assert "killed at readings-after" in done.stdout
