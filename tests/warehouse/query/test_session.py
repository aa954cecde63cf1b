"""A session over one state: queries only, each with an end."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from schemas.tables import PUBLISHED_WITH_SNAPSHOT
from schemas.tables.registry import ENTITIES
from tests.warehouse.limits.own_sets import OWN_SET, write_own
from tests.warehouse.services.small_plant import Plant, make_plant, series
from warehouse.errors import LimitSetError, QueryError
from warehouse.query import open_published, open_session, run
from warehouse.services.judging import judge_store, judged_now, published


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    plant = make_plant(tmp_path_factory.mktemp("session"), {"clock": "data"})
    plant.ingest(series(0, 3))
    return plant


@pytest.fixture
def session(plant: Plant) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_session(plant.store, {}, judged_now(plant.store)) as opened:
        yield opened


def test_every_table_entity_and_view_is_there(session: duckdb.DuckDBPyConnection) -> None:
    views = Path(__file__).parents[3] / "warehouse" / "views"
    text = {path.stem: path.read_text(encoding="utf-8") for path in views.glob("*.sql")}
    names = [table.name for table in PUBLISHED_WITH_SNAPSHOT] + list(ENTITIES)
    names += [name for name, found in text.items() if "CREATE OR REPLACE VIEW" in found]
    listed = "SELECT view_name FROM duckdb_views() UNION SELECT table_name FROM duckdb_tables()"
    found = set(run(session, listed)["view_name"].to_pylist())
    assert len(names) > 30
    assert [name for name in names if name not in found] == []


def test_parameters_are_bound_not_pasted(session: duckdb.DuckDBPyConnection) -> None:
    hostile = "x'; DROP TABLE readings; --"
    assert run(session, "SELECT $name AS name", {"name": hostile}).to_pylist() == [
        {"name": hostile}
    ]


@pytest.mark.parametrize(
    "statement", ["SELEC 1", "SELECT nothing FROM readings", "SELECT * FROM nowhere", ""]
)
def test_what_is_no_query_is_told(session: duckdb.DuckDBPyConnection, statement: str) -> None:
    with pytest.raises(QueryError, match="query: "):
        run(session, statement)


def test_a_long_query_is_stopped_and_the_session_lives_on(
    session: duckdb.DuckDBPyConnection,
) -> None:
    endless = "SELECT sum(a.i * b.i) FROM range(10000000) a(i), range(10000000) b(i)"
    with pytest.raises(QueryError, match=r"stopped after 0\.3 s"):
        run(session, endless, seconds=0.3)
    assert run(session, "SELECT count(*) AS n FROM readings").to_pylist() == [{"n": 3}]


def test_its_spill_folder_goes_with_it(plant: Plant) -> None:
    with open_session(plant.store, {}, judged_now(plant.store)):
        assert list(plant.store.inbox.glob("work-*"))
    assert list(plant.store.inbox.glob("work-*")) == []


def test_what_was_judged_can_be_read_beside_a_faulty_limit_file(tmp_path: Path) -> None:
    own = make_plant(tmp_path, {"clock": "data"})
    own.ingest(series(0, 3))
    judge_store(own.store)
    write_own(own.store.limits, OWN_SET.replace("alarm", "alrm"))
    asked, limited = "SELECT * FROM worst_machines", "SELECT * FROM points_limits"
    state = published(own.store)
    with open_published(own.store, state, asks=[asked]) as session:
        assert run(session, asked).num_rows > 0
    with pytest.raises(LimitSetError), open_published(own.store, state, asks=[limited]):
        pass
    with open_published(own.store, state) as session:
        assert run(session, asked).num_rows > 0
        with pytest.raises(QueryError, match="points_limits"):
            run(session, limited)
    with pytest.raises(LimitSetError), open_session(own.store, {}, judged_now(own.store)):
        pass
