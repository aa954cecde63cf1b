"""Pages that the program writes about itself: its commands, its settings, its reject reasons.

    python -m warehouse.cli.reference > docs/cli.md
    python -m warehouse.cli.reference settings > docs/settings.md
    python -m warehouse.cli.reference rejects > docs/rejects.md

A test compares the pages with what this makes.
"""

from __future__ import annotations

import inspect
import json
import sys
from collections.abc import Callable, Iterator
from typing import Any

import typer
from annotated_types import Ge, Gt, Le, Lt

from schemas.reasons import KEPT_REJECTS, REJECT_REASON
from warehouse.cli import complete_app
from warehouse.cli.vocabulary import vocabulary
from warehouse.settings import FILE_NAME, Settings

_MADE = "<!-- Made by `python -m warehouse.cli.reference{page}`; a test compares them. -->"


def commands() -> str:
    """Every command with its arguments and options, those of entry points included."""
    root: Any = typer.main.get_command(complete_app())
    lines = [
        "# Commands",
        "",
        _MADE.format(page=""),
        "",
        root.help,
        "",
        "Data go to stdout, progress and messages to stderr; `--json` is there where a program",
        "may want to read the answer. The store's folder may stand in the variable `MCW_HOME`",
        "instead of `--home`.",
        "",
        "Exit codes: 0 done, 2 usage, 3 settings, mapping, registry or limits at fault, 4",
        "nothing usable in the input, or in one of its files, 5 the input is not there or may",
        "not be read, 6 the store cannot be used, 7 no room on the disk, 8 no right to read or",
        "write, 9 another program holds it, 10 the clock cannot be right, 11 a target of `mcw",
        "deliver` does not take what it is told, 70 a fault of this program, 130 and 143",
        "stopped by Ctrl-C (SIGINT) and by SIGTERM. Of several files",
        "given, those that can be used are taken in whatever becomes of the others; where some",
        "are missing and some unusable, it is 5. [What goes",
        "wrong](housekeeping.md#what-goes-wrong) says what to do then.",
        "",
        "| command | |",
        "|---|---|",
    ]
    found = sorted(_walk(root, "mcw"))
    lines += [f"| [`{name}`](#{name.replace(' ', '-')}) | {_first(one)} |" for name, one in found]
    for name, one in found:
        lines += ["", *_command(name, one)]
    return "\n".join(lines) + "\n"


def _walk(command: Any, name: str) -> Iterator[tuple[str, Any]]:
    for child_name, child in getattr(command, "commands", {}).items():
        if hasattr(child, "commands"):
            yield from _walk(child, f"{name} {child_name}")
        else:
            yield f"{name} {child_name}", child


def _first(command: Any) -> str:
    return str(command.help or "").partition("\n")[0]


def _command(name: str, command: Any) -> Iterator[str]:
    arguments = [p for p in command.params if p.param_type_name == "argument"]
    options = [p for p in command.params if p.param_type_name == "option"]
    usage = " ".join([name, *map(_written, arguments), *(["[OPTIONS]"] if options else [])])
    yield f"## {name}"
    yield ""
    yield inspect.cleandoc(command.help or "")
    yield ""
    yield f"    {usage}"
    if command.params:
        yield ""
        yield "| argument or option | default | meaning |"
        yield "|---|---|---|"
    for one in arguments:
        yield f"| `{_written(one)}` | | {_cell(one.help)} |"
    for one in options:
        yield f"| `{', '.join(one.opts)}` | {_default(one)} | {_cell(one.help)} |"


def _written(argument: Any) -> str:
    name = str(argument.name).upper() + ("..." if argument.nargs == -1 else "")
    return name if argument.required else f"[{name}]"


def _default(option: Any) -> str:
    if option.required:
        return "needed"
    default = option.default
    if default is None or default is False or callable(default):
        return ""
    return f"`{default}`"


def _cell(text: str | None) -> str:
    return " ".join((text or "").split()).replace("|", "\\|")


def settings() -> str:
    """Every setting with its default and what is allowed."""
    lines = [
        "# Settings",
        "",
        _MADE.format(page=" settings"),
        "",
        f"Settings stand in `{FILE_NAME}` in the store's folder. A variable of the environment,",
        "`MCW_` and the name in capitals (`MCW_CLOCK`), overrides the file; an option of the",
        "command line, where there is one, overrides both. `mcw config show --origin` shows what",
        "is in force and where it comes from, `mcw config validate` names every fault. An unknown",
        "name in the file is a fault.",
        "",
        "| setting | default | allowed | meaning |",
        "|---|---|---|---|",
    ]
    for name, field in Settings.model_fields.items():
        default = json.dumps(field.default)
        lines.append(f"| `{name}` | `{default}` | {_allowed(name)} | {_cell(field.description)} |")
    return "\n".join(lines) + "\n"


def _allowed(name: str) -> str:
    field = Settings.model_fields[name]
    words = {int: "whole number", float: "number", str: "text", bool: "true, false"}
    if field.annotation in words:
        bounds = [text for rule in field.metadata for text in _bounds(rule)]
        return ", ".join([words[field.annotation], *bounds])
    return ", ".join(f'`"{value}"`' for value in getattr(field.annotation, "__args__", ()))


def _bounds(rule: Any) -> Iterator[str]:
    if isinstance(rule, Ge):
        yield f"at least {rule.ge}"
    if isinstance(rule, Gt):
        yield f"above {rule.gt}"
    if isinstance(rule, Le):
        yield f"at most {rule.le}"
    if isinstance(rule, Lt):
        yield f"below {rule.lt}"


def reject_reasons() -> str:
    """Every reason an item is refused for, and its remedy."""
    lines = [
        "# Why an item is refused",
        "",
        _MADE.format(page=" rejects"),
        "",
        "An item is one value of a file, or one line that cannot be read. What is refused is kept",
        "with its place, its raw text and one of these reasons, while the good items of the same",
        "file become readings. `mcw rejects` shows what is open; `mcw replay` puts packages with",
        "refused items through again under the mapping they came with, which helps after the",
        "registry was completed. A mended mapping makes a new package: take the file in again.",
        "",
        f"Of one package and reason the first {KEPT_REJECTS:,} items are kept with place and text;",
        "all are counted. `mcw rejects` and `mcw inbox` show the count, the table `rejects` holds",
        "the items that are kept: one mistake in a mapping does not fill the disk.",
        "",
        "| reason | meaning | remedy | replay helps |",
        "|---|---|---|---|",
    ]
    for one in REJECT_REASON.values():
        helps = "yes, after the remedy" if one.replayable else "no"
        lines.append(f"| `{one.code}` | {_cell(one.meaning)} | {_cell(one.remedy)} | {helps} |")
    return "\n".join(lines) + "\n"


PAGES: dict[str, Callable[[], str]] = {
    "cli": commands,
    "settings": settings,
    "rejects": reject_reasons,
    "vocabulary": vocabulary,
}
"""What makes each page of `docs`, by its name."""


def main() -> int:
    """Print the page named by the first argument, the commands if there is none."""
    name = sys.argv[1] if len(sys.argv) > 1 else "cli"
    if name not in PAGES:
        sys.stderr.write(f"no page {name!r}; there are {', '.join(PAGES)}\n")
        return 2
    sys.stdout.write(PAGES[name]())
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
