"""The wheel works in a clean environment, outside the repository, beside a stray `api.py`."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def _run(command: list[str | Path], cwd: Path) -> str:
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "MCW_"))}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=environment | {"COLUMNS": "160"},
        capture_output=True,
        text=True,
        timeout=280,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.slow
def test_demo_runs_from_the_wheel(tmp_path: Path) -> None:
    _run([sys.executable, "-m", "build", "--wheel", "--outdir", tmp_path / "dist", ROOT], ROOT)
    (wheel,) = (tmp_path / "dist").glob("*.whl")
    venv.create(tmp_path / "clean", with_pip=True)
    scripts = tmp_path / "clean" / ("Scripts" if os.name == "nt" else "bin")
    _run([scripts / "python", "-m", "pip", "install", "--quiet", wheel], tmp_path)
    working = tmp_path / "working"
    working.mkdir()
    (working / "api.py").write_text("raise RuntimeError('the stray file was imported')\n")
    shown = _run([scripts / "mcw", "demo", "--home", "store"], working)
    assert "198,062" in shown, "readings accepted, as the examples' truth.csv totals them"
    assert "Unknown is not healthy" in shown
    assert "api.py" not in shown
    listed = _run([scripts / "mcw", "worst", "--home", "store", "--json"], working)
    assert '"danger"' in listed
