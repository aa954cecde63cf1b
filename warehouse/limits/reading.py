"""One TOML file against its model: every fault in it, each with file, place and what is allowed."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from warehouse.errors import LimitSetError
from warehouse.limits.checks import allowed_keys, set_faults
from warehouse.limits.misspelt import meant
from warehouse.limits.model import LimitSet

_Model = TypeVar("_Model", bound=BaseModel)
_ID = re.compile(r"^\s*id\s*=\s*[\"']([^\"'\n]+)[\"']", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class StatedSet:
    """What a limit file says it is, also where it is faulty; `sound` is its set where it is not."""

    file: str
    id: str | None
    in_service: bool
    sound: LimitSet | None


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


def read_set(path: Traversable, faults: list[str]) -> StatedSet:
    """The set of a limit file, with its faults told."""
    before = len(faults)
    content = toml(path, faults)
    if len(faults) > before:
        return StatedSet(path.name, _id_in_text(path), in_service=True, sound=None)
    found = validate(path.name, "", content, LimitSet, faults)
    content = meant(content, LimitSet)
    faults.extend(f"{path.name}: {place}: {fault}" for place, fault in set_faults(content))
    stated = content.get("id")
    return StatedSet(
        path.name,
        stated if isinstance(stated, str) else None,
        content.get("in_service") is not False,
        None if len(faults) > before else found,
    )


def _id_in_text(path: Traversable) -> str | None:
    """The identifier in a file that is no TOML: what names it elsewhere is no second fault."""
    try:
        found = _ID.search(path.read_bytes().decode("utf-8", errors="replace"))
    except OSError:
        return None
    return found.group(1) if found else None


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
    """`content` as a model, or None with its faults told, those below misspelt names too."""
    told = _faults(content, model)
    if not told:
        return model.model_validate(content)
    for names in (False, True):
        known = {(fault["loc"], fault["type"]) for fault in told}
        below = _faults(meant(content, model, names), model)
        told += [fault for fault in below if (fault["loc"], fault["type"]) not in known]
    for fault in told:
        place = _place(((prefix,) if prefix else ()) + fault["loc"])
        faults.append(f"{name}: {place}: {_words(fault, model)}")
    return None


def _faults(content: object, model: type[BaseModel]) -> list[ErrorDetails]:
    try:
        model.model_validate(content)
    except ValidationError as error:
        return error.errors()
    return []


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
