"""`make prove-api`: the whole API against a fuzzer, a curious key, SQL, bad targets, and kill -9.

Prints, last, `cases N  failed 0  foreign 0  escaped 0  kills N  lost 0  doubled 0  told N ...` and
ends with 1 where that is not so. QUICK=1 makes a small cut; SEED=N the run of another seed;
STAGES="kill push" only those of fuzz, sites, sql, kill, push, workers.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.api.live import live_server
from tests.ingest_examples.scenario import shared_scenario
from tests.proofs.api.killing import Killed, kill_and_count
from tests.proofs.api.telling import Told, tell_and_kill
from warehouse.access import SCOPES
from warehouse.inbox import Ledger
from warehouse.services.cases import list_cases
from warehouse.services.commissioning import list_mountings
from warehouse.services.keys import Keyring, Wanted
from warehouse.services.pushing import Wanted as Subscribed
from warehouse.services.pushing import subscribe
from warehouse.services.relations import relations
from warehouse.services.routes import list_routes
from warehouse.store import open_store

_QUICK = os.environ.get("QUICK") == "1"
_EXAMPLES = (4, 4) if _QUICK else (20, 6)
_KILLS, _KILL_SECONDS, _LEAST_KILLS = (3, 60.0, 3) if _QUICK else (25, 150.0, 10)
_PUSH_KILLS = 3 if _QUICK else 15
_LEAST_CASES = 0 if _QUICK else 5000
_ALL_STAGES = ("fuzz", "sites", "sql", "kill", "push", "workers")
_CHECKS = ("not_a_server_error", "status_code_conformance", "content_type_conformance",
           "response_schema_conformance")  # fmt: skip
_TARGETS = "https://cmms.example.org"
_ROOT = Path(__file__).parents[3]


@dataclass(frozen=True, slots=True)
class Fuzzed:
    """Cases sent, and whether all of them were answered as described."""

    cases: int
    sound: bool


def main() -> None:
    """Run everything; say what came of it."""
    seed = int(os.environ.get("SEED") or time.time_ns() % 1_000_000)
    stages = os.environ.get("STAGES", " ".join(_ALL_STAGES)).split()
    begun = time.monotonic()
    print(f"seed {seed}", flush=True)
    folder = Path(tempfile.mkdtemp(prefix="prove-api-"))
    (folder / "scenario").mkdir()
    template = shared_scenario(folder / "scenario").store.home
    fuzzed = [_fuzz(template, folder / f"fuzz-{keyed}", seed, keyed) for keyed in (True, False)
              if "fuzz" in stages]  # fmt: skip
    foreign = _tests("tests/api/test_sites.py") if "sites" in stages else 0
    escaped = _tests("tests/api/test_sql.py") if "sql" in stages else 0
    killed, told = Killed(kills=_LEAST_KILLS, acknowledged=1), Told(events=1)
    if "kill" in stages:
        killed = kill_and_count(folder / "killed", _KILLS, seed, _KILL_SECONDS)
    if "push" in stages:
        told = tell_and_kill(template, folder / "told", _PUSH_KILLS, seed)
    late = _tests("tests/api/test_workers.py") if "workers" in stages else 0
    cases = sum(one.cases for one in fuzzed)
    failed = sum(not one.sound for one in fuzzed)
    print(f"seed {seed}  seconds {time.monotonic() - begun:.0f}")
    print(
        f"cases {cases}  failed {failed}  foreign {foreign}  escaped {escaped}  "
        f"kills {killed.kills}  lost {killed.lost}  doubled {killed.doubled}  "
        f"told {told.events}  untold {told.lost}  rows too many {told.doubled}  "
        f"forged {told.forged}  workers failed {late}"
    )
    wrong = failed or foreign or escaped or late or _is_wrong(killed) or not told.sound
    wrong = wrong or ("fuzz" in stages and cases < _LEAST_CASES)
    if not wrong:
        shutil.rmtree(folder)
    sys.exit(1 if wrong else 0)


def _is_wrong(killed: Killed) -> bool:
    few = killed.kills < _LEAST_KILLS
    return bool(killed.lost or killed.doubled or few or not killed.acknowledged)


def _fuzz(template: Path, home: Path, seed: int, keyed: bool) -> Fuzzed:
    """The fuzzer over the whole description, with a key that may do everything or with none."""
    shutil.copytree(template, home)
    key = Keyring(open_store(home)).add(Wanted("fuzz", tuple(SCOPES))).text
    settings: dict[str, Any] = {
        "key_rate": 0, "sql_endpoint": True, "query_seconds": 10, "body_seconds": 5,
        "push_targets": _TARGETS,
    }  # fmt: skip
    known = json.dumps(_known(home))
    with live_server(home, **settings) as url:
        command = [
            str(Path(sys.executable).parent / "schemathesis"), "run", f"{url}/openapi.json",
            "--checks", ",".join(_CHECKS), "--phases", "examples,coverage,fuzzing",
            "--max-examples", str(_EXAMPLES[0] if keyed else _EXAMPLES[1]),
            "--seed", str(seed), "--no-color", "--continue-on-failure", "--workers", "1",
            "--request-timeout", "120", "--generation-database", "none",
            *(["--header", f"Authorization: Bearer {key}"] if keyed else []),
            # A statement costs a process: the list of escapes is for that one.
            "--exclude-operation-id", "query_run",
        ]  # fmt: skip
        environment = {
            **os.environ, "SCHEMATHESIS_HOOKS": "tests.proofs.api.hooks", "FUZZ_KNOWN": known,
        }  # fmt: skip
        done = subprocess.run(
            command, capture_output=True, text=True, cwd=_ROOT, env=environment, check=False
        )
    found = re.search(r"(\d+) generated", done.stdout)
    cases = int(found.group(1)) if found else 0
    print(f"{'with' if keyed else 'without'} a key: {cases} cases", flush=True)
    if done.returncode:
        sys.stderr.write(done.stdout[-20_000:] + done.stderr)
    return Fuzzed(cases, done.returncode == 0)


def _known(home: Path) -> dict[str, list[object]]:
    """Values for parameters in paths that exist in the store, so that routes get past them."""
    store = open_store(home, {"push_targets": _TARGETS})
    subscribed = [
        subscribe(store, Subscribed(f"fuzz-{n}", f"{_TARGETS}/{n}"))[0].id for n in range(20)
    ]
    with Ledger.open(store.inbox) as ledger:
        packages = [one.number for one in ledger.packages()]
    mounting = list_mountings(store, every=True)[0]
    cases = list_cases(store, every=True)
    site = cases[0]["site"]
    return {
        "cases/case_id": [row["case_id"] for row in cases],
        "assets/site": [site],
        "assets/asset": [row["asset"] for row in cases if row["site"] == site],
        "routes/route": [row["route"] for row in list_routes(store)],
        "commissioning/device": [mounting["device"]],
        "commissioning/channel": [mounting["channel"]],
        "packages/number": [*packages],
        "subscriptions/number": [*subscribed],
        "tables/name": sorted(relations()),
        "registry/kind": ["sites", "assets", "members", "mountings"],
        "mappings/source": ["cooling-edge", "mill-logger"],
    }


def _tests(name: str) -> int:
    """Tests of that file that fail when every table and every escape is tried."""
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", name]
    environment = os.environ if _QUICK else {**os.environ, "EVERY": "1", "QUIET": "1"}
    done = subprocess.run(
        command, capture_output=True, text=True, cwd=_ROOT, env=environment, check=False
    )
    print(f"{name}: {done.stdout.splitlines()[-1]}", flush=True)
    if done.returncode == 0:
        return 0
    sys.stderr.write(done.stdout[-20_000:])
    found = re.search(r"(\d+) failed", done.stdout)
    return int(found.group(1)) if found else 1


if __name__ == "__main__":
    main()
