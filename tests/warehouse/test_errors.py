"""Every deliberate error stands in the tree on top of its module, and says all it knows."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

import pytest

from warehouse import errors
from warehouse.errors import (
    AdapterError,
    FaultListError,
    NotFoundError,
    SettingsError,
    StoreMissingError,
    UnreadableSourceError,
    WarehouseError,
)


def _classes() -> dict[str, type[WarehouseError]]:
    return {
        name: found
        for name, found in inspect.getmembers(errors, inspect.isclass)
        if issubclass(found, WarehouseError) and found.__module__ == errors.__name__
    }


def _documented() -> dict[str, str | None]:
    """Class to its parent, as drawn at the top of the module."""
    parents: list[tuple[int, str]] = []
    found: dict[str, str | None] = {}
    for line in (errors.__doc__ or "").splitlines():
        drawn = re.match(r"^ +([│ ]*[├└]── )?([A-Z]\w+Error)\b", line)
        if drawn:
            depth = len(drawn[1] or "")
            while parents and parents[-1][0] >= depth:
                parents.pop()
            found[drawn[2]] = parents[-1][1] if parents else None
            parents.append((depth, drawn[2]))
    return found


def test_every_class_is_drawn_below_its_parent() -> None:
    actual = {name: cls.__bases__[0].__name__ for name, cls in _classes().items()}
    actual.pop("WarehouseError")
    drawn = _documented()
    assert drawn.pop("WarehouseError") is None
    assert drawn == actual


@pytest.mark.parametrize("cls", _classes().values(), ids=_classes().keys())
def test_every_class_has_a_docstring_and_an_exit_code(cls: type[WarehouseError]) -> None:
    assert cls.__doc__
    assert cls.exit_code in {2, 3, 4, 5, 6, 7, 8, 9, 10, 70}


def test_a_list_of_faults_counts_and_lists_them() -> None:
    one, two = FaultListError(["a is wrong"]), FaultListError(["a is wrong", "b is wrong"])
    assert one.message == "file: 1 fault\n  - a is wrong"
    assert two.message == "file: 2 faults\n  - a is wrong\n  - b is wrong"
    assert two.faults == ["a is wrong", "b is wrong"]


@pytest.mark.parametrize(
    ("error", "parts"),
    [
        (SettingsError(["port: too high"], "mcw.toml"), ("mcw.toml", "port: too high")),
        (UnreadableSourceError("a.csv", "it is empty", "text is needed"), ("a.csv", "text")),
        (AdapterError("x", "not installed", ["senml"]), ("x", "not installed", "senml")),
        (StoreMissingError(Path("here"), "no store", "make one"), ("here", "make one")),
        (NotFoundError("asset", "P-1"), ("asset", "'P-1'")),
    ],
    ids=lambda value: type(value).__name__,
)
def test_messages_say_what_where_and_what_is_allowed(
    error: WarehouseError, parts: tuple[str, ...]
) -> None:
    assert str(error) == error.message
    for part in parts:
        assert part in error.message
