"""Several programs on one store at once: as if they had worked one after the other."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest

from tests.warehouse.cli.running import finish, start
from tests.warehouse.faults.confined import Confined
from tests.warehouse.faults.held import Background
from tests.warehouse.faults.plants import Sent
from tests.warehouse.services.small_plant import REGISTRY, write_registry
from warehouse.errors import BusyError
from warehouse.inbox import Ledger
from warehouse.registry.stored import stored_entities

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")


@pytest.mark.slow
def test_ingest_run_registry_import_and_retract_at_once(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    (wrong,) = sent.take_in(sent.file(9))
    withdrawn = dict(sent.expected)
    sent.receive(sent.file(0), sent.file(1))
    more = REGISTRY["assets"] + "works,M-3,Machine 3,in-service\n"
    registry = write_registry(tmp_path / "registry", assets=more)
    home = ("--home", sent.home)
    with Background(tmp_path / "run", "run", *home) as run:
        other = start(*sent.ingest(sent.file(2), sent.file(3)))
        for command in (
            ["registry", "import", registry],
            ["retract", str(wrong), "--yes"],
        ):
            ended = bounded.mcw(*command, *home)
            assert ended.code == 0, ended.said
        ended = finish(other)
        assert ended.code == 0, ended.said
        run.signal(signal.SIGTERM)
        assert run.ended() == 0
    for reading in withdrawn:
        del sent.expected[reading]
    sent.check()
    with Ledger.open(sent.store.inbox) as ledger:
        found = ledger.packages()
    assert len(found) == 5
    assert {p.state for p in found if p.number != wrong} == {"committed"}
    assert stored_entities(sent.store)["assets"].num_rows == 3


@pytest.mark.slow
def test_housekeeping_is_for_one_and_the_other_is_told_who(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    sent.take_in(*map(sent.file, range(4)))
    home = ("--home", sent.home)
    with Background(tmp_path / "one", "compact", *home, hold="exchange readings") as first:
        for command in (["compact"], ["vacuum"]):
            second = bounded.mcw(*command, *home)
            assert second.code == BusyError.exit_code, second.said
            assert f"process {first.process.pid} (mcw compact)" in second.err
        sent.take_in(sent.file(4))  # goes on beside it
        assert f"housekeeper: process {first.process.pid}" in bounded.mcw("status", *home).out
        first.let_go_on()
        assert first.ended() == 0
    assert bounded.mcw("compact", *home).code == 0
    sent.check()
