"""The house stands: floors, sizes, where SQL lives, what no file may contain."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
_LONGEST_FILE = 400
_SQL_TEXT = re.compile(
    r"^\s*(SELECT|INSERT\s+INTO|CREATE\s+(OR|TABLE|VIEW|TEMP\w*)"
    r"|UPDATE\s+\w+\s+SET|DELETE\s+FROM)\b"
)

_SQL_ALLOWED = {
    "api/models_tables.py": "an example of what a caller of the SQL endpoint may send",
    "schemas/identity.py": "the published rule which rows count, for readers of the contract",
    "warehouse/adapters/contract.py": "checks an adapter's two result tables, for adapter authors",
    "warehouse/views/loader.py": "turns a view's own text into a table of the same name",
}
"""Modules with SQL in their text, and why; one line each at most a few statements."""


def _tracked(*suffixes: str) -> list[str]:
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    names = listed.stdout.splitlines()
    return [n for n in names if n.endswith(suffixes or ("",)) and (ROOT / n).is_file()]


def _read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def _texts(name: str) -> Iterator[tuple[int, str]]:
    """String constants of a module that are no docstrings, with their lines."""
    tree = ast.parse(_read(name))
    said = {
        id(node.value) for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }  # fmt: skip
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said:
            yield node.lineno, node.value


def test_import_contracts_hold() -> None:
    command = Path(sys.executable).parent / "lint-imports"
    done = subprocess.run(
        [command, "--no-cache"], cwd=ROOT, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_sql_stands_in_sql_files() -> None:
    found = {}
    for name in _tracked(".py"):
        if name.startswith("tests/"):
            continue
        lines = [line for line, text in _texts(name) if _SQL_TEXT.match(text)]
        if lines:
            found[name] = lines
    assert {n: lines for n, lines in found.items() if n not in _SQL_ALLOWED} == {}
    assert sorted(_SQL_ALLOWED) == sorted(n for n in _SQL_ALLOWED if n in found), "allowed in vain"


def test_no_file_is_too_long() -> None:
    lengths = {name: _read(name).count("\n") for name in _tracked(".py", ".sql")}
    assert {n: lines for n, lines in lengths.items() if lines > _LONGEST_FILE} == {}


def test_no_file_names_the_machine_it_was_made_on() -> None:
    places = "|".join(f"/{name}/" for name in ("work", "tmp", "root", "home/[a-z]+"))
    hosts = "|".join(("artifact" + "ory", "dev" + "pi", "index" + "-url", r"\bpypi\.[a-z]+\b"))
    words = "|".join(("as an " + "AI", "lang" + "uage model", "sub" + "agent", "chat" + "bot"))
    forbidden = re.compile(rf"(?i)(?<![\w.}}]){places}|{hosts}|{words}")
    found = []
    for name in _tracked():
        data = (ROOT / name).read_bytes()
        if b"\0" in data[:8192]:
            continue
        for number, line in enumerate(data.decode("utf-8", "replace").splitlines(), 1):
            hit = forbidden.search(line)
            if hit:
                found.append(f"{name}:{number}: {hit[0]}")
    assert found == []


def test_every_sql_file_says_purpose_and_grain() -> None:
    lacking = []
    for name in _tracked(".sql"):
        head = []
        for line in _read(name).splitlines():
            if not line.startswith("--"):
                break
            head.append(line)
        wanted = ["-- purpose:", "-- grain:"]
        if name.startswith("warehouse/views/"):
            wanted += ["-- columns:", "-- depends:"]
        lacking += [f"{name}: {w}" for w in wanted if not any(h.startswith(w) for h in head)]
    assert [fault for fault in lacking if not fault.startswith("tests/")] == []


_QUIET_IMPORT = """
import sys

opened = []


def watch(event, arguments):
    if event.startswith("socket.") and event != "socket.__new__":
        opened.append((event, str(arguments)))
    if event == "open" and isinstance(arguments[0], str):
        if any(part in arguments[0] for part in ("store.toml", "mcw.toml", ".sqlite", ".parquet")):
            opened.append((event, arguments[0]))


sys.addaudithook(watch)
import warehouse.cli.app

print(opened)
print(sorted({"fastapi", "uvicorn", "pandas", "polars"} & set(sys.modules)))
"""


def test_importing_the_commands_takes_no_network_and_reads_no_store() -> None:
    done = subprocess.run(
        [sys.executable, "-c", _QUIET_IMPORT],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == ["[]", "[]"]
