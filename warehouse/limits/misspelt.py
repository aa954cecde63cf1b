"""Slips of a limit file read as what is meant, to find what is below: names, `[x]` for `[[x]]`."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any, get_args, get_origin

from pydantic import BaseModel

_CLOSE = 0.8
"""How like a known name one must be to be taken for it; a wrong guess brings faults of its own."""


def meant(content: Any, annotation: Any, names: bool = True) -> Any:
    """The content with lists where one table stands for a list of them, and unless not wanted,
    with misspelt names put right where the known one is free."""
    models = _models(annotation)
    if models and get_origin(annotation) is list and isinstance(content, dict):
        content = [content]
    if isinstance(content, list):
        (of,) = get_args(annotation) if get_origin(annotation) is list else (annotation,)
        return [meant(one, of, names) for one in content]
    if not isinstance(content, dict) or len(models) != 1:
        return content
    fields = models[0].model_fields
    named = _put_right(content, list(fields)) if names else content
    return {
        name: meant(value, fields[name].annotation, names) if name in fields else value
        for name, value in named.items()
    }


def _put_right(content: dict[str, Any], known: list[str]) -> dict[str, Any]:
    named: dict[str, Any] = {}
    for name, value in content.items():
        free = [one for one in known if one not in content and one not in named]
        close = [] if name in known else get_close_matches(name, free, 1, _CLOSE)
        named[close[0] if close else name] = value
    return named


def _models(annotation: Any) -> list[type[BaseModel]]:
    """The tables of a file that may stand where something of this type does."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models(part)]
