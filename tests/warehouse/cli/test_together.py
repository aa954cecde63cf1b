"""Two commands at once: both end well, and every reading is there once."""

from __future__ import annotations

from pathlib import Path

from tests.warehouse.cli.running import finish, start
from tests.warehouse.services.small_plant import make_plant, series, write_file, write_mapping


def test_two_processes_ingest_the_same_store(tmp_path: Path) -> None:
    plant = make_plant(tmp_path, {"clock": "data"})
    mapping = write_mapping(tmp_path)
    history = series(0, 300)
    halves = [
        [write_file(tmp_path / f"{side}{n}.csv", history[n * 50 : n * 50 + 100]) for n in numbers]
        for side, numbers in (("a", range(0, 5)), ("b", range(4, -1, -1)))
    ]
    home = ("-m", mapping, "--home", plant.store.home)
    running = [start("ingest", *files, *home) for files in halves]
    for process in running:
        ended = finish(process)
        assert ended.code == 0, ended.said
    found = plant.current()
    assert {row[2]: f"{row[3]:.2f}" for row in found} == {r[2]: r[3] for r in history}
    assert len(found) == len(history)
    assert plant.ask("SELECT count(*) AS n FROM superseded") == [{"n": 0}]
