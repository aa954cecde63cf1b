"""SQL lives in `.sql` files; this loads them and fills the few places that are not values.

A place is written `@{name}`. Only identifiers and fragments made by this
project go there; what comes from users is bound as a parameter.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from string import Template


class _SqlTemplate(Template):
    delimiter = "@"


@cache
def _text(package: str, name: str) -> str:
    return (files(package) / f"{name}.sql").read_text(encoding="utf-8")


def load_sql(package: str, file: str, /, **fragments: str) -> str:
    """Text of `file`.sql in `package`, its places filled. KeyError for a place left open."""
    return _SqlTemplate(_text(package, file)).substitute(fragments)


def identifier(name: str) -> str:
    """A name as a quoted SQL identifier."""
    return '"' + name.replace('"', '""') + '"'


@cache
def load_statements(package: str, file: str) -> dict[str, str]:
    """Named statements of one file: each starts with a line `-- name: NAME`."""
    blocks = _text(package, file).split("-- name: ")[1:]
    named = (block.partition("\n") for block in blocks)
    return {name.strip(): text.strip() for name, _, text in named}
