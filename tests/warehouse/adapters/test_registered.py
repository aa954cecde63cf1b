"""Discovery: a broken plugin, a third party's plugin, a name that is taken."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import EntryPoint, entry_points

import pytest

from warehouse.adapters import registered
from warehouse.errors import AdapterError

OWN = "tests.warehouse.adapters.test_contract:LineAdapter"


@pytest.fixture(autouse=True)
def _fresh_cache() -> Iterator[None]:
    registered.adapters.cache_clear()
    yield
    registered.adapters.cache_clear()


def _install(monkeypatch: pytest.MonkeyPatch, *entries: tuple[str, str]) -> None:
    added = [EntryPoint(name, value, registered.GROUP) for name, value in entries]
    found = [*entry_points(group=registered.GROUP), *added]
    monkeypatch.setattr(registered, "entry_points", lambda group: [e for e in found if group])


def test_third_party_plugin_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    _install(monkeypatch, ("senml-too", "warehouse.adapters.senml:ADAPTER"))
    assert registered.adapter("senml-too").name == "senml"
    assert registered.adapters()[1] == {}


@pytest.mark.parametrize(
    ("value", "why"),
    [
        ("no_such_module:ADAPTER", "failed to load: No module named 'no_such_module'"),
        ("warehouse.adapters.senml:NOT_THERE", "failed to load"),
        ("warehouse.adapters.senml.units:UCUM_OF_SENML", "has not the shape of an adapter"),
    ],
)
def test_broken_plugin_takes_no_other_down(
    monkeypatch: pytest.MonkeyPatch, value: str, why: str
) -> None:
    _install(monkeypatch, ("odd", value))
    loaded, failed = registered.adapters()
    assert set(loaded) >= {"delimited", "json-records", "senml", "workbook"}
    assert why in failed["odd"]
    with pytest.raises(AdapterError, match="adapter odd: ") as raised:
        registered.adapter("odd")
    assert why in raised.value.why
    assert "odd" not in raised.value.known


def test_name_taken_twice_leaves_the_first(monkeypatch: pytest.MonkeyPatch) -> None:
    _install(monkeypatch, ("senml", "warehouse.adapters.workbook:ADAPTER"))
    loaded, failed = registered.adapters()
    assert loaded["senml"].name == "senml"
    assert failed["senml"] == "warehouse.adapters.workbook:ADAPTER claims a name that is taken"


def test_unknown_name_lists_the_installed_ones() -> None:
    with pytest.raises(AdapterError, match="is not installed; installed: delimited, json-records"):
        registered.adapter("telegraph")
