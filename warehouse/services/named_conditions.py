"""Conditions of assets and machines by name: our code, or the maintenance system's identifier."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from warehouse.services.exporting import plain_rows
from warehouse.services.fleet_table import chosen, fleet_table
from warehouse.services.serving import Key, State

Named = tuple[str, str, str | None]
"""Site, asset, and the machine in it; None for the asset itself."""


@dataclass(frozen=True, slots=True)
class NamedConditions:
    """The rows of what was found, and every name that led to none."""

    rows: Sequence[Mapping[str, Any]]
    by_external_id: Mapping[str, Named]
    missing_assets: Sequence[Key]
    missing_external_ids: Sequence[str]
    ambiguous_external_ids: Sequence[str]


def named_conditions(
    state: State, now: dt.datetime, assets: Sequence[Key], external_ids: Iterable[str]
) -> NamedConditions:
    """The condition of each asset and machine named, each once, as it may be told at `now` (UTC).

    An identifier is first looked for among those of assets, then among those of the machines in
    them. What several bear is told apart and leads to none.
    """
    asked = list(dict.fromkeys(external_ids))
    bearers = _bearers(state, frozenset(asked))
    places = {name: found[0] for name, found in bearers.items() if len(found) == 1}
    wanted = {(*key, None) for key in assets} | set(places.values())
    rows = [
        row
        for scope in ("asset", "member")
        for row in plain_rows(_rows(state, now, scope, wanted))
        if _place(row) in wanted
    ]
    found = {_place(row) for row in rows}
    return NamedConditions(
        rows=rows,
        by_external_id={name: place for name, place in places.items() if place in found},
        missing_assets=[key for key in assets if (*key, None) not in found],
        missing_external_ids=[
            name for name in asked if len(bearers[name]) < 2 and places.get(name) not in found
        ],
        ambiguous_external_ids=[name for name in asked if len(bearers[name]) > 1],
    )


def _bearers(state: State, asked: frozenset[str]) -> dict[str, list[Named]]:
    """Who bears each identifier asked for: assets, or where there is none machines."""
    of_assets: dict[str, list[Named]] = {name: [] for name in asked}
    for key, asset in state.assets.items():
        if asset["external_id"] in asked:
            of_assets[asset["external_id"]].append((*key, None))
    of_members: dict[str, list[Named]] = {name: [] for name in asked}
    for key, members in state.member_ids.items():
        for member, external_id in members.items():
            if external_id in asked:
                of_members[external_id].append((*key, member))
    return {name: of_assets[name] or of_members[name] for name in asked}


def _rows(state: State, now: dt.datetime, scope: str, wanted: Iterable[Named]) -> pa.Table:
    keys = {
        (site, asset) for site, asset, member in wanted if (member is None) == (scope == "asset")
    }
    return chosen(fleet_table(state, now, scope), {}, state.classes, keys)


def _place(row: Mapping[str, Any]) -> Named:
    return row["site"], row["asset"], row["member"] if row["scope"] == "member" else None
