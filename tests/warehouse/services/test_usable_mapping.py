"""A mapping's faults and that of the adapter it names are told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.services.small_plant import MAPPING, write_mapping
from warehouse.errors import AdapterError, MappingError
from warehouse.services.ingest import usable_mapping


def test_a_misspelt_adapter_is_listed_with_the_other_faults(tmp_path: Path) -> None:
    text = MAPPING.replace("delimited", "delimted")
    with pytest.raises(AdapterError, match="adapter delimted: is not installed"):
        usable_mapping(write_mapping(tmp_path, text))
    with pytest.raises(MappingError) as found:
        usable_mapping(write_mapping(tmp_path, text.replace('"UTC"', '"Mars"')))
    assert len(found.value.faults) == 2
    assert "adapter delimted: is not installed" in found.value.faults[1]
