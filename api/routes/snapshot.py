"""The published state: which version, which files, which columns."""

from __future__ import annotations

from fastapi import APIRouter

from api.caller import Asking, Newest, needs
from api.documents import snapshot_document
from api.models_registry import SnapshotFiles, TableFiles
from api.routes.current import problems
from warehouse.services.snapshot_files import snapshot_files

router = APIRouter(tags=["snapshot"], dependencies=[needs("read:sources")])


@router.get(
    "/v1/snapshot",
    operation_id="snapshot_get",
    summary="The published state with files and schemas",
    responses=problems(503),
)
def get_snapshot(desk: Asking, state: Newest) -> SnapshotFiles:
    """What another engine needs to read the very same state from the tables' folder."""
    return SnapshotFiles(
        snapshot=snapshot_document(state.snapshot),
        format_version=desk.places.store.format_version,
        items=[TableFiles(**row) for row in snapshot_files(desk, state)],
        next=None,
    )
