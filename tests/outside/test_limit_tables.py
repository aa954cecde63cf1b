"""Published limit values, typed here again from their sources, against the rows we load.

Sources (named in each id):
 lib    a public acoustics library that transcribes ISO 10816-3:2009 clause by clause
 din    one-page German summary of DIN ISO 10816-7:2009-08
 facts  secondary text, an application's list of facts
 arrays application source with the values of ANSI/HI 9.6.4
 hi     excerpt of ANSI/HI 9.6.4-2009, page 10
 iec    two independent documents on IEC 60034-14
 api    secondary texts on API 610
 meter  instrument manual's appendix that quotes ISO 2372
 book   university digital library, textbook page 193, on ISO 20816-8
 mem    from memory: only that the row says so is checked, and that the figure is the one agreed
"""

from __future__ import annotations

import pytest

from schemas.units import UNITS, to_canonical
from tests.outside.machines import boundaries, rows

ISO_3 = "iso-20816-3-2022"
ISO_7 = "iso-10816-7-2009"
HI = "hi-9.6.4-2022"
FANS = "iso-14694-2003"

# Tables A.1 and A.2 of ISO 10816-3:2009 (lib): group, support, quantity, A/B, B/C, C/D.
TABLE_3 = [
    ("group-1", "rigid", "velocity", 2.3, 4.5, 7.1),
    ("group-1", "rigid", "displacement", 29, 57, 90),
    ("group-1", "flexible", "velocity", 3.5, 7.1, 11.0),
    ("group-1", "flexible", "displacement", 45, 90, 140),
    ("group-2", "rigid", "velocity", 1.4, 2.8, 4.5),
    ("group-2", "rigid", "displacement", 22, 45, 71),
    ("group-2", "flexible", "velocity", 2.3, 4.5, 7.1),
    ("group-2", "flexible", "displacement", 37, 71, 113),
]
# Groups 3 and 4 of the edition of 1998: velocity (facts), displacement (mem).
TABLE_1998 = [
    ("group-3", "rigid", "velocity", 2.3, 4.5, 7.1, "V2"),
    ("group-3", "rigid", "displacement", 18, 36, 56, "M"),
    ("group-3", "flexible", "velocity", 3.5, 7.1, 11.0, "V2"),
    ("group-3", "flexible", "displacement", 28, 56, 90, "M"),
    ("group-4", "rigid", "velocity", 1.4, 2.8, 4.5, "V2"),
    ("group-4", "rigid", "displacement", 11, 22, 36, "M"),
    ("group-4", "flexible", "velocity", 2.3, 4.5, 7.1, "V2"),
    ("group-4", "flexible", "displacement", 18, 36, 56, "M"),
]
# ISO 10816-7:2009 (din): A/B, B/C, C/D, ALARM, TRIP and the four acceptance values as printed.
TABLE_7 = {
    "category-I-up-to-200-kW": (2.5, 4.0, 6.6, 5.0, 8.3, 2.5, 3.4, 3.3, 4.0),
    "category-I-over-200-kW": (3.5, 5.0, 7.6, 6.3, 9.5, 3.5, 4.4, 4.3, 5.0),
    "category-II-up-to-200-kW": (3.2, 5.1, 8.5, 6.4, 10.6, 3.2, 4.2, 4.2, 5.1),
    "category-II-over-200-kW": (4.2, 6.1, 9.5, 7.6, 11.9, 4.2, 5.2, 5.2, 6.1),
}
# ANSI/HI 9.6.4 (arrays): field POR, field AOR, factory POR, factory AOR; field POR in in/s.
TABLE_HI = {
    "horizontal-up-to-200-kW": (3.8, 4.9, 4.8, 6.2, 0.15),
    "horizontal-over-200-kW": (4.8, 6.2, 5.6, 7.3, 0.19),
    "vertically-suspended-up-to-200-kW": (3.3, 4.3, 4.3, 5.6, 0.13),
    "vertically-suspended-over-200-kW": (4.3, 5.6, 5.3, 6.9, 0.17),
}
# ISO 14694 in place (mem): rms start-up, alarm, shutdown; peak beside them.
TABLE_FANS = {
    ("BV-1", "rigid"): ((10.0, 10.6, None), (14.0, 15.2, None)),
    ("BV-1", "flexible"): ((11.2, 14.0, None), (15.2, 19.1, None)),
    ("BV-2", "rigid"): ((5.6, 9.0, None), (7.6, 12.7, None)),
    ("BV-2", "flexible"): ((9.0, 14.0, None), (12.7, 19.1, None)),
    ("BV-3", "rigid"): ((4.5, 7.1, 9.0), (6.4, 10.2, 12.7)),
    ("BV-3", "flexible"): ((6.3, 11.8, 12.5), (8.8, 16.5, 17.8)),
    ("BV-4", "rigid"): ((2.8, 4.5, 7.1), (4.1, 6.4, 10.2)),
    ("BV-4", "flexible"): ((4.5, 7.1, 11.2), (6.4, 10.2, 15.2)),
    ("BV-5", "rigid"): ((1.8, 4.0, 5.6), (2.5, 5.7, 7.6)),
    ("BV-5", "flexible"): ((2.8, 5.6, 7.1), (4.1, 7.6, 10.2)),
}
# IEC 60034-14:2018 (iec): displacement um, velocity mm/s, acceleration m/s2.
TABLE_IEC = {
    ("grade-A-56-to-132-mm", "free suspension"): (25, 1.6, 2.5),
    ("grade-A-over-132-to-280-mm", "free suspension"): (35, 2.2, 3.5),
    ("grade-A-over-280-mm", "free suspension"): (45, 2.8, 4.4),
    ("grade-A-56-to-132-mm", "rigid"): (21, 1.3, 2.0),
    ("grade-A-over-132-to-280-mm", "rigid"): (29, 1.8, 2.8),
    ("grade-A-over-280-mm", "rigid"): (37, 2.3, 3.6),
    ("grade-B-56-to-132-mm", "free suspension"): (11, 0.7, 1.1),
    ("grade-B-over-132-to-280-mm", "free suspension"): (18, 1.1, 1.7),
    ("grade-B-over-280-mm", "free suspension"): (29, 1.8, 2.8),
    ("grade-B-over-132-to-280-mm", "rigid"): (14, 0.9, 1.4),
    ("grade-B-over-280-mm", "rigid"): (24, 1.5, 2.4),
}
# ISO 10816-1:1995 Annex B, as ISO 2372 (meter).
TABLE_1 = [
    ("class-I", "rigid", 0.71, 1.8, 4.5),
    ("class-II", "rigid", 1.12, 2.8, 7.1),
    ("class-III-or-IV", "rigid", 1.8, 4.5, 11.2),
    ("class-III-or-IV", "flexible", 2.8, 7.1, 18.0),
]
# ISO 20816-8:2018 (book): B/C, C/D.
TABLE_8 = {
    "foundation": (3.0, 4.5),
    "frame-top": (8.0, 12.0),
    "cylinder-lateral": (13.0, 19.5),
    "cylinder-rod": (16.0, 24.0),
    "damper": (19.0, 28.5),
    "piping": (19.0, 28.5),
}
# ISO 10816-6:1995: B/C of class 1 to 7, and C/D of class 7; classes 3 to 5 (facts), others (mem).
LADDER_6 = [4.46, 7.07, 11.2, 17.8, 28.2, 44.6, 70.7, 112.0]


@pytest.mark.parametrize(
    ("group", "support", "quantity", "a_b", "b_c", "c_d"),
    [pytest.param(*row, id="lib-" + "-".join(map(str, row[:3]))) for row in TABLE_3],
)
def test_iso_20816_3_row_is_as_published(
    group: str, support: str, quantity: str, a_b: float, b_c: float, c_d: float
) -> None:
    (row,) = rows("limit_rows", limit_set=ISO_3, group=group, support=support, quantity=quantity)
    assert (row["lower"], row["middle"], row["upper"]) == (a_b, b_c, c_d)
    assert (row["detector"], row["confidence"], row["verified"]) == ("rms", "V1", True)


def test_iso_20816_3_has_no_other_row() -> None:
    # Groups 3 and 4 (pumps) stand in the withdrawn 1998 edition only.
    assert len(rows("limit_rows", limit_set=ISO_3)) == len(TABLE_3)


@pytest.mark.parametrize(
    ("group", "support", "quantity", "a_b", "b_c", "c_d", "confidence"),
    [
        pytest.param(*row, id=("facts-" if row[6] == "V2" else "mem-") + "-".join(row[:3]))
        for row in TABLE_1998
    ],
)
def test_groups_3_and_4_of_1998(
    group: str, support: str, quantity: str, a_b: float, b_c: float, c_d: float, confidence: str
) -> None:
    (row,) = rows(
        "limit_rows",
        limit_set="iso-10816-3-1998",
        group=group,
        support=support,
        quantity=quantity,
    )
    assert (row["lower"], row["middle"], row["upper"]) == (a_b, b_c, c_d)
    assert (row["confidence"], row["verified"]) == (confidence, False)


@pytest.mark.parametrize("group", TABLE_7, ids=lambda group: f"din-{group}")
def test_iso_10816_7_row_is_as_printed(group: str) -> None:
    expected = TABLE_7[group]
    for support in ("rigid", "flexible"):  # Part 7 knows no split
        (row,) = rows(
            "limit_rows", limit_set=ISO_7, group=group, support=support, quantity="velocity"
        )
        names = ("lower", "middle", "upper", "alarm_setting", "trip_setting")
        assert tuple(row[key] for key in names) == expected[:5]
    places = [(p, r) for p in ("in-situ", "factory") for r in ("preferred", "allowable")]
    for (place, region), value in zip(places, expected[5:], strict=True):
        (row,) = rows(
            "limit_acceptance",
            limit_set=ISO_7,
            group=group,
            place=place,
            operating_region=region,
            quantity="velocity",
        )
        assert row["value"] == value


@pytest.mark.parametrize("group", TABLE_7, ids=lambda group: f"din-{group}")
def test_iso_10816_7_low_speed_displacement_is_as_printed(group: str) -> None:
    found = rows("limit_rows", limit_set=ISO_7, group=group, quantity="displacement")
    for row in found:
        names = ("lower", "middle", "upper", "alarm_setting", "trip_setting")
        assert tuple(row[key] for key in names) == (50, 80, 130, 100, 160)
        assert (row["detector"], row["unit"], row["speed_up_to"]) == ("peak-to-peak", "um", 600)
    assert len(found) == 2


def test_printed_alarm_and_trip_are_not_recomputed() -> None:
    # din: 1.25 x 5.0 = 6.25, printed 6.3; 1.25 x 9.5 = 11.875, printed 11.9
    (row,) = rows(
        "limit_rows",
        limit_set=ISO_7,
        group="category-I-over-200-kW",
        support="rigid",
        quantity="velocity",
    )
    assert row["alarm_setting"] != pytest.approx(1.25 * row["middle"], abs=1e-9)


@pytest.mark.parametrize("group", TABLE_HI, ids=lambda group: f"arrays-{group}")
def test_hi_field_and_factory_values(group: str) -> None:
    *values, field_in_s = TABLE_HI[group]
    assert round(field_in_s * 25.4, 1) == values[0], "0.15 in/s is 3.8 mm/s rms"
    por = boundaries(limit_set=HI, group=group, support="rigid", quantity="velocity")
    assert por == (None, values[0], None), "one acceptance value, no zones"
    places = [(p, r) for p in ("in-situ", "factory") for r in ("preferred", "allowable")]
    for (place, region), value in zip(places, values, strict=True):
        (row,) = rows(
            "limit_acceptance",
            limit_set=HI,
            group=group,
            place=place,
            operating_region=region,
            quantity="velocity",
        )
        assert (row["value"], row["confidence"]) == (value, "V2")
    assert values[1] == pytest.approx(1.3 * values[0], abs=0.05)  # own: AOR = 1.3 x POR, rounded


@pytest.mark.parametrize(
    ("group", "value"),
    [
        ("solids-handling-up-to-200-kW", 5.1),
        ("solids-handling-over-200-kW", 6.1),
        ("slurry-up-to-200-kW", 6.4),
        ("slurry-over-200-kW", 7.1),
    ],
)
def test_hi_mem_values_say_so(group: str, value: float) -> None:
    (row,) = rows("limit_rows", limit_set=HI, group=group, support="rigid", quantity="velocity")
    assert (row["middle"], row["confidence"], row["verified"]) == (value, "M", False)


def test_hi_low_speed_displacement() -> None:
    # hi: POR field 80, AOR field 100, POR factory 100, AOR factory 125 um peak to peak
    found = rows("limit_acceptance", limit_set=HI, quantity="displacement",
                 group="horizontal-up-to-200-kW")  # fmt: skip
    values = {(row["place"], row["operating_region"]): row["value"] for row in found}
    assert values == {
        ("in-situ", "preferred"): 80,
        ("in-situ", "allowable"): 100,
        ("factory", "preferred"): 100,
        ("factory", "allowable"): 125,
    }
    # hi: + 50 for solids handling, + 100 for slurry
    for kind, value in (("horizontal", 80), ("solids-handling", 130), ("slurry", 180)):
        (row,) = rows("limit_rows", limit_set=HI, quantity="displacement", support="rigid",
                      group=f"{kind}-up-to-200-kW")  # fmt: skip
        assert (row["middle"], row["detector"], row["speed_up_to"]) == (value, "peak-to-peak", 600)


@pytest.mark.parametrize(
    ("category", "support"), TABLE_FANS, ids=lambda part: f"mem-{part}" if "B" in part else part
)
def test_iso_14694_row(category: str, support: str) -> None:
    rms, peak = TABLE_FANS[category, support]
    (row,) = rows("limit_rows", limit_set=FANS, group=category, support=support)
    assert (row["lower"], row["middle"], row["upper"]) == rms
    assert (row["peak_lower"], row["peak_middle"], row["peak_upper"]) == peak
    assert (row["confidence"], row["verified"]) == ("M", False)


def test_disputed_fan_values_are_marked_with_both() -> None:
    disputed = rows("limit_rows", limit_set=FANS, disputed=True)
    found = {(row["group"], row["support"]): row["note"] for row in disputed}
    assert found.keys() == {("BV-4", "flexible"), ("BV-5", "rigid"), ("BV-5", "flexible")}
    for key, both in ((("BV-4", "flexible"), ("4.5", "3.5")), (("BV-5", "rigid"), ("4.0", "2.8")),
                      (("BV-5", "flexible"), ("5.6", "4.5"))):  # fmt: skip
        assert all(value in found[key] for value in both)


def test_the_peak_column_of_fans_is_not_sqrt_2_of_its_rms() -> None:
    (row,) = rows("limit_rows", limit_set=FANS, group="BV-2", support="rigid")
    assert row["peak_lower"] == 7.6  # 0.30 in/s
    assert row["lower"] * 2**0.5 == pytest.approx(7.92, abs=0.005)


@pytest.mark.parametrize(("group", "mounting"), TABLE_IEC, ids=lambda part: f"iec-{part}")
def test_iec_60034_14_is_for_information(group: str, mounting: str) -> None:
    found = rows("limit_acceptance", limit_set="iec-60034-14-2018", group=group, mounting=mounting)
    values = {row["quantity"]: row["value"] for row in found}
    displacement, velocity, acceleration = TABLE_IEC[group, mounting]
    expected = {
        "displacement": displacement, "velocity": velocity, "acceleration": acceleration
    }  # fmt: skip
    assert values == expected
    assert {row["place"] for row in found} == {"factory"}


def test_api_610_is_for_information() -> None:
    found = rows("limit_acceptance", limit_set="api-610", quantity="velocity")
    values = {(row["group"], row["operating_region"]): row["value"] for row in found}
    assert values == {
        ("horizontal", "preferred"): 3.0,
        ("horizontal", "allowable"): 3.9,
        ("vertical", "preferred"): 5.0,
    }


def test_factory_values_are_never_limits_in_service() -> None:
    used = {row["limit_set"] for row in rows("limit_rows")}
    for name in ("iec-60034-14-2018", "api-610"):
        (row,) = rows("limit_sets", limit_set=name)
        assert (row["in_service"], row["precedence"], name in used) == (False, None, False)


@pytest.mark.parametrize(
    ("group", "support", "a_b", "b_c", "c_d"),
    [pytest.param(*row, id=f"meter-{row[0]}-{row[1]}") for row in TABLE_1],
)
def test_general_classes(group: str, support: str, a_b: float, b_c: float, c_d: float) -> None:
    found = boundaries(limit_set="iso-10816-1-1995", group=group, support=support)
    assert found == (a_b, b_c, c_d)


@pytest.mark.parametrize("part", TABLE_8, ids=lambda part: f"book-{part}")
def test_reciprocating_compressor_parts(part: str) -> None:
    b_c, c_d = TABLE_8[part]
    (row,) = rows("limit_rows", limit_set="iso-20816-8-2018", part=part, support="rigid")
    assert (row["middle"], row["upper"], row["confidence"]) == (b_c, c_d, "V1")
    assert c_d == pytest.approx(1.5 * b_c)  # own
    assert row["lower"] == pytest.approx(b_c / 1.5, abs=0.05)  # mem, own: consistent with itself
    assert row["lower_confidence"] == "M"


@pytest.mark.parametrize("number", range(1, 8), ids=lambda n: f"class-{n}")
def test_reciprocating_machine_classes(number: int) -> None:
    (row,) = rows(
        "limit_rows", limit_set="iso-10816-6-1995", group=f"class-{number}", support="rigid"
    )
    expected = (None, LADDER_6[number - 1], LADDER_6[number])
    assert (row["lower"], row["middle"], row["upper"]) == expected
    assert row["confidence"] == ("V2" if number in (3, 4, 5) else "M")
    assert expected[1] == pytest.approx(4.46 * 10 ** (0.2 * (number - 1)), rel=0.01)  # own


def test_hydro_sets() -> None:
    # facts: groups 1 and 3 1.6/2.5/4.0 mm/s and 30/50/80 um; group 2 2.5/4.0/6.4 mm/s
    hydro = {"limit_set": "iso-10816-5-2000", "support": "rigid"}
    assert boundaries(**hydro, group="groups-1-and-3", quantity="velocity") == (1.6, 2.5, 4.0)
    assert boundaries(**hydro, group="groups-1-and-3", quantity="displacement") == (30, 50, 80)
    assert boundaries(**hydro, group="group-2") == (2.5, 4.0, 6.4)


def test_temperature_profile() -> None:
    # common practice: + 15 K watch, + 28 K alert over the own baseline; 82 and 93 Cel
    thermal = {"limit_set": "temperature-common-practice", "support": "rigid"}
    assert boundaries(**thermal, reference="baseline") == (15, 28, None)
    assert boundaries(**thermal, reference="absolute") == (82, 93, None)
    assert {row["unit"] for row in rows("limit_rows", quantity="temperature")} == {"K", "Cel"}


@pytest.mark.parametrize(("fahrenheit", "kelvin"), [(50, 27.78), (27, 15.0), (50.4, 28.0)])
def test_a_difference_of_temperatures_has_no_offset_of_32(fahrenheit: float, kelvin: float) -> None:
    unit = UNITS["temperature", "[degF]"]
    assert to_canonical(fahrenheit, unit, is_difference=True) == pytest.approx(kelvin, abs=0.005)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(180, 82.22), (200, 93.33), (250, 121.11)])
def test_a_temperature_has_it(fahrenheit: float, celsius: float) -> None:
    found = to_canonical(fahrenheit, UNITS["temperature", "[degF]"])
    assert found == pytest.approx(celsius, abs=0.005)


def test_crossover_of_velocity_and_displacement() -> None:
    # own: group 1 at 12.56 Hz, group 2 at 9.90 Hz: below, displacement is the stricter
    for group, hertz in (("group-1", 12.56), ("group-2", 9.90)):
        where = {"limit_set": ISO_3, "group": group, "support": "rigid"}
        velocity = boundaries(**where, quantity="velocity")[1]
        displacement = boundaries(**where, quantity="displacement")[1]
        assert velocity is not None
        assert displacement is not None
        found = velocity * 1000 / (2 * 3.141592653589793 * displacement)
        assert found == pytest.approx(hertz, abs=0.01)
