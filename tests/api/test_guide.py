"""Every example of `docs/http.md` runs against a live server over the demo's data."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.api.live import live_server
from tests.ingest_examples.scenario import scenario_of_run
from warehouse.access import SCOPES
from warehouse.inbox import Ledger
from warehouse.services.cases import list_cases
from warehouse.services.keys import Keyring, Wanted
from warehouse.services.mappings import mapping_of
from warehouse.services.pushing import Wanted as Subscribed
from warehouse.services.pushing import ping, subscribe
from warehouse.store import open_store

_ROOT = Path(__file__).parents[2]
_GUIDE = (_ROOT / "docs" / "http.md").read_text(encoding="utf-8")


@dataclass(frozen=True, slots=True)
class _Served:
    """What the examples need to know."""

    home: Path
    variables: dict[str, str]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[_Served]:
    """A server over a copy of the demo's store, with SQL switched on."""
    scenario = scenario_of_run(tmp_path_factory)
    home = tmp_path_factory.mktemp("guide") / "store"
    shutil.copytree(scenario.store.home, home)
    with Ledger.open(home / "inbox") as ledger:
        package = ledger.packages()[-1].number
        mapping = mapping_of(scenario.store, ledger, "cooling-edge").mapping.version
    case = list_cases(open_store(home), "raw-water")[-1]["case_id"]
    targets = "https://cmms.example.org"
    own = open_store(home, {"push_targets": targets})
    told = [subscribe(own, Subscribed(name, f"{targets}/{name}"))[0].id for name in ("a", "b")]
    ping(own, told[0])
    key = Keyring(open_store(home)).add(Wanted("guide", tuple(SCOPES))).text
    with live_server(home, sql_endpoint=True, push_targets=targets) as url:
        variables = {
            "URL": url, "KEY": key, "PACKAGE": str(package), "CASE": str(case),
            "MAPPING": f'"{mapping}"',
            "SUBSCRIPTION": told[0], "OLD_SUBSCRIPTION": told[1],
        }  # fmt: skip
        yield _Served(home, variables)


def _shell() -> list[str]:
    """Each command of the shell examples, those on several lines joined."""
    blocks = re.findall(r"(?ms)^```sh\n(.*?)^```", _GUIDE)
    commands = []
    for block in blocks:
        for command in re.split(r"\n(?=mcw |curl )", block.strip()):
            commands.append(command)
    return commands


_CURL = [command for command in _shell() if command.startswith("curl")]
_REFUSED = {"limit=0": "422", "mapping-trials": "422"}
"""Examples that show an error, and its status."""
_NOT_200 = {
    "/v1/ingest": "202", "/v1/replays": "202", "/v1/maintenance-events": "202", "/pings": "202",
    "/resends": "202", "/secrets": "201", '"name": "maintenance"': "201", "-X DELETE": "204",
}  # fmt: skip
"""Others that do not end with 200."""


def test_every_route_and_more_is_shown() -> None:
    assert len(_CURL) > 40


@pytest.mark.parametrize("command", _CURL, ids=[c.split('"')[1][4:60] for c in _CURL])
def test_the_shell_examples_run(served: _Served, command: str) -> None:
    curl = shutil.which("curl")
    if curl is None:
        pytest.skip("no curl here")
    done = subprocess.run(
        ["sh", "-c", command.replace("curl -s", "curl -o /dev/null -w '%{http_code}' -s", 1)],
        capture_output=True,
        text=True,
        cwd=_ROOT,
        env={**os.environ, **served.variables},
        timeout=60,
        check=True,
    )
    expected = next((code for part, code in _REFUSED.items() if part in command), None)
    if expected is None:
        expected = next((code for part, code in _NOT_200.items() if part in command), "200")
    assert done.stdout == expected, command


_PYTHON = re.findall(r"(?ms)^```python\n(.*?)^```", _GUIDE)


@pytest.mark.parametrize("number", range(len(_PYTHON)))
def test_the_python_examples_run(served: _Served, number: int) -> None:
    known = "".join(f"{name} = {value!r}\n" for name, value in served.variables.items())
    done = subprocess.run(
        [sys.executable, "-c", known + _PYTHON[number]],
        capture_output=True,
        text=True,
        cwd=_ROOT,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout


def test_the_keys_are_made_as_shown(served: _Served) -> None:
    mcw = str(Path(sys.executable).parent / "mcw")
    shown = [c for c in _shell() if c.startswith("mcw keys add")]
    assert len(shown) >= 3
    for command in shown:
        words = command.split("#")[0].replace("condition-store", str(served.home)).split()
        done = subprocess.run([mcw, *words[1:]], capture_output=True, text=True, check=True)
        assert done.stdout.startswith("mcw_")
