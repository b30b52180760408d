"""Numbers at their bounds: grouping, marks, exponents, units and what is sane. All data are constructed."""

from __future__ import annotations

import math

import pytest

from bevelbook.declare.fields import LARGEST, SMALLEST, Field, choice, field_of, listing, quantity, record, text, whole
from bevelbook.reading import (
    BY_HAND,
    Measured,
    Options,
    ReadingError,
    implausible,
    read,
    read_listing_values,
    read_measured,
    read_text,
)
from bevelbook.reading.faults import has_control_character, trimmed
from bevelbook.reading.numbers import check_bounds, parts_of, plain_value, surely_within
from bevelbook.records.track import Run, RunDiff


@record
class Item:
    runs: float = quantity("runs", "Runs", minimum=0)
    mass_g: float = quantity("g", "Reading", minimum=0)
    where: str | None = text("Where", default=None)


@record
class Sheet:
    any_mass_g: float | None = quantity("g", "Any mass", default=None)
    sane_mass_g: float | None = quantity("g", "Sane mass", default=None, plausible=(0.5, 100))
    runs: float | None = quantity("runs", "Runs", default=None, minimum=0)
    floor_mm: float | None = quantity("mm", "Floor", default=None, minimum=2)
    ceiling_mm: float | None = quantity("mm", "Ceiling", default=None, maximum=9)
    above_mm: float | None = quantity("mm", "Above", default=None, above=2)
    below_mm: float | None = quantity("mm", "Below", default=None, below=9)
    viscosity_cst: float | None = quantity("cSt", "Viscosity", default=None, above=0, plausible=(50, 2_000_000))
    at_least_cst: float | None = quantity("cSt", "Viscosity with a bound", default=None, minimum=2, maximum=9_000)
    track_temp_c: float | None = quantity("°C", "Track", default=None, plausible=(-20, 90))
    expansion_per_k: float | None = quantity("1/K", "Expansion", default=None)
    share: float | None = quantity("1", "Share", default=None, plausible=(0.1, 0.9))
    screws: int | None = whole("Screws", default=None, minimum=2, maximum=32)
    big: int | None = whole("Big", default=None)
    grip: str | None = choice(("low", "medium", "high"), "Grip", default=None)
    size: str | None = choice(("m", "xl", "on road"), "Size", default=None)
    colour: str | None = choice(("red", "blue"), "Colour", default=None)
    needed: str = text("Needed")
    items: tuple[Item, ...] = listing(Item, "Items", default=(), singular="item")


def field(name: str) -> Field:
    return field_of(Sheet, name)


def refused(name: str, value: str, options: Options = Options()) -> ReadingError:  # noqa: B008
    with pytest.raises(ReadingError) as caught:
        read(field(name), value, options)
    return caught.value


# Grouping and marks: groups of three digits behind a first of one to three that does not start with 0


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("1,000.5", 1000.5),
        ("1.000,5", 1000.5),
        ("12,345,678", 12_345_678.0),
        ("123.456.789", 123_456_789.0),
        ("7 000,5", 7000.5),
        ("7 000.5", 7000.5),
        ("7 000 000", 7_000_000.0),
        ("123 456", 123_456.0),
        ("7\u2009000", 7000.0),
        ("1,000,000.", 1_000_000.0),
        ("7 000.", 7000.0),
        ("5.", 5.0),
        ("0,500", 0.5),
        ("0.500", 0.5),
        ("1234.567", 1234.567),
        ("1234,567", 1234.567),
        ("1,5", 1.5),
        (",5", 0.5),
        ("12.3456", 12.3456),
        ("12.34", 12.34),
        ("-9.5", -9.5),
        ("-1,000.25", -1000.25),
        ("+1.000,25", 1000.25),
        ("0.001", 0.001),
    ],
)
def test_a_number_with_one_reading(value: str, expected: float) -> None:
    assert read(field("any_mass_g"), value) == expected


@pytest.mark.parametrize("digits", ["1.2345678901234567", "17767.101473000668", "8.41", "0.1", "9007199254740993"])
@pytest.mark.parametrize("power", [-9, -2, 1, 3, 7])
def test_a_power_of_ten_costs_no_digit(digits: str, power: int) -> None:
    """Python's own reading of the same digits is the reference."""
    text = f"{digits}e{power}"
    parts = parts_of(field("any_mass_g"), text)
    assert parts is not None
    assert parts.point == float(text)
    thousands = parts_of(field("viscosity_cst"), f"{digits}k")
    assert thousands is not None
    assert thousands.point == float(f"{digits}e3")


@pytest.mark.parametrize("value", ["1 " + "234 " * 150 + "567.5", "1e-400", "0." + "0" * 400 + "1", "1" * 5000])
def test_a_number_out_of_reach_is_refused_and_neither_a_zero_nor_endless(value: str) -> None:
    assert refused("any_mass_g", value).code == "out_of_range"


def test_a_no_break_blank_may_stand_before_a_unit_that_begins_with_one() -> None:
    assert read(field("expansion_per_k"), "0.0009\u00a01/K") == 0.0009


@pytest.mark.parametrize("value", ["−", "‐", "---", "??", "？", "—", "NULL", '="n/a"'])
def test_signs_that_stand_for_nothing_are_no_value(value: str) -> None:
    assert [read(field(name), value) for name in ("any_mass_g", "big", "size")] == [None, None, None]


@pytest.mark.parametrize(
    "value",
    [
        "12,34.5",
        "1,0000.5",
        "1,000.5.1",
        "1.000,5,1",
        "1.2.3",
        "0,000,000",
        "1234,567,890",
        "1,234,56",
        ",500,000",
        "7 0000",
        "7000 000",
        "0 500",
        "7'000 000",
        "7 000.5.5",
        "7 000,5.5",
        "7 000.5 5",
        ".",
        ",",
        "'5",
        "--5",
        "5 /",
        "5 (",
    ],
)
def test_digits_that_are_not_grouped_by_three_are_no_number(value: str) -> None:
    assert refused("any_mass_g", value).code == "number_unparseable"


@pytest.mark.parametrize(
    ("value", "point", "comma", "proof"),
    [
        ("1,500", 1500.0, 1.5, None),
        ("1.500", 1.5, 1500.0, None),
        ("1.50", 1.5, None, "."),
        ("1,50", None, 1.5, ","),
        ("5.", 5.0, None, None),
        ("1.000.000", None, 1_000_000.0, ","),
        ("1,000,000", 1_000_000.0, None, "."),
        ("1,000.5", 1000.5, None, "."),
        ("1.000,5", None, 1000.5, ","),
        ("7 000", 7000.0, 7000.0, None),
        ("7 000,5", None, 7000.5, ","),
        ("7 000.5", 7000.5, None, "."),
        ("12", 12.0, 12.0, None),
    ],
)
def test_what_a_number_is_under_either_mark_and_which_it_proves(
    value: str, point: float | None, comma: float | None, proof: str | None
) -> None:
    parts = parts_of(field("any_mass_g"), value)
    assert parts is not None
    assert (parts.point, parts.comma, parts.proof, parts.unit) == (point, comma, proof, "")
    assert parts.ambiguous == (point is not None and comma is not None and point != comma)


def test_a_count_of_runs_that_may_be_1500_or_one_and_a_half_is_refused_as_unclear() -> None:
    fault = refused("runs", "1,500")
    assert fault.code == "ambiguous_number"
    assert fault.remedy == "Write it as 1500 or 1.5."
    assert read(field("runs"), "1,500", Options(decimal=",")) == 1.5
    assert read(field("runs"), "1,500", Options(decimal=".")) == 1500


def test_a_range_of_sane_values_that_leaves_one_reading_settles_it() -> None:
    assert read(field("sane_mass_g"), "21.500") == 21.5
    assert read(field("sane_mass_g"), "100,000") == 100.0, "the bound itself is sane"
    assert refused("sane_mass_g", "101,000").code == "ambiguous_number", "neither is sane"
    assert read(field("floor_mm"), "1,500") == 1500, "1.5 is under the bound"
    assert read(field("ceiling_mm"), "1,500") == 1.5
    assert refused("any_mass_g", "1,500").code == "ambiguous_number"


def test_by_hand_a_dot_is_the_decimal_mark_where_that_is_sane() -> None:
    assert read(field("any_mass_g"), "1.500", BY_HAND) == 1.5
    assert read(field("runs"), "1.500", BY_HAND) == 1.5
    fault = refused("viscosity_cst", "7.000", BY_HAND)
    assert (fault.code, fault.remedy) == ("ambiguous_number", "Write it as 7 or 7000."), "7 cSt is odd, and an oil"
    fault = refused("viscosity_cst", "7.125 cSt", BY_HAND)
    assert fault.remedy == "Write it as 7.1250 cSt or 7125 cSt."
    assert [read(field("viscosity_cst"), one, BY_HAND) for one in ("7", "7.1250", "7125", "7000")] == [
        *(7, 7.125),
        *(7125, 7000),
    ]
    assert read(field("at_least_cst"), "1.800", BY_HAND) == 1800, "by its bounds it cannot be 1.8"
    with pytest.raises(ReadingError) as caught:
        read_measured(field("viscosity_cst"), "7.000 ± 10", BY_HAND)
    assert caught.value.code == "ambiguous_number"
    assert read(field("viscosity_cst"), "100.000", BY_HAND) == 100
    assert refused("any_mass_g", "1,500", BY_HAND).code == "ambiguous_number"
    assert read(field("any_mass_g"), "1.500", Options(decimal=",", by_hand=True)) == 1500


# Signs, exponents, multipliers


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("any_mass_g", "1e0002", 100.0),
        ("any_mass_g", "1E+2", 100.0),
        ("any_mass_g", "5e−1", 0.5),
        ("any_mass_g", "5e-1 g", 0.5),
        ("any_mass_g", "-2e1", -20.0),
        ("any_mass_g", "1,5e1", 15.0),
        ("viscosity_cst", "7 k cSt", 7000.0),
        ("viscosity_cst", "7 K", 7000.0),
        ("viscosity_cst", "0.5 M", 500_000.0),
        ("viscosity_cst", "12.5k", 12_500.0),
        ("viscosity_cst", "7e3", 7000.0),
        ("expansion_per_k", "0.00092 1/K", 0.00092),
        ("expansion_per_k", "0.00092 /K", 0.00092),
        ("expansion_per_k", "0.00092/K", 0.00092),
        ("expansion_per_k", "0.00092", 0.00092),
        ("track_temp_c", "30 K", -243.15),
        ("any_mass_g", "2 g", 2.0),
        ("any_mass_g", "2 '", None),
    ],
)
def test_exponents_and_multipliers(name: str, value: str, expected: float | None) -> None:
    if expected is None:
        assert refused(name, value).code == "number_unparseable"
    else:
        assert read(field(name), value) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [
        ("any_mass_g", "1e00002", "unit_unknown"),
        ("any_mass_g", "1e", "unit_unknown"),
        ("any_mass_g", "7k", "unit_not_allowed"),
        ("viscosity_cst", "7 kg", "unit_not_allowed"),
        ("any_mass_g", "1e400", "out_of_range"),
        ("any_mass_g", "-1e400", "out_of_range"),
        ("any_mass_g", "0 1/K", "number_unparseable"),
    ],
)
def test_what_is_no_exponent_and_no_multiplier_is_a_unit(name: str, value: str, code: str) -> None:
    assert refused(name, value).code == code


# Bounds


def test_each_bound_holds_at_itself_or_just_beyond() -> None:
    assert read(field("floor_mm"), "2") == 2
    assert (refused("floor_mm", "1.9").code, refused("floor_mm", "1.9").wanted) == ("out_of_range", "at least 2 mm")
    assert read(field("ceiling_mm"), "9") == 9
    assert refused("ceiling_mm", "9.1").wanted == "at most 9 mm"
    assert read(field("above_mm"), "2.1") == 2.1
    assert refused("above_mm", "2").wanted == "more than 2 mm"
    assert read(field("below_mm"), "8.9") == 8.9
    assert refused("below_mm", "9").wanted == "less than 9 mm"


def test_no_quantity_is_larger_or_smaller_than_any_diff_has() -> None:
    assert read(field("any_mass_g"), f"{LARGEST:g}") == LARGEST
    assert refused("any_mass_g", f"{LARGEST * 1.01:g}").code == "out_of_range"
    assert refused("any_mass_g", f"{-LARGEST * 1.01:g}").code == "out_of_range"
    assert read(field("any_mass_g"), f"{SMALLEST:g}") == SMALLEST
    assert refused("any_mass_g", f"{SMALLEST * 0.9:g}").code == "out_of_range"
    assert refused("any_mass_g", f"{-SMALLEST * 0.9:g}").code == "out_of_range"
    assert read(field("any_mass_g"), "0") == 0


@pytest.mark.parametrize(("value", "expected"), [("2", 2), ("32", 32), ("4.0", 4), ("1e1", 10)])
def test_a_whole_number_may_be_written_with_a_mark(value: str, expected: int) -> None:
    found = read(field("screws"), value)
    assert (found, type(found)) == (expected, int)


@pytest.mark.parametrize(
    ("value", "code"), [("1", "out_of_range"), ("33", "out_of_range"), ("2.5", "number_unparseable")]
)
def test_a_whole_number_outside_its_bounds_or_with_a_part_is_refused(value: str, code: str) -> None:
    assert refused("screws", value).code == code


def test_a_whole_number_beyond_what_a_float_holds_exactly_is_refused() -> None:
    assert refused("big", "1000000000000000").code == "number_unparseable"
    assert refused("big", "-1000000000000000").code == "number_unparseable"


# What is not a single value


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("1.4ish", "approximate_value"),
        ("1.4+-0.1", "approximate_value"),
        ("1.4+/-0.1", "approximate_value"),
        ("1.4 g?", "approximate_value"),
        ("about 1.4", "approximate_value"),
        ("approx. 1.4", "approximate_value"),
        ("≈-1.4", "approximate_value"),
        ("~ 1.4", "approximate_value"),
        ("1.3 bis 1.4", "range_not_value"),
        ("1.3 … 1.4", "range_not_value"),
        ("1.3 - 1.4 g", "range_not_value"),
        ("1.3 – 1.4", "range_not_value"),
        ("1.3...1.4", "range_not_value"),
        ("-3 to 4", "range_not_value"),
        ("max. 1.5", "range_not_value"),
        ("at least 2", "range_not_value"),
        ("≤ 2", "range_not_value"),
        ("up to 3", "range_not_value"),
        ("max", "number_unparseable"),
        ("about", "number_unparseable"),
        ("about right", "number_unparseable"),
        ("1.4 tons", "unit_unknown"),
        ("#REF!", "spreadsheet_error"),
        ("#NAME?", "spreadsheet_error"),
        ("#N/A", "spreadsheet_error"),
        ("#VALUE!", "spreadsheet_error"),
        ("#", "spreadsheet_error"),
        ("Err:502", "spreadsheet_error"),
        ("#not a value", "number_unparseable"),
        ("=A1", "formula_in_cell"),
    ],
)
def test_a_doubt_a_range_a_bound_and_an_error_have_reasons_of_their_own(value: str, code: str) -> None:
    assert refused("any_mass_g", value).code == code


def test_what_to_write_instead_is_said_for_each_kind() -> None:
    assert refused("screws", "x").wanted == "a whole number"
    assert refused("viscosity_cst", "x").wanted == "a number such as 7000 or 7k cSt"
    assert refused("share", "x").wanted == "a number such as 0.85"
    assert refused("any_mass_g", "x").wanted == "a number such as 1.86 g"
    assert refused("any_mass_g", "max 2").wanted == "one value, a number such as 1.86 g"


# Temperatures


def test_a_temperature_without_a_unit_takes_that_of_the_option_alone() -> None:
    assert read(field("track_temp_c"), "68", Options(temperature_unit="F")) == pytest.approx(20)
    assert read(field("track_temp_c"), "68 °C", Options(temperature_unit="F")) == 68
    assert read(field("track_temp_c"), "20") == 20
    assert read(field("any_mass_g"), "20", Options(temperature_unit="F")) == 20, "a mass has no such unit"


# Uncertainties


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [
        ("any_mass_g", "9.5 +/-", "number_unparseable"),
        ("any_mass_g", "+/- 1", "number_unparseable"),
        ("any_mass_g", "9.5 +/- -0.1", "out_of_range"),
        ("floor_mm", "1 +/- 0.1", "out_of_range"),
        ("screws", "4 +/- 1", "number_unparseable"),
        ("grip", "low +/- 1", "number_unparseable"),
        ("any_mass_g", "9 +/- 1,500", "ambiguous_number"),
        ("any_mass_g", "1,500 +/- 1", "ambiguous_number"),
        ("any_mass_g", "9\x00 +/- 1", "control_character"),
    ],
)
def test_an_uncertainty_that_cannot_be_is_refused(name: str, value: str, code: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_measured(field(name), value)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("name", "value", "options", "expected"),
    [
        ("any_mass_g", "9.50 +/- 0", Options(), (9.5, 0.0)),
        ("any_mass_g", "1,500 ± 0,5", Options(), (1.5, 0.25)),
        ("any_mass_g", "9.25 ± 1.500", Options(), (9.25, 0.75)),
        ("any_mass_g", "1.500 ± 0.002", BY_HAND, (1.5, 0.001)),
        ("any_mass_g", "1,500 ± 1,000", Options(decimal=","), (1.5, 0.5)),
        ("any_mass_g", "9500 mg ± 0.1 g (k = 1)", Options(), (9.5, 0.1)),
        ("track_temp_c", "68 ± 9 (k = 1)", Options(temperature_unit="F"), (20.0, 5.0)),
        ("any_mass_g", "9.5", Options(), (9.5, None)),
    ],
)
def test_value_and_uncertainty_share_their_mark_and_unit(
    name: str, value: str, options: Options, expected: tuple[float, float | None]
) -> None:
    assert read_measured(field(name), value, options)[:2] == pytest.approx(expected)


# Items of a listing


def test_an_item_has_its_values_in_order_and_those_at_the_end_may_be_left_out() -> None:
    items = field("items")
    assert read_listing_values(items, "6:18.34 +/- 0.01:bench") == (
        {"runs": 6.0, "mass_g": 18.34, "where": "bench"},
        {"mass_g": Measured(18.34, 0.005, True)},
    )
    assert read_listing_values(items, "6:18.34") == ({"runs": 6.0, "mass_g": 18.34}, {})
    for value in ("6", "6:18:bench:more"):
        with pytest.raises(ReadingError) as caught:
            read_listing_values(items, value)
        assert caught.value.code == "listing_item_parts"
        assert caught.value.wanted == ("runs:mass, such as 6:22.34" if value == "6" else "at most runs:mass:where")
    assert read(items, "6:18.34 9:18.3") == (Item(runs=6.0, mass_g=18.34), Item(runs=9.0, mass_g=18.3))


# Sane values


def test_the_bounds_of_the_sane_range_are_sane() -> None:
    share = field("share")
    assert implausible(share, 0.1) is None
    assert implausible(share, 0.9) is None
    assert implausible(share, 0.95) == "share of 0.95 is outside 0.1 to 0.9"
    assert implausible(share, 0.05) == "share of 0.05 is outside 0.1 to 0.9"
    assert implausible(field("sane_mass_g"), 200) == "sane mass of 200 g is outside 0.5 to 100 g"
    assert implausible(share, True) is None
    assert implausible(share, "0.95") is None
    assert implausible(field("any_mass_g"), 1e9) is None


# Words


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("grip", "L", "low"),
        ("grip", "m", "medium"),
        ("grip", "mid", "medium"),
        ("grip", "h", "high"),
        ("grip", "Low.", "low"),
        ("size", "m", "m"),
        ("size", "ON-road", "on road"),
        ("size", "on_road", "on road"),
        ("size", "", None),
        ("size", "n/a", None),
        ("colour", "RED", "red"),
        ("colour", "-", None),
        ("colour", " blue\u200b", "blue"),
    ],
)
def test_a_word_is_taken_in_any_case_and_levels_by_their_first_letters(
    name: str, value: str, expected: str | None
) -> None:
    assert read(field(name), value) == expected


@pytest.mark.parametrize(("name", "value"), [("colour", "l"), ("colour", "m"), ("colour", "h"), ("colour", "bleu")])
def test_letters_of_levels_mean_nothing_where_there_are_no_levels(name: str, value: str) -> None:
    fault = refused(name, value)
    assert (fault.code, fault.wanted) == ("colour_unknown", "one of red, blue")


def test_a_word_that_is_nearly_one_of_those_taken_is_offered() -> None:
    assert "blue" in str(refused("colour", "bleu").remedy)
    assert refused("colour", "zzzzzz").remedy is None


@pytest.mark.parametrize(
    ("value", "expected"),
    [("", None), ("-", None), ("N/A", None), (" two words ", "two words"), ("--", "--"), ("\u200b-\u200b", None)],
)
def test_a_text_is_trimmed_and_may_say_nothing(value: str, expected: str | None) -> None:
    assert read_text(value) == expected


def test_what_is_needed_may_not_be_left_out() -> None:
    assert refused("needed", "-").code == "missing_required"
    assert refused("needed", "-").found == "-"
    assert refused("needed", "").found is None


def test_invisible_characters_go_from_both_ends_and_stay_inside() -> None:
    assert trimmed(" \u200b a\u200bb \ufeff ") == "a\u200bb"
    assert trimmed("\u2060") == ""


@pytest.mark.parametrize(
    ("value", "has_one"),
    [("a\tb\nc\r", False), ("a\x1fb", True), ("a\x7f", True), ("a\x9f", True), ("a\xa0b", False), ("ab", False)],
)
def test_control_characters_are_those_but_tab_and_line_break(value: str, has_one: bool) -> None:
    """C0 and C1 of ISO/IEC 6429 (codes from memory): 00 to 1F, 7F to 9F."""
    assert has_control_character(value) == has_one


# Parts of a text


@pytest.mark.parametrize("value", ["0.85 /2", "0.85 1/2", "0.85 /K"])
def test_a_slash_behind_a_number_begins_a_unit_of_one_over_kelvin_alone(value: str) -> None:
    assert refused("share", value).code == "number_unparseable"
    assert refused("any_mass_g", value).code == "number_unparseable"


@pytest.mark.parametrize(
    ("value", "point", "unit"),
    [
        ("7 kPa", 7.0, "kPa"),
        ("7 Mg", 7.0, "Mg"),
        ("7 kcSt", 7000.0, "cSt"),
        ("7 k cSt", 7000.0, "cSt"),
        ("7k", 7000.0, ""),
        ("7 M", 7_000_000.0, ""),
        ("7 m", 7.0, "m"),
    ],
)
def test_a_multiplier_of_a_viscosity_is_taken_where_its_letter_begins_no_other_unit(
    value: str, point: float, unit: str
) -> None:
    parts = parts_of(field("viscosity_cst"), value)
    assert parts is not None
    assert (parts.point, parts.comma, parts.unit) == (point, point, unit)


@pytest.mark.parametrize("value", [float("inf"), float("-inf"), float("nan")])
@pytest.mark.parametrize("name", ["any_mass_g", "floor_mm", "ceiling_mm"])
def test_what_is_not_finite_is_refused_as_that(name: str, value: float) -> None:
    with pytest.raises(ReadingError, match="not a finite number") as caught:
        check_bounds(field(name), value, "x")
    assert (caught.value.code, caught.value.wanted) == ("out_of_range", None)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_largest_and_the_smallest_are_taken_on_both_sides_of_nothing(sign: float) -> None:
    for value in (LARGEST, SMALLEST, 0.0):
        check_bounds(field("any_mass_g"), sign * value, "x")
    for value, wanted in ((LARGEST * 1.01, "at most"), (SMALLEST * 0.99, "0 or at least")):
        with pytest.raises(ReadingError) as caught:
            check_bounds(field("any_mass_g"), sign * value, "x")
        assert (caught.value.wanted or "").startswith(wanted)


@pytest.mark.parametrize(
    ("value", "found"),
    [("+7", 7.0), ("-7", -7.0), ("\u22127", -7.0), ("\u20137", -7.0), ("+7.5 g", 7.5), ("-7.5 g", -7.5)],
)
def test_a_sign_goes_before_the_digits(value: str, found: float) -> None:
    assert read(field("any_mass_g"), value) == found


@pytest.mark.parametrize("value", ["--7", "+", "- 7", ".", ",", "-.", "1.2.3", "1,2,3", "1.234,5.6"])
def test_marks_without_their_digits_are_no_number(value: str) -> None:
    assert refused("any_mass_g", value).code == "number_unparseable"


@pytest.mark.parametrize(("value", "found"), [("1e300", None), ("1e301", None), ("1e-300", None), ("2e3", 2000.0)])
def test_a_large_exponent_is_out_of_bounds(value: str, found: float | None) -> None:
    if found is None:
        assert refused("any_mass_g", value).code == "out_of_range"
    else:
        assert read(field("any_mass_g"), value) == found


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ("7", "7.0"),
        ("-7", "-7.0"),
        ("-0", "0.0"),
        ("-0.0", "0.0"),
        ("0.0", "0.0"),
        ("1.5", "1.5"),
        ("1.500", "None"),
        ("0.500", "0.5"),
        ("1234.500", "1234.5"),
        ("123.500", "None"),
        ("1.5000", "1.5"),
        (".5", "None"),
        ("5.", "None"),
        ("1,5", "None"),
        ("+7", "None"),
        ("--7", "None"),
        ("", "None"),
        ("\u0667", "None"),
    ],
)
def test_digits_with_a_point_have_one_reading_unless_three_follow_it(value: str, found: str) -> None:
    assert str(plain_value(value)) == found


@pytest.mark.parametrize("value", ["1 000.5.5", "1 000,5.5", "1 000.5 5", "1 0000.5", "1 000'000", "1 00", "0 001"])
def test_blanks_group_by_three_before_one_mark_alone(value: str) -> None:
    assert refused("any_mass_g", value).code == "number_unparseable"


@pytest.mark.parametrize("value", ["-0", "-0.0", "-0,0 g", "-0 mg"])
def test_nothing_has_no_sign(value: str) -> None:
    assert str(read(field("any_mass_g"), value)) == "0.0"


@pytest.mark.parametrize("field", [one for one in Sheet.fields if one.is_number], ids=lambda one: one.name)  # type: ignore[attr-defined]
def test_what_is_surely_within_its_bounds_passes_them(field: Field) -> None:
    fits, edges = surely_within(field), (0.0, 1.0, 2.0, 9.0, LARGEST, SMALLEST, 5e-324, math.inf, math.nan)
    for edge in edges:
        for value in (edge, -edge, math.nextafter(edge, math.inf), math.nextafter(edge, -math.inf)):
            if fits(value):
                check_bounds(field, value, "")
    assert fits(5.0)
    assert not fits(math.nan)
    assert not fits("5")


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [("1:14.9", 74.9), ("1:14,9", 74.9), ("1:14.905", 74.905), ("1:14", 74.0), ("0:15.25", 15.25), ("74.9", 74.9)],
)
def test_a_lap_is_read_as_a_timing_screen_shows_it(typed: str, seconds: float) -> None:
    """60 s a minute: 1:14.9 is 74.9 s."""
    for name in ("best_lap_s", "best_five_s"):
        for options in (BY_HAND, Options(), Options(decimal="."), Options(decimal=","), Options(unit="min")):
            if typed != "74.9":
                assert read(field_of(Run, name), typed, options) == seconds
    assert read_measured(field_of(Run, "best_lap_s"), f"{typed} ± 0.2", BY_HAND).value == seconds


@pytest.mark.parametrize(
    ("of", "typed", "said"),
    [
        ((Run, "best_lap_s"), "14:05", None),
        ((Run, "best_lap_s"), "1:61", None),
        ((Run, "best_lap_s"), "1:2:3", None),
        ((RunDiff, "after_run_s"), "9:05", "Write 545 s if minutes and seconds are meant."),
        ((Sheet, "any_mass_g"), "1:14.9", None),
    ],
)
def test_what_may_be_a_time_of_day_or_hours_is_not_read_as_minutes(
    of: tuple[type, str], typed: str, said: str | None
) -> None:
    with pytest.raises(ReadingError) as caught:
        read(field_of(*of), typed, BY_HAND)
    assert (caught.value.code, caught.value.remedy) == ("number_unparseable", said)


@pytest.mark.parametrize("value", ["1e-400", "-2.5e-400", "0.1e-999"])
def test_what_is_too_small_is_not_called_endless(value: str) -> None:
    parts = parts_of(field("any_mass_g"), value)
    assert parts is not None and parts.point is not None
    assert 0 < abs(parts.point) < SMALLEST and (parts.point < 0) == value.startswith("-")
    with pytest.raises(ReadingError) as caught:
        check_bounds(field("any_mass_g"), parts.point, value)
    assert (caught.value.wanted or "").startswith("0 or at least")
    large = parts_of(field("any_mass_g"), "1e400")
    assert large is not None and large.point == math.inf
