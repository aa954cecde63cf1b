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
    """Findings in order of their place, and as of when."""

    as_of: dt.datetime
    findings: list[dict[str, Any]]


def trust_findings(
    store: Store, site: str | None = None, check: str | None = None, ended: bool = False
) -> Trust:
    """What is doubted in the published state; with `ended`, also what has passed.

    Raises NotFoundError for a site that is not registered.
    """
    snapshot = published(store)
    statement = load_sql("warehouse.services", "trust_listed")
    with open_published(store, snapshot) as session:
        if (
            site is not None
            and site not in session.table("sites").to_arrow_table()["site"].to_pylist()
        ):
            raise NotFoundError("site", site)
        work_out(session, statement)
        asked = {"site": site, "check": check, "ended": ended}
        findings = run(session, statement, asked, store.settings.query_seconds)
    return Trust(snapshot.as_of, findings.to_pylist())
