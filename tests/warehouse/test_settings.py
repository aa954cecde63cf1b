"""Where a setting comes from, and what is said of one that is not allowed."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from warehouse.errors import SettingsError
from warehouse.settings import Settings, load_settings, render_file

_DEFAULTS = Settings.model_validate({})


def _file(home: Path, text: str) -> None:
    (home / "mcw.toml").write_text(text, encoding="utf-8")


def test_command_line_beats_environment_beats_file_beats_default(tmp_path: Path) -> None:
    _file(tmp_path, "threads = 3\nport = 1001\nquery_seconds = 5.0\n")
    loaded = load_settings(
        tmp_path, {"port": 1003}, {"MCW_PORT": "1002", "MCW_QUERY_SECONDS": "6.5"}
    )
    assert loaded.settings.port == 1003
    assert loaded.settings.query_seconds == 6.5
    assert loaded.settings.threads == 3
    assert loaded.settings.clock == "wall"
    assert loaded.origins["port"] == "command line"
    assert loaded.origins["query_seconds"] == "environment"
    assert loaded.origins["threads"] == str(tmp_path / "mcw.toml")
    assert loaded.origins["clock"] == "default"


def test_an_option_not_given_overrides_nothing(tmp_path: Path) -> None:
    loaded = load_settings(tmp_path, {"port": None}, {"MCW_PORT": "1002"})
    assert (loaded.settings.port, loaded.origins["port"]) == (1002, "environment")


def test_variables_of_others_are_left_alone(tmp_path: Path) -> None:
    loaded = load_settings(tmp_path, None, {"MCW_HOME": "x", "MCW_OTHER": "1", "PORT": "7"})
    assert loaded.settings == _DEFAULTS


def test_every_fault_of_a_file_is_named_with_what_is_allowed(tmp_path: Path) -> None:
    _file(tmp_path, 'clock = "sun"\nthreads = 0\nport = "door"\ncolour = "red"\n')
    with pytest.raises(SettingsError) as caught:
        load_settings(tmp_path, None, {})
    error = caught.value
    assert error.origin == str(tmp_path / "mcw.toml")
    assert error.exit_code == 3
    assert len(error.faults) == 4
    for part in ("'wall' or 'data'", "threads", "greater than or equal to 1", "port", "colour"):
        assert part in error.message
    assert "memory_limit_mb" in error.message, "an unknown setting is answered with the known ones"


@pytest.mark.parametrize(
    ("variable", "value"),
    [
        ("MCW_THREADS", "many"),
        ("MCW_PORT", "65536"),
        ("MCW_MEMORY_LIMIT_MB", "99"),
        ("MCW_CHUNK_ROWS", "2000001"),
        ("MCW_QUERY_SECONDS", "0"),
        ("MCW_CLOCK", ""),
    ],
)
def test_a_fault_in_the_environment_names_it(tmp_path: Path, variable: str, value: str) -> None:
    with pytest.raises(SettingsError, match=variable.removeprefix("MCW_").lower()) as caught:
        load_settings(tmp_path, None, {variable: value})
    assert caught.value.origin == "environment"


@pytest.mark.parametrize("content", [b"clock = \n", b"\xff\xfe\x00", b"= 1"])
def test_a_file_that_is_no_toml_is_told(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "mcw.toml").write_bytes(content)
    with pytest.raises(SettingsError, match="not valid TOML"):
        load_settings(tmp_path, None, {})


def test_the_file_written_for_a_new_store_says_and_changes_nothing(tmp_path: Path) -> None:
    _file(tmp_path, render_file({}))
    assert load_settings(tmp_path, None, {}).settings == _DEFAULTS
    text = (tmp_path / "mcw.toml").read_text(encoding="utf-8")
    for name, field in Settings.model_fields.items():
        assert f"# {name} = " in text
        assert field.description is not None
        assert field.description in text


def test_values_written_for_a_new_store_are_read_back(tmp_path: Path) -> None:
    values = {"clock": "data", "port": 9, "query_seconds": 2.5, "host": "::1"}
    _file(tmp_path, render_file(values))
    assert tomllib.loads((tmp_path / "mcw.toml").read_text(encoding="utf-8")) == values
    loaded = load_settings(tmp_path, None, {}).settings.model_dump()
    assert {name: loaded[name] for name in values} == values


def test_commented_defaults_are_the_defaults_when_uncommented(tmp_path: Path) -> None:
    lines = render_file({}).splitlines()
    names = tuple(f"# {name} = " for name in Settings.model_fields)
    _file(tmp_path, "\n".join(line[2:] for line in lines if line.startswith(names)))
    assert load_settings(tmp_path, None, {}).settings == _DEFAULTS


def test_settings_cannot_be_changed_after_loading(tmp_path: Path) -> None:
    loaded = load_settings(tmp_path, None, {})
    with pytest.raises(ValueError, match="frozen"):
        loaded.settings.port = 1
