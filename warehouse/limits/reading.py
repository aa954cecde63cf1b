"""One TOML file against its model: every fault in it, each with file, place and what is allowed."""

from __future__ import annotations

import tomllib
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from warehouse.errors import LimitSetError
from warehouse.limits.checks import allowed_keys, set_faults
from warehouse.limits.model import LimitSet

_Model = TypeVar("_Model", bound=BaseModel)


def toml_files(folder: Path) -> list[Path]:
    """The `.toml` files of a folder by name; none where there is no such folder.

    Raises LimitSetError where it cannot be listed: that is not the same as empty.
    """
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == ".toml")
    except FileNotFoundError:
        return []
    except OSError as error:
        raise LimitSetError([f"{folder.name}: cannot be listed: {error.strerror}"]) from error


def read(path: Traversable, model: type[_Model], faults: list[str]) -> _Model | None:
    """The content of a file, or None with its faults told."""
    before = len(faults)
    content = toml(path, faults)
    return None if len(faults) > before else validate(path.name, "", content, model, faults)


def read_set(path: Traversable, faults: list[str]) -> tuple[str | None, LimitSet | None]:
    """The identifier a limit file states, and its set; None for what is not sound."""
    before = len(faults)
    content = toml(path, faults)
    if len(faults) > before:
        return None, None
    found = validate(path.name, "", content, LimitSet, faults)
    faults.extend(f"{path.name}: {place}: {fault}" for place, fault in set_faults(content))
    stated = content.get("id")
    return stated if isinstance(stated, str) else None, None if len(faults) > before else found


def toml(path: Traversable, faults: list[str]) -> dict[str, Any]:
    """The content of a file, empty where it cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        faults.append(f"{path.name}: cannot be read as TOML: {error}")
        return {}


def validate(
    name: str, prefix: str, content: object, model: type[_Model], faults: list[str]
) -> _Model | None:
    """`content` as a model, or None with its faults told."""
    try:
        return model.model_validate(content)
    except ValidationError as error:
        for fault in error.errors():
            place = _place(((prefix,) if prefix else ()) + fault["loc"])
            faults.append(f"{name}: {place}: {_words(fault, model)}")
        return None


def _place(location: tuple[int | str, ...]) -> str:
    """Where in the file: `row #3, unit` is key `unit` of the third `[[row]]`."""
    words: list[str] = []
    for part in location:
        if isinstance(part, int) and words:
            words[-1] += f" #{part + 1}"
        else:
            words.append(str(part))
    return ", ".join(words) or "whole file"


def _words(fault: ErrorDetails, model: type[BaseModel]) -> str:
    if fault["type"] == "extra_forbidden":
        return f"is no key; allowed: {', '.join(allowed_keys(model, fault['loc']))}"
    if fault["type"] == "missing":
        return "is missing"
    text = fault["msg"].removeprefix("Value error, ")
    found = fault["input"]
    shown = f", found {found!r}" if isinstance(found, str | int | float) else ""
    return text[:1].lower() + text[1:] + ("" if repr(found) in text else shown)
