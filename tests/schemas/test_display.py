"""Display profiles: what they say, what they refuse, and that conversion is exact both ways."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.display import Profile, figures, parse_profile
from schemas.units import UNITS, to_canonical, unit_kind

_US = parse_profile("us-customary")


@pytest.mark.parametrize(
    ("quantity", "detector", "value", "words"),
    [
        ("velocity", "rms", 25.4 / math.sqrt(2), "1.00 in/s derived peak"),
        ("velocity", "derived-peak", 12.7, "0.500 in/s derived peak"),
        ("velocity", "derived-peak-to-peak", 25.4, "0.500 in/s derived peak"),
        ("displacement", "rms", 25.4, "2.83 mil derived peak to peak"),
        ("displacement", "peak-to-peak", 50.8, "2.00 mil peak to peak"),
        ("acceleration", "rms", 9.80665, "1.00 g rms"),
        ("acceleration", "kurtosis", 3.1, "3.10 kurtosis"),
        ("temperature", "value", 80.0, "176 °F"),
        ("power", "value", 75.0, "101 hp"),
        ("speed", "value", 1480.0, "1,480 r/min"),
    ],
)
def test_values_are_shown_as_the_site_reads(
    quantity: str, detector: str, value: float, words: str
) -> None:
    assert _US.shown(quantity, detector, value).words == words


@pytest.mark.parametrize("detector", ["peak", "peak-unspecified", "peak-to-peak"])
def test_a_measured_peak_keeps_its_detector(detector: str) -> None:
    shown = _US.shown("velocity", detector, 25.4)
    assert (shown.value, shown.detector) == (1.0, detector)


def test_a_difference_of_temperatures_has_no_offset() -> None:
    assert _US.shown("temperature", "value", 10.0, is_difference=True).value == 18.0


def test_parts_change_what_a_name_says() -> None:
    profile = parse_profile("us-customary; velocity=mm/s rms; time=utc")
    assert profile.shown("velocity", "derived-peak", math.sqrt(2)).words == "1.00 mm/s rms"
    assert not profile.local_time
    assert profile.shown("power", "value", 75.0).unit == "[HP]"
    plain = parse_profile("us-customary; velocity=[in_i]/s")
    assert plain.shown("velocity", "rms", 25.4).words == "1.00 in/s rms"


@pytest.mark.parametrize("text", [None, "", "si"])
def test_without_one_everything_is_canonical(text: str | None) -> None:
    profile = parse_profile(text)
    assert profile.canonical
    assert profile.name == "si"
    assert profile.shown("velocity", "rms", 4.5).words == "4.50 mm/s rms"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("imperial", "neither a profile"),
        ("si; us-customary", "which stand first"),
        ("us-customary;", "neither a profile"),
        ("velocity=Cel", "does not measure velocity; fitting: mm/s"),
        ("velocity=in/s", "does not measure velocity"),
        ("velocity=mm/s peak", "nothing converts to a true peak"),
        ("temperature=[degF] rms", "no choice of detector"),
        ("noise=dB", "'noise' is not one of velocity"),
        ("time=summer", "time=summer is not one of utc, local"),
    ],
)
def test_what_does_not_fit_is_refused(text: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        parse_profile(text)


_CHOICES = [
    (quantity, code)
    for quantity in ("velocity", "acceleration", "displacement", "temperature", "power", "speed")
    for kind, code in UNITS
    if kind == unit_kind(quantity, "value")
]


@given(choice=st.sampled_from(_CHOICES), value=st.floats(0.01, 1000))
def test_what_is_shown_is_what_would_come_back(choice: tuple[str, str], value: float) -> None:
    quantity, code = choice
    unit = UNITS[unit_kind(quantity, "value"), code]
    shown = Profile("x", {quantity: unit}).shown(quantity, "value", value)
    # four figures of the shown value, in canonical units
    step = 10 ** (math.floor(math.log10(abs(shown.value))) - 3) * unit.factor if shown.value else 1
    assert to_canonical(shown.value, unit) == pytest.approx(value, abs=0.5001 * step)


@pytest.mark.parametrize(
    ("value", "words"),
    [(0.0421, "0.0421"), (0.999, "0.999"), (9.786, "9.79"), (175.9, "176"), (12345.6, "12,346")],
)
def test_numbers_have_three_figures_and_no_powers_of_ten(value: float, words: str) -> None:
    assert figures(value) == words
