"""Which readings are doubted, and why: the findings of the trust checks."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from warehouse.errors import NotFoundError
from warehouse.query import open_published, run, work_out
from warehouse.services.judging import published
from warehouse.sql import load_sql
from warehouse.store import Store


@dataclass(frozen=True, slots=True)
class Trust:
    """Findings in order of their place, the common causes of late, and as of when."""

    as_of: dt.datetime
    findings: list[dict[str, Any]]
    common_causes: list[dict[str, Any]]


def trust_findings(
    store: Store, site: str | None = None, check: str | None = None, ended: bool = False
) -> Trust:
    """What is doubted in the published state; with `ended`, also what has passed.

    Where one check is asked for, there are no common causes. Raises
    NotFoundError for a site that is not registered.
    """
    snapshot = published(store)
    findings, causes = (
        load_sql("warehouse.services", name) for name in ("trust_listed", "trust_causes")
    )
    seconds = store.settings.query_seconds
    asked = {"site": site, "ended": ended}
    with open_published(store, snapshot, asks=[findings, causes]) as session:
        sites = session.table("sites").to_arrow_table().column("site").to_pylist()
        if site is not None and site not in sites:
            raise NotFoundError("site", site)
        work_out(session, findings + causes)
        found = run(session, findings, asked | {"check": check}, seconds)
        common = run(session, causes, asked, seconds) if check is None else None
    return Trust(snapshot.as_of, found.to_pylist(), common.to_pylist() if common else [])
