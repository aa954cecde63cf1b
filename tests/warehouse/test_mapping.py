"""Mapping files: what they say, every fault at once, a version that follows the content."""

from __future__ import annotations

import re
import tomllib
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from warehouse.errors import MappingError, SourceMissingError
from warehouse.faultfinding import every_fault
from warehouse.mapping import _SOUND, Mapping, load_mapping, parse_mapping
from warehouse.mapping_parts import Taken

ROOT = Path(__file__).parents[2]
GOOD = """format_version = 1
name = "fan-logger"
[source]
id = "fans"
adapter = "delimited"
method = "wired"
[time]
from = "t"
[record]
device = "D"
quantity = "velocity"
detector = "rms"
unit = "mm/s"
band = "10-1000Hz"
[[measure]]
from = "v"
channel = "1"
"""
TIME = 'from = "t"\n'


def parse(text: str) -> Mapping:
    return parse_mapping(text, "m.toml")


def faults(text: str) -> list[str]:
    with pytest.raises(MappingError) as raised:
        parse(text)
    return raised.value.faults


def test_defaults() -> None:
    mapping = parse(GOOD)
    assert (mapping.file.delimiter, mapping.file.encoding, mapping.file.header_line) == (
        ",",
        "utf-8",
        1,
    )
    assert (mapping.time.from_, mapping.time.format) == (["t"], ["iso8601"])
    assert (mapping.time.ambiguous, mapping.time.clock, mapping.time.precision) == (
        "refuse",
        "device",
        "second",
    )
    assert (mapping.values.decimal, mapping.values.null, mapping.values.over_range) == (
        ".",
        [""],
        [],
    )


def test_fields_each_once_in_order_of_time_values_and_attributes() -> None:
    text = GOOD.replace(TIME, 'from = ["d", "t"]\nissued_at = "x"\n')
    text = text.replace('device = "D"', 'device = { from = "dev" }\nnote = { from = "v" }')
    mapping = parse(text + '[[measure]]\nfrom = "w"\nchannel = { from = "dev" }\n')
    assert mapping.fields == ("d", "t", "v", "w", "x", "dev")


def test_measure_wins_over_record() -> None:
    mapping = parse(GOOD + 'unit = { from = "u", map = { "ips" = "[in_i]/s" } }\n')
    attributes = mapping.attributes(0)
    assert attributes["unit"] == Taken.model_validate({"from": "u", "map": {"ips": "[in_i]/s"}})
    assert attributes["device"] == "D"


def test_version_follows_the_content_and_not_its_form() -> None:
    version = parse(GOOD).version
    assert version == "fan-logger@f27e9f7a"  # packages are known by it: a new key does not move it
    assert parse("# a comment\n" + GOOD.replace("= ", "=  ")).version == version
    assert parse(GOOD.replace('"mm/s"', '"[in_i]/s"')).version != version
    assert parse(GOOD.replace("[record]", "[values]\nthousands = ','\n[record]")).version != version


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("format_version = 1", "format_version = 2", "m.toml: format_version: Input should be 1"),
        ('"fan-logger"', '"Fan logger"', "m.toml: name: 'Fan logger' is no slug"),
        ('"wired"', '"by pigeon"', "m.toml: source.method: Input should be"),
        (TIME, TIME + 'zone = "Vienna"\n', "m.toml: time.zone: 'Vienna' is no IANA time zone"),
        (TIME, TIME + 'format = "%H:%M"\n', "m.toml: time: zone is needed: the format carries no"),
        (TIME, TIME + 'clock = "date-only"\n', "m.toml: time: zone is needed: noon of a local day"),
        (TIME, TIME + 'clock = "sundial"\n', "m.toml: time.clock: 'sundial' is not one of"),
        (TIME, TIME + 'precision = "week"\n', "m.toml: time.precision: 'week' is not one of"),
        (TIME, TIME + 'format = ["%H", "%H%z"]\nzone = "UTC"\n', "cannot stand in one list"),
        (TIME, TIME + "[file]\nencoding = 'utf-9'\n", "m.toml: file.encoding: 'utf-9' is no"),
        (TIME, TIME + "[file]\nencoding = 'rot13'\n", "m.toml: file.encoding: 'rot13' is no"),
        (TIME, TIME + "[file]\ndelimiter = ';;'\n", "m.toml: file.delimiter: String should have"),
        (TIME, TIME + "[file]\nrecords = 'messages'\n", "m.toml: file.records: String should"),
        (TIME, TIME + "[values]\ndecimal = ';'\n", "m.toml: values.decimal: Input should be"),
        (TIME, TIME + "[values]\nthousands = '.'\n", "'.' cannot be both decimal and thousands"),
        ('"rms"', '"root"', "measure 1 (from 'v'): detector 'root' is not one of"),
        ('"velocity"', '"speediness"', "quantity 'speediness' is not one of"),
        ('"mm/s"', '"ips"', "unit 'ips' is not one of"),
        ('"mm/s"', '"Cel"', "unit 'Cel' does not measure velocity rms; fitting: [in_i]/s"),
        ('"10-1000Hz"', '"wide"', "band 'wide' is not of the form LOW-HIGHHz"),
        ('"10-1000Hz"', '"1000-10Hz"', "band '1000-10Hz' is not of the form LOW-HIGHHz"),
        ("[record]", '[values]\nnull = ["X"]\nover_range = ["X"]\n[record]', "'X' cannot be both"),
        ("[record]", "[file]\nquote = ','\n[record]", "',' cannot be both delimiter and quote"),
        (TIME, TIME + 'zone = "localtime"\n', "time.zone: 'localtime' is no IANA time zone"),
        ('band = "10-1000Hz"\n', "", "band is missing; a vibration quantity needs one"),
        ('channel = "1"\n', "", "channel is missing; state it here or in [record]"),
        ("[record]", "[record]\ncolour = 'red'", "m.toml: record.colour: no such name"),
        ('from = "v"', "", "m.toml: measure.0.from: Field required"),
        ('"mm/s"', '"mm/s', "m.toml: not valid TOML"),
    ],
)
def test_fault_names_its_place_and_what_is_allowed(old: str, new: str, fault: str) -> None:
    assert old in GOOD
    found = faults(GOOD.replace(old, new, 1))
    assert len(found) == 1, found
    assert fault in found[0]


def test_all_faults_at_once() -> None:
    text = GOOD.replace('"rms"', '"root"').replace('"10-1000Hz"', '"wide"')
    found = faults(text.replace('channel = "1"', "") + '[[measure]]\nfrom = "w"\nchannel = "2"\n')
    assert [fault.split(": ")[1] for fault in found] == [
        "measure 1 (from 'v')",
        "measure 1 (from 'v')",
        "measure 1 (from 'v')",
        "measure 2 (from 'w')",
        "measure 2 (from 'w')",
    ]


_OTHERS = GOOD.replace('"rms"', '"root"').replace('"10-1000Hz"', '"wide"')
_OTHER_FAULTS = ["detector 'root' is not one of", "band 'wide' is not of the form"]


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("[record]", "[recrod]", "recrod: no such name is known here; perhaps record is meant"),
        ("[[measure]]", "[[measures]]", "measures: no such name is known here; perhaps mea"),
        ("[[measure]]", "[measure]", "measure: Input should be a valid list"),
        ("[time]", "[tiem]", "tiem: no such name is known here; perhaps time is meant"),
        ("[time]", "[[time]]", "time: Input should be a valid dictionary"),
        (TIME, 'form = "t"\n', "time.form: no such name is known here; perhaps from is meant"),
        (TIME, "", "time.from: Field required"),
        (TIME, TIME + 'format = "%H"\n', "time: zone is needed"),
        (TIME, TIME + 'format = "%d.%Q"\n', "time.format: '%d.%Q' is no pattern of % directives"),
        (TIME, TIME + 'format = ""\n', "time.format: '' is neither iso8601, epoch-seconds"),
        (TIME, TIME + 'format = "%H"\nzone = "Mars"\n', "time.zone: 'Mars' is no IANA time zone"),
        ("[source]", "[sauce]", "sauce: no such name is known here; perhaps source is meant"),
        ("[source]", "[x]", "x: no such name is known here; allowed: format_version, nam"),
        ("[record]", "[record]\ncolour = 1", "record.colour: no such name is known here; allo"),
        ("[record]", "[record]\nfeature = 5", "record.feature: Input should be a valid string"),
        ("[record]", "[record]\nsite = {form = 's'}", "record.site.form: no such name is kno"),
        ('from = "v"', 'form = "v"', "measure.0.form: no such name is known here; perhaps fro"),
    ],
)
def test_no_fault_hides_another(old: str, new: str, fault: str) -> None:
    assert old in _OTHERS
    found = faults(_OTHERS.replace(old, new, 1))
    missing = ["m.toml: source: Field required"] if "[x]" in new else []
    assert [one for one in found if one in missing] == missing
    told = [one for one in found if one not in missing]
    assert len(told) == 3, found
    for one, part in zip(told, [f"m.toml: {fault}", *_OTHER_FAULTS], strict=True):
        assert part in one


_VALUES: st.SearchStrategy[Any] = st.sampled_from(
    [None, 5, "", "rms", [], [5], {}, {"from": 5}, [{"from": "x"}], {"x": {}}]
)


@given(st.data())
def test_whatever_is_wrong_is_told_as_faults(data: st.DataObject) -> None:
    content = tomllib.loads(GOOD + '[values]\nnull = ["", "--"]\n')
    for _ in range(data.draw(st.integers(1, 4))):
        part = data.draw(st.sampled_from([content, *_tables(content)]))
        if part:
            name = data.draw(st.sampled_from(sorted(part)))
            value, other = data.draw(_VALUES), data.draw(st.sampled_from([name, name + "s", "x"]))
            del part[name]
            part |= {} if value is None else {other: deepcopy(value)}
    try:
        Mapping.model_validate(content)
    except ValidationError:
        assert every_fault(Mapping, content, _SOUND)


def _tables(content: dict[str, Any]) -> list[dict[str, Any]]:
    found = [
        one for value in content.values() for one in (value if type(value) is list else [value])
    ]
    return [one for one in found if isinstance(one, dict)]


def test_pure_number_needs_a_pure_unit() -> None:
    text = GOOD.replace('"velocity"', '"acceleration"').replace('"rms"', '"kurtosis"')
    assert "unit 'mm/s' does not measure acceleration kurtosis; fitting: %, 1" in faults(text)[0]
    assert parse(text.replace('"mm/s"', '"1"'))


def test_file_that_is_not_there_or_not_text(tmp_path: Path) -> None:
    with pytest.raises(SourceMissingError, match="a mapping file is needed"):
        load_mapping(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_bytes(b'name = "\xff"')
    with pytest.raises(MappingError, match="not UTF-8 text"):
        load_mapping(tmp_path / "bad.toml")


MAPPINGS = sorted(
    [
        *(ROOT / "ingest_examples" / "mappings").glob("*.toml"),
        *(ROOT / "warehouse" / "adapters").glob("*/examples/mapping.toml"),
    ]
)


@pytest.mark.parametrize("path", MAPPINGS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_mapping_that_is_shipped_is_valid(path: Path) -> None:
    assert load_mapping(path).measure


@pytest.mark.parametrize("page", ["mappings.md", "connect.md"])
def test_mapping_of_the_documentation_is_valid(page: str) -> None:
    text = (ROOT / "docs" / page).read_text(encoding="utf-8")
    found = re.findall(r"```toml\n(.*?)```", text, re.S)
    blocks = [block for block in found if "[source]" in block]
    assert blocks
    for block in blocks:
        assert parse(block).measure
