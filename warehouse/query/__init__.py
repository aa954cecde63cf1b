"""Query: the only door to the stored data for reading.

A session sees one published state: the tables of the open schema at its
versions, the registry's entities, the limits, and every view of `warehouse.views`.
"""

from warehouse.query.session import (
    answers,
    check_limits_for,
    open_base,
    open_published,
    open_relations,
    open_session,
    run,
    words,
    work_out,
)

__all__ = [
    "answers",
    "check_limits_for",
    "open_base",
    "open_published",
    "open_relations",
    "open_session",
    "run",
    "words",
    "work_out",
]
