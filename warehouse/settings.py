"""Settings: one table with defaults, read once, frozen.

Precedence: command line, environment (`MCW_` and the name in capitals),
`mcw.toml` in the store's folder, default.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from warehouse.errors import SettingsError

FILE_NAME = "mcw.toml"
_ENVIRONMENT_PREFIX = "MCW_"


class Settings(BaseModel):
    """Every setting: its type, default and meaning."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    clock: Literal["wall", "data"] = Field(
        "wall",
        description="what `now` means to the judge: `wall` is the clock of this machine, "
        "`data` the newest reading or stop in the store (for examples and back-filled history)",
    )
    memory_limit_mb: int = Field(
        400, ge=100, description="memory one DuckDB session may use, in megabytes"
    )
    threads: int = Field(2, ge=1, description="threads one DuckDB session may use")
    chunk_rows: int = Field(
        1_000_000, ge=1_000, le=2_000_000, description="most readings in one commit"
    )
    commit_mb: int = Field(
        10, ge=1, le=100, description="most payload bytes taken in together, in megabytes"
    )
    commit_seconds: float = Field(
        30.0,
        ge=0,
        le=3600,
        description="`mcw run` commits what waits once the oldest of it is that old, or "
        "`commit_mb` has come together; at once where a request waits for it",
    )
    compact_files: int = Field(
        64, ge=2, description="a partition with more small files than this is compacted"
    )
    retention_days: int = Field(
        14, ge=7, description="how long files that were replaced are kept for readers, days"
    )
    log_days: int = Field(
        2, ge=1, description="how long a table's log keeps each single commit, days"
    )
    payload_codec: Literal["zstd", "none"] = Field(
        "zstd", description="how the bytes of packages that were taken in are compressed"
    )
    payload_days: int = Field(
        90, ge=1, description="how long the bytes of packages without refused items are kept, days"
    )
    max_line_bytes: int = Field(
        2_000_000, ge=1_000, description="longest line of a text file, in bytes"
    )
    free_disk_mb: int = Field(
        200, ge=0, description="nothing is received while less disk is free, in megabytes"
    )
    host: str = Field("127.0.0.1", description="address `mcw serve` listens on")
    port: int = Field(8765, ge=0, le=65535, description="port `mcw serve` listens on; 0 = any free")
    workers: int = Field(
        1,
        ge=1,
        le=64,
        description="processes of `mcw serve`; limits of keys and of memory are those of each",
    )
    poll_seconds: float = Field(
        0.25, gt=0, le=2, description="how often the server looks for a newly judged state, seconds"
    )
    watch_rest_seconds: float = Field(
        2.0,
        ge=0,
        description="a watched file is complete once its size and time have not changed that long; "
        "ten times as long where its last line has no end, and before it is moved away",
    )
    idle_seconds: float = Field(
        1.0, gt=0, le=60, description="how often `mcw run` and `mcw watch` look for something new"
    )
    judge_whole_below: int = Field(
        200_000,
        ge=0,
        description="a store with fewer readings is judged whole each time; of a larger one what "
        "was worked out is kept, and only machines that changed are judged anew",
    )
    query_seconds: float = Field(30.0, gt=0, description="longest a query may run, seconds")
    export_seconds: float = Field(
        300.0, gt=0, description="longest one answer of the server may stream, seconds"
    )
    heavy_requests: int = Field(
        2, ge=1, le=64, description="requests of the server that read tables at the same time"
    )
    body_mb: int = Field(
        64, ge=1, le=4096, description="largest body of a request, packed and unpacked, megabytes"
    )
    body_seconds: float = Field(
        60.0, gt=0, description="longest the server waits for the next bytes of a body, seconds"
    )
    key_requests: int = Field(
        16, ge=1, le=10_000, description="requests of one key under way at the same time"
    )
    key_rate: int = Field(
        6000, ge=0, description="requests of one key a minute; 0 = as many as it likes"
    )
    request_log: bool = Field(
        False, description="whether `mcw serve` writes a line of JSON for each request to stderr"
    )
    sql_endpoint: bool = Field(
        False, description="whether the server answers SQL (`POST /v1/query`)"
    )
    sql_rows: int = Field(100_000, ge=1, description="most rows of one answer of the SQL endpoint")
    sql_memory_mb: int = Field(
        1024, ge=256, description="address space a statement of the SQL endpoint may add, megabytes"
    )
    push_targets: str = Field(
        "",
        pattern=r"^\s*(https?://\S+(\s+|$))*$",
        description="targets that may be told of cases and levels, with blanks between: "
        "https://NAME, https://NETWORK (as 10.1.2.0/24), http:// likewise, :PORT or :* behind; "
        "an address that is not public must lie in a network listed; empty = none",
    )
    push_ca_file: str = Field(
        "", description="certificates of the plant's own authority for https targets (PEM file)"
    )
    push_seconds: float = Field(
        10.0, gt=0, le=60, description="longest one attempt to tell a target may take, seconds"
    )
    push_days: float = Field(
        5.0, gt=0, le=30, description="how long a failing target is tried before it is told nothing"
    )
    push_log_days: int = Field(
        30, ge=1, description="how long the outbox keeps what was delivered or given up, days"
    )
    oidc_issuer: str = Field(
        "", description="who signs bearer tokens (claim `iss`); empty = tokens are not taken"
    )
    oidc_audience: str = Field("", description="whom tokens must be for (claim `aud`)")
    oidc_keys: str = Field("", description="key set of the issuer: a file, or an https address")

    @property
    def remember_days(self) -> int:
        """How long logs tell of replaced files: a little longer than those are kept."""
        return self.retention_days + 2


@dataclass(frozen=True, slots=True)
class LoadedSettings:
    """The settings in force and, for each, where it came from."""

    settings: Settings
    origins: Mapping[str, str]


def load_settings(
    home: Path,
    overrides: Mapping[str, Any] | None = None,
    environment: Mapping[str, str] | None = None,
) -> LoadedSettings:
    """Settings of the store at `home`.

    Raises SettingsError naming the file or variable, every fault in it, and
    what is allowed.
    """
    environment = os.environ if environment is None else environment
    layers = [
        (f"{home / FILE_NAME}", _file_layer(home / FILE_NAME)),
        ("environment", _environment_layer(environment)),
        ("command line", {k: v for k, v in (overrides or {}).items() if v is not None}),
    ]
    values: dict[str, Any] = {}
    origins = dict.fromkeys(Settings.model_fields, "default")
    for origin, layer in layers:
        _check(layer, origin)
        values |= layer
        origins |= dict.fromkeys(layer, origin)
    return LoadedSettings(Settings(**values), origins)


def _file_layer(path: Path) -> dict[str, Any]:
    if not path.exists():
        return {}
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError([f"not valid TOML: {error}"], str(path)) from error


def _environment_layer(environment: Mapping[str, str]) -> dict[str, Any]:
    names = {_ENVIRONMENT_PREFIX + name.upper(): name for name in Settings.model_fields}
    return {names[key]: value for key, value in environment.items() if key in names}


def _check(layer: Mapping[str, Any], origin: str) -> None:
    try:
        Settings(**layer)
    except ValidationError as error:
        raise SettingsError([_fault(e["loc"], e["msg"]) for e in error.errors()], origin) from error


def _fault(location: tuple[int | str, ...], message: str) -> str:
    name = ".".join(str(part) for part in location)
    if name not in Settings.model_fields:
        return f"{name} is no setting; known: {', '.join(Settings.model_fields)}"
    return f"{name}: {message[0].lower()}{message[1:]}"


def render_file(values: Mapping[str, Any]) -> str:
    """Text of an `mcw.toml` with every setting as a comment and `values` set."""
    lines = ["# Settings of this store. A commented line shows the default.", ""]
    for name, field in Settings.model_fields.items():
        lines.append(f"# {field.description}")
        if name in values:
            lines.append(f"{name} = {_toml(values[name])}")
        else:
            lines.append(f"# {name} = {_toml(field.default)}")
        lines.append("")
    return "\n".join(lines)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else str(value)
