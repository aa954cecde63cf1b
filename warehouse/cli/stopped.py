"""Lists made of what was judged say above themselves where judging is stopped."""

from __future__ import annotations

from warehouse.cli import show
from warehouse.services.rule_faults import stopped_words
from warehouse.store import Store


def tell_if_stopped(store: Store) -> str | None:
    """Say on stderr that a list is old, and why; what was said, None where judging goes on."""
    said = stopped_words(store)
    if said:
        show.notes.print(said, markup=False, highlight=False, soft_wrap=True, style="red")
    return said
