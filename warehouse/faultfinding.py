"""Every fault of a file at once: what one fault hides of the others is looked at without it.

A check of a whole is only made of parts that are sound. So a misspelt name is
read as the one that is meant, what is wrong is replaced by a stand-in that is
not, and the whole is checked again, until nothing new is found.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

_MOST_ROUNDS = 10
_A_WORD = "?"

Place = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class _Fault:
    place: Place
    kind: str
    text: str
    meant: str | None = None
    """The name that a misspelt one stands for."""


def every_fault(
    model: type[BaseModel], content: dict[str, Any], stand_ins: dict[str, Any]
) -> list[str]:
    """What keeps the content from being a `model`; `stand_ins` are sound parts by their place."""
    content = deepcopy(content)
    told: dict[str, None] = {}
    for _ in range(_MOST_ROUNDS):
        try:
            model.model_validate(content)
        except ValidationError as error:
            faults = list(_faults(model, content, error))
        else:
            break
        told |= dict.fromkeys(line for fault in faults for line in _lines(fault))
        if not any(fault.place for fault in faults):
            break
        for fault in faults:
            _mend(content, fault, stand_ins)
    return list(told)


def _faults(
    model: type[BaseModel], content: dict[str, Any], error: ValidationError
) -> Iterator[_Fault]:
    """The faults of one round; what is missing only because it is misspelt is none."""
    told: list[dict[str, Any]] = [dict(each) for each in error.errors()]
    missing = {tuple(each["loc"]) for each in told if each["type"] == "missing"}
    found = [fault for each in told if (fault := _fault(model, content, each, missing))]
    meant = {(*fault.place[:-1], fault.meant) for fault in found if fault.meant}
    return (fault for fault in found if fault.kind != "missing" or fault.place not in meant)


def _fault(
    model: type[BaseModel], content: dict[str, Any], error: dict[str, Any], missing: set[Place]
) -> _Fault | None:
    place, fits = _place(model, content, error["loc"])
    if not fits:
        return None
    if error["type"] != "extra_forbidden":
        return _Fault(place, error["type"], str(error["msg"]).removeprefix("Value error, "))
    allowed = _names(_models(_annotation(model, place[:-1])))
    free = [name for name in allowed if name not in _at(content, place[:-1])]
    wanted = [name for name in free if (*place[:-1], name) in missing]
    close = get_close_matches(str(place[-1]), wanted, 1) or get_close_matches(str(place[-1]), free)
    hint = f"perhaps {close[0]} is meant" if close else f"allowed: {', '.join(allowed)}"
    meant = close[0] if close else None
    return _Fault(place, error["type"], f"no such name is known here; {hint}", meant)


def _lines(fault: _Fault) -> Iterator[str]:
    where = ".".join(map(str, fault.place))
    for line in fault.text.splitlines():
        yield f"{where}: {line}" if where else line


def _mend(content: dict[str, Any], fault: _Fault, stand_ins: dict[str, Any]) -> None:
    """Put what is meant, or a stand-in, where the fault is; where there is none, nothing."""
    around = _at(content, fault.place[:-1])
    if not fault.place or not isinstance(around, dict | list):
        return  # what is around it was mended meanwhile
    name = fault.place[-1]
    stand_in = _stand_in(_at(content, fault.place), deepcopy(_at(stand_ins, fault.place)))
    if isinstance(around, list):
        around[int(name)] = stand_in or _A_WORD
    elif fault.kind == "extra_forbidden":
        value = around.pop(name, None)
        if fault.meant:
            around[fault.meant] = value
    elif stand_in is None:
        around.pop(name, None)
    else:
        around[name] = stand_in


def _stand_in(value: Any, sound: Any) -> Any:
    """What is sound, or the value itself where only a bracket is too many or too few."""
    if isinstance(sound, list) and isinstance(value, dict):
        return [value]
    if isinstance(sound, dict) and isinstance(value, list) and _is_table(value):
        return value[0]
    return sound


def _is_table(value: list[Any]) -> bool:
    return bool(value) and isinstance(value[0], dict)


def _place(
    model: type[BaseModel], content: dict[str, Any], location: Iterable[str | int]
) -> tuple[Place, bool]:
    """The place in the file; not the form of several that a value there has not got.

    Of a value of several forms pydantic tells what keeps it from each.
    """
    place: list[str | int] = []
    fits = True
    for part in location:
        value = _at(content, tuple(place))
        forms = {one.__name__ for one in _models(_annotation(model, tuple(place)))}
        if part in forms:
            fits = isinstance(value, dict)
        elif isinstance(part, str) and part.endswith("-str"):
            fits = not isinstance(value, dict)
        else:
            place.append(part)
    return tuple(place), fits


def _at(content: Any, place: Place) -> Any:
    """What stands at a place; None where nothing does. Of stand-ins, one counts for a list."""
    for part in place:
        if isinstance(content, dict):
            content = content.get(part)
        elif isinstance(content, list) and content and isinstance(part, int):
            content = content[min(part, len(content) - 1)]
        else:
            return None
    return content


def _annotation(model: type[BaseModel], place: Place) -> Any:
    """The type of what may stand at a place."""
    annotation: Any = model
    for part in place:
        if isinstance(part, str):
            for one in _models(annotation):
                fields = {field.alias or name: field for name, field in one.model_fields.items()}
                if part in fields:
                    annotation = fields[part].annotation
    return annotation


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models(part)]


def _names(models: Iterable[type[BaseModel]]) -> list[str]:
    """Names that may stand in a part."""
    return [f.alias or name for one in models for name, f in one.model_fields.items()]
