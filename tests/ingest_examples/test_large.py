"""The large site: the same seed the same bytes, physical laws, and a truth the data bear out."""

from __future__ import annotations

import re
from datetime import datetime
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest_examples.generator.clock import Floats
from ingest_examples.generator.faults import no_effect
from ingest_examples.large.build import build, make_scene
from ingest_examples.large.columns import sources
from ingest_examples.large.effects import LATE, grow, resonance
from ingest_examples.large.growth import LAWS, Growing, Kind, Law, share_of_life
from ingest_examples.large.scene import Scene
from ingest_examples.large.size import Size
from ingest_examples.large.spoiling import spoil
from ingest_examples.large.truth import Row, rows

_SMALL = Size(online=8, route=6, failures=6, online_days=150, route_days=240, hours=6)
_PERIOD = _SMALL.period(1)
_STEPS = _PERIOD.grid().size


@cache
def _scene() -> Scene:
    return make_scene(5, _SMALL)


@cache
def _rows() -> tuple[Row, ...]:
    return tuple(rows(_scene()))


def _files(folder: Path) -> dict[str, bytes]:
    found = {p.relative_to(folder).as_posix(): p for p in folder.rglob("*") if p.is_file()}
    return {name: path.read_bytes() for name, path in found.items()}


def _damaged(kind: Kind, law: Law, speed: float = 1.0) -> tuple[Floats, Floats, Floats, Floats]:
    """Life, velocity, high frequency and kurtosis of a damage at its own point."""
    growing = Growing(kind, "P-1", "pump", ("pump-de",), law, 100.0, 0, 0, 8.0, 9.0, 6.0, 10.0)
    life = np.clip(np.linspace(-0.1, 1, _STEPS), 0, 1)
    effect = no_effect(_STEPS)
    grow(effect, _PERIOD, growing, ("pump-de", "horizontal"), life, np.full(_STEPS, speed))
    return life, effect.velocity_add, effect.acceleration_factor, effect.kurtosis_add


def test_a_seed_makes_the_same_bytes_again_and_another_seed_others(tmp_path: Path) -> None:
    size = Size(online=3, route=3, failures=2, online_days=120, route_days=120, hours=24)
    for name, seed in (("once", 3), ("again", 3), ("other", 4)):
        build(seed, size, tmp_path / name)
    once, again, other = (_files(tmp_path / name) for name in ("once", "again", "other"))
    assert once == again
    assert once["files/proving-sensors/001.csv"] != other["files/proving-sensors/001.csv"]


def test_every_size_that_is_wrong_is_said() -> None:
    assert Size().faults == []
    assert len(Size(online=2, route=0, failures=2, online_days=9, hours=0).faults) == 3


@pytest.mark.parametrize("law", ["exponential", "crack"])
def test_bearing_wear_shows_in_high_frequency_long_before_velocity(law: Law) -> None:
    life, velocity, high, _ = _damaged("bearing-wear", law)
    assert velocity[life <= LATE].max() == 0
    assert velocity[-1] == pytest.approx(8.0)
    doubled = life[np.flatnonzero(high > 2)[0]]
    assert doubled < LATE - 0.3
    assert (np.diff(high) >= 0).all()


def test_kurtosis_of_a_bearing_goes_up_and_then_down() -> None:
    _, _, _, kurtosis = _damaged("bearing-wear", "exponential")
    top = int(kurtosis.argmax())
    assert (np.diff(kurtosis[:top]) >= 0).all()
    assert (np.diff(kurtosis[top:]) <= 0).all()
    assert kurtosis[-1] < 0.05 * kurtosis[top]


@settings(max_examples=20, deadline=None)
@given(st.floats(0.3, 1.0))
def test_unbalance_goes_with_the_square_of_speed(share: float) -> None:
    slow = _damaged("unbalance", "linear", share)[1]
    rated = _damaged("unbalance", "linear")[1]
    assert slow[-1] / rated[-1] == pytest.approx(share**2)


def test_misalignment_is_there_at_once_and_along_the_shaft() -> None:
    life, velocity, _, _ = _damaged("misalignment", "step")
    assert velocity[life > 0][0] > 0.4 * velocity[-1]


def test_every_law_runs_from_none_to_failure() -> None:
    life = np.linspace(0, 1, 200)
    for name, law in LAWS.items():
        damage = law(life)
        assert damage[0] == 0
        assert (np.diff(damage) >= 0).all()
        assert damage[-1] == pytest.approx(0 if name == "none" else 1)


def test_resonance_peaks_at_the_natural_frequency() -> None:
    speed = np.linspace(0.5, 1.5, 1001)
    gain = resonance(speed, np.full(1001, 1.1))
    assert speed[gain.argmax()] == pytest.approx(1.1, abs=0.01)
    assert resonance(np.array([0.85]), np.array([1.0]))[0] == pytest.approx(1)


def test_damage_reaches_one_at_the_failure_and_rests_while_standing() -> None:
    scene = _scene()
    world, grid = scene.world(), scene.period.grid()
    for growing in scene.growing:
        state = world.state(growing.asset)
        life = share_of_life(scene.period, state, growing)
        assert life[grid < growing.fails][-1] == pytest.approx(1, abs=0.01)
        assert life[grid < growing.begins].max() == 0
        assert (np.diff(life)[~state.running[1:]] == 0).all()
        assert not state.running[grid >= growing.fails].any()


def test_truth_names_every_failure_and_what_can_be_seen() -> None:
    failures = [row for row in _rows() if row.what == "failure"]
    assert len(failures) == _SMALL.failures
    assert len({row.asset for row in failures}) == len(failures)
    for row in failures:
        assert row.begins < row.ends
        assert (row.visible == "") == (row.kind == "sudden-failure")
        if row.visible:
            assert row.begins <= row.visible <= row.ends
    assert {row.method for row in failures} == {"online", "route"}


def test_truth_has_the_spans_of_what_only_looks_like_damage() -> None:
    kinds = {row.kind for row in _rows() if row.what == "disturbance"}
    assert {"regreasing", "cavitation", "season", "site-shutdown", "resonance"} <= kinds
    patterns = {row.kind for row in _rows() if row.what == "machine"}
    assert {"alternate-a", "alternate-b", "demand-speed", "batch", "continuous"} <= patterns


def test_kurtosis_and_high_frequency_of_the_data_bear_out_the_truth() -> None:
    """Near its end a bearing's own point reads much more than before its onset."""
    scene = make_scene(8, Size(online=6, route=0, failures=1, hours=6))
    (row,) = [r for r in rows(scene) if r.what == "failure"]
    assert row.kind == "bearing-wear"
    table = sources(scene)["proving-sensors"]
    begins, ends = (datetime.fromisoformat(t).timestamp() for t in (row.visible, row.ends))
    devices = {s.device for s in scene.plant.sensors for m in s.mounts if m.asset == row.asset}
    data = table.to_pandas()
    data = data[data["device"].isin(devices) & (data["hf"] > 0.15)]
    before = data[data["time"] < begins].groupby("device")["hf"].median()
    late = data[data["time"].between(ends - 10 * 86_400, ends)].groupby("device")["hf"].median()
    assert (late / before).max() > 2
    assert data[data["time"] > ends].empty


def test_a_message_is_read_where_the_sensor_sits_then() -> None:
    scene = make_scene(5, Size(online=14, route=0, failures=0, hours=24))
    swapped = {s.device.removesuffix("-2") for s in scene.plant.sensors if "-2" in s.device[-2:]}
    assert swapped
    table = sources(scene)["proving-sensors"].to_pandas().groupby("device")["time"]
    first, last = table.min(), table.max()
    for device in swapped:
        assert last[device] < first[f"{device}-2"]


def test_so_many_are_lost_and_so_many_are_wrong_and_the_truth_says_which() -> None:
    scene = make_scene(6, Size(online=10, route=6, failures=2, hours=12))
    tables = sources(scene)
    same, none = spoil(scene, tables, 0.0, 0.0)
    assert none == []
    assert all(same[name].equals(tables[name]) for name in tables)
    fewer, _ = spoil(scene, tables, 0.05, 0.0)
    for name in ("proving-sensors", "proving-tags"):
        assert 0.03 < 1 - fewer[name].num_rows / tables[name].num_rows < 0.08
    wrong, rows = spoil(scene, tables, 0.0, 0.01)
    before, after = (t["proving-sensors"].to_pandas() for t in (tables, wrong))
    joined = before.merge(after, indicator=True, how="left")
    assert 0.01 <= (joined["_merge"] == "left_only").mean() < 0.06
    assert {row.kind for row in rows} >= {"wrong-unit"}
    assert {row.what for row in rows} == {"corruption"}


def test_a_wrong_unit_reads_low_on_the_device_the_truth_names() -> None:
    scene = make_scene(6, Size(online=10, route=0, failures=2, hours=12))
    tables = sources(scene)
    wrong, rows = spoil(scene, tables, 0.0, 0.01)
    (row,) = [r for r in rows if r.kind == "wrong-unit"][:1]
    begins, ends = (datetime.fromisoformat(t).timestamp() for t in (row.begins, row.ends))
    before, after = (t["proving-sensors"].to_pandas() for t in (tables, wrong))
    before, after = (t[(t["device"] == row.detail) & t["time"].between(begins, ends)]
                     for t in (before, after))  # fmt: skip
    assert after["y"].sum() == pytest.approx(before["y"].sum() / 25.4, rel=0.02)


def test_nothing_is_read_that_has_no_physics_and_times_rise() -> None:
    for table in sources(_scene()).values():
        times = table.column("time").to_pylist()
        assert all(a <= b for a, b in pairwise(times))


def test_every_machine_and_device_is_an_invented_code() -> None:
    scene = _scene()
    assert all(re.fullmatch(r"[PFGK]-\d{3}", a.asset) for a in scene.plant.assets)
    assert all("invented" in unit.description for unit in scene.plant.units)
    assert "invented" in scene.plant.sites[0].name
