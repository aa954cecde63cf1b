"""`mcw explain` over the demo: its steps lead to what was judged, and the page shows its words."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.ingest_examples.scenario import Scenario, scenario_of_run
from tests.warehouse.cli.running import mcw
from warehouse.errors import NotFoundError
from warehouse.services.explaining import Asked, Explaining, Explanation, explain, open_explaining

_PAGE = Path(__file__).parents[2] / "docs" / "judging.md"
_KEYS = ["running", "readings", "bin", "limits", "persistence", "zone", "history", "trend",
         "trust", "holds", "says"]  # fmt: skip


@pytest.fixture(scope="module", name="scenario")
def _scenario(tmp_path_factory: pytest.TempPathFactory) -> Scenario:
    return scenario_of_run(tmp_path_factory)


@pytest.fixture(scope="module", name="explaining")
def _explaining(scenario: Scenario) -> Iterator[Explaining]:
    with open_explaining(scenario.store) as explaining:
        yield explaining


@pytest.fixture(scope="module", name="fan")
def _fan(explaining: Explaining) -> Explanation:
    return explaining.explain(Asked("board-mill", "F-241"))


def _governing(found: Explanation, point: int = 0) -> Any:
    (series,) = [one for one in found.points[point].series if one.governs]
    return series


def _said(found: Explanation) -> str:
    series = [step.said for point in found.points for one in point.series for step in one.steps]
    points = [step.said for point in found.points for step in point.steps]
    above = [step.said for step in found.roll_up]
    return " ".join(line for lines in series + points + above for line in lines)


def test_every_step_is_told_in_order_and_leads_to_what_was_judged(fan: Explanation) -> None:
    series = _governing(fan)
    assert [step.key for step in series.steps] == _KEYS
    assert all(step.said for step in series.steps)
    (point,) = fan.points
    evidence = series.facts["row"]["evidence"]
    for name in ("level", "basis", "reason", "value", "since", "measured_at", "stale_after"):
        assert evidence[name] == point.condition[name] == fan.asset[name], name
    judged = series.facts["row"]["judged"]
    last = sorted(one["value"] for one in series.facts["readings"][-3:])
    assert judged["value"] == last[1]  # the median of three
    held = {one["boundary"]: one["since"] for one in series.facts["boundaries"]
            if one["basis"] == "severity"}  # fmt: skip
    assert (held[3], held[2]) == (None, fan.asset["since"])


def test_why_the_others_do_not_govern(fan: Explanation) -> None:
    (governs,) = fan.points[0].steps
    assert "acceleration rms 10-5000Hz online does not" in " ".join(governs.said)
    points = " ".join(next(step for step in fan.roll_up if step.key == "points").said)
    assert points.count("governs") == 1


def test_same_state_and_moment_give_the_same_answer(scenario: Scenario, fan: Explanation) -> None:
    again = explain(scenario.store, Asked("board-mill", "F-241"), fan.as_of)
    assert again == fan
    assert again.as_published


def test_a_moment_of_the_past_is_judged_as_of_then(scenario: Scenario) -> None:
    then = dt.datetime(2025, 10, 1, tzinfo=dt.UTC)
    found = explain(scenario.store, Asked("board-mill", "F-241"), then)
    assert (found.as_of, found.as_published) == (then, False)
    assert (found.asset["level"], found.asset["as_of"]) == ("watch", then)
    assert all(one["ts"] <= then for one in _governing(found).facts["readings"])


@pytest.mark.parametrize(
    ("site", "asset", "words"),
    [
        ("board-mill", "P-261", "alert above 13.6 m/s2"),
        ("raw-water", "P-132", "left out: stopped-or-loose"),
        ("raw-water", "P-123", "No judgeable reading since"),
        ("district-cooling", "C-303", "No limit set is in force: no published set"),
    ],
)
def test_what_is_odd_is_told(
    scenario: Scenario, explaining: Explaining, site: str, asset: str, words: str
) -> None:
    found = explaining.explain(Asked(site, asset))
    assert words in _said(found)
    told = scenario.assets[asset]
    assert (found.asset["level"], found.asset["basis"]) == (told["level"], told["basis"])
    assert json.dumps(found.plain(), default=str).count("series_id") == 0


@pytest.mark.parametrize(
    "asked",
    [
        Asked("board-mill", "F-999"),
        Asked("nowhere", "F-241"),
        Asked("board-mill", "F-241", member="gearbox"),
        Asked("board-mill", "F-241", position="fan-de", axis="tangential"),
    ],
    ids=str,
)
def test_what_is_not_there_is_refused_by_name(scenario: Scenario, asked: Asked) -> None:
    with pytest.raises(NotFoundError, match=re.escape(asked.asset)):
        explain(scenario.store, asked)


def test_a_time_without_its_zone_is_refused(scenario: Scenario) -> None:
    with pytest.raises(ValueError, match="time zone"):
        explain(scenario.store, Asked("board-mill", "F-241"), dt.datetime(2025, 10, 1))
    ended = mcw("explain", "board-mill", "F-241", "--as-of", "yesterday", "--home",
                scenario.store.home)  # fmt: skip
    assert ended.code == 2
    assert "2025-11-13T23:00:00Z" in ended.err.replace("\n", " ").replace("│", "")


def test_the_page_shows_what_is_said(scenario: Scenario) -> None:
    text = _PAGE.read_text(encoding="utf-8")
    (shown,) = re.findall(r"(?ms)^```text\n(board-mill.*?)^```", text)
    ended = mcw("explain", "board-mill", "F-241", "--home", scenario.store.home)
    assert ended.code == 0
    assert max(map(len, ended.out.splitlines())) <= 80
    at = 0
    for block in re.split(r"(?m)^\.\.\.\n", shown):
        assert block in ended.out[at:], block
        at = ended.out.index(block, at)


def test_json_has_the_words_and_the_figures(scenario: Scenario) -> None:
    ended = mcw("explain", "board-mill", "F-241", "--position", "fan-de", "--axis", "vertical",
                "--json", "--home", scenario.store.home)  # fmt: skip
    found = json.loads(ended.out)
    assert [point["condition"]["axis"] for point in found["points"]] == ["vertical"]
    (series,) = [one for one in found["points"][0]["series"] if one["governs"]]
    assert series["facts"]["row"]["severity"]["b_c"] == 4.5
    assert [step["key"] for step in series["steps"]] == _KEYS
