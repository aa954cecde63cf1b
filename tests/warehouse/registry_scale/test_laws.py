"""Laws of import and export, over invented registries."""

from __future__ import annotations

import datetime as dt
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from warehouse.registry import (
    compare,
    current_entities,
    empty_entities,
    export_entities,
    read_statements,
    to_events,
)

_TEXTS = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"], include_characters=" \n,;\"'"),
    min_size=1,
    max_size=20,
).filter(lambda text: text.strip() == text)
_TIMES = st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2090, 1, 1), timezones=st.just(dt.UTC))
_ROWS = st.fixed_dictionaries(
    {
        "device": _TEXTS,
        "kind": _TEXTS,
        "method": st.sampled_from(["wired", "wireless"]),
        "interval_minutes": st.none() | st.floats(allow_nan=False, allow_infinity=False),
        "area_classification": st.none() | _TEXTS,
    }
)
_UNITS = st.fixed_dictionaries(
    {
        "serial": _TEXTS,
        "equipment_class": st.just("electric-motor"),
        "description": st.none() | _TEXTS,
        "bearing_de": st.none() | st.sampled_from(["6-15", "0012", "1E5", "TRUE"]),
        "bearing_nde": st.none() | _TEXTS,
    }
)


@settings(max_examples=6, deadline=None)
@given(
    st.lists(_ROWS, min_size=1, max_size=6, unique_by=lambda row: str(row["device"])),
    st.lists(_UNITS, max_size=4, unique_by=lambda row: str(row["serial"])),
    st.sampled_from(["out", "out.xlsx"]),
    _TIMES,
)
def test_an_export_read_again_says_nothing_new(
    devices: list[dict[str, object]],
    units: list[dict[str, object]],
    target: str,
    recorded_at: dt.datetime,
) -> None:
    stated = {"devices": devices, "units": units}
    entities = current_entities(to_events(stated, 1, recorded_at))
    assert entities["devices"].num_rows == len(devices)
    with tempfile.TemporaryDirectory() as folder:
        export_entities(entities, Path(folder) / target)
        read = read_statements(Path(folder) / target, entities)
        assert not compare(read, entities).any
        fresh = read_statements(Path(folder) / target, empty_entities())
    again = current_entities(to_events(fresh.rows, 2, recorded_at))
    assert again == entities
