"""Rows of the dataset in the shapes of `models`: pure functions, no rule of judging in them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from urllib.parse import quote

from api import models
from warehouse.services.serving import Judgement, Key, Row
from warehouse.store import Snapshot


def snapshot_document(snapshot: Snapshot) -> models.SnapshotOut:
    """The state an answer is taken from."""
    return models.SnapshotOut(
        seq=snapshot.seq,
        published_at=snapshot.published_at,
        as_of=snapshot.as_of,
        versions=dict(snapshot.versions),
    )


def condition_path(key: Key) -> str:
    """Relative URL of an asset's condition; a tag may hold any character."""
    site, asset = (quote(part, safe="") for part in key)
    return f"/v1/assets/{site}/{asset}/condition"


def asset_item(key: Key, asset: Row, judged: Row | None) -> models.AssetItem:
    """An asset in the list; `judged` is null where nothing is judged of it."""
    names = (
        "level", "zone", "basis", "reason", "next_step", "since", "coverage", "measured_at",
        "stale_after",
    )  # fmt: skip
    judged_values: dict[str, Any] = {name: judged[name] if judged else None for name in names}
    return models.AssetItem(
        **{name: asset[name] for name in _REGISTERED},
        **judged_values,
        links=models.AssetLinks(condition=condition_path(key) if judged else None),
    )


_REGISTERED = (
    "site", "asset", "name", "area", "criticality", "service_state", "external_id",
)  # fmt: skip


def asset_condition(
    asset: Row,
    judgement: Judgement,
    snapshot: Snapshot,
    beside: Callable[[list[Row]], list[Row]] | None = None,
) -> models.AssetCondition:
    """An asset's condition with its whole evidence; `beside` adds `display` to rows."""
    if beside:
        judgement = Judgement(
            beside([judgement.asset])[0],
            tuple(beside(list(judgement.members))),
            tuple(beside(list(judgement.points))),
        )
    row = judgement.asset
    member = _member_at(judgement.points, row["evidence_position"])
    return models.AssetCondition(
        **{name: asset[name] for name in _REGISTERED},
        **_judged(row, member),
        members=[
            models.MemberCondition(member=below["member"], **_judged(below, below["member"]))
            for below in judgement.members
        ],
        points=[_point(below) for below in judgement.points],
        snapshot=snapshot_document(snapshot),
    )


def _point(row: Row) -> models.PointCondition:
    place = {name: row[name] for name in ("member", "position", "axis")}
    return models.PointCondition(**place, **_judged(row, row["member"]))


def _member_at(points: Sequence[Row], position: str | None) -> str | None:
    """The machine a position sits on; the asset's own row names the position only."""
    return next((row["member"] for row in points if row["position"] == position), None)


def _judged(row: Row, evidence_member: str | None) -> dict[str, Any]:
    """The columns of `condition_current` that every scope has, nested."""
    plain = (
        "level", "zone", "basis", "reason", "next_step", "caution", "since", "last_level",
        "held_since", "observations", "measured_at", "stale_after", "as_of",
    )  # fmt: skip
    return {
        **{name: row[name] for name in plain},
        "stale": bool(row.get("stale")),
        "display": row.get("display"),
        "evidence": models.Evidence(
            member=row["evidence_member"] or evidence_member,
            position=row["evidence_position"],
            axis=row["evidence_axis"],
            boundaries=models.Boundaries(
                **{name: row[f"boundary_{name}"] for name in models.Boundaries.model_fields}
            ),
            **{name: row[name] for name in _EVIDENCE},
        ),
        "limit": models.Limit(
            support=row["support"],
            assumed=row["assumed"],
            **{name: row[f"limit_{name}"] for name in _LIMIT},
        ),
        "trend": models.Trend(**{name: row[f"trend_{name}"] for name in _TREND}),
        "coverage": models.Coverage(
            state=row["coverage"],
            measured_points=row["measured_points"],
            judgeable_points=row["judgeable_points"],
            blind_to=row["blind_to"],
        ),
    }


_EVIDENCE = (
    "quantity", "detector", "band", "value", "unit", "baseline", "running_state", "operating_bin",
    "distrust",
)  # fmt: skip
_LIMIT = ("set", "group", "edition", "confidence", "verified")
_TREND = (
    "state", "reason", "window_days", "days", "per_30_days", "low", "high", "p", "p_fleet",
    "step_on", "step_size", "boundary", "boundary_days", "boundary_days_low",
    "boundary_days_high", "form",
)  # fmt: skip
