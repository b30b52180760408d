"""One reading for options, forms and imported cells: what is taken, and what is refused with which reason."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.declare.errors import Place
from bevelbook.declare.fields import Field, choice, date, field_of, listing, quantity, record, text, whole
from bevelbook.formulas.end_temperature import EndGiven
from bevelbook.reading import (
    BY_HAND,
    Options,
    ReadingError,
    implausible,
    read,
    read_listing_item,
    read_listing_values,
    read_measured,
)


@record
class Weighed:
    runs: float = quantity("runs", "Runs", minimum=0)
    mass_g: float = quantity("g", "Reading", minimum=0)


@record
class Sample:
    dry_mass_g: float | None = quantity("g", "Dry", default=None, minimum=0, plausible=(5, 100))
    oil_mass_g: float | None = quantity("g", "Oil", default=None, minimum=0, plausible=(0, 10))
    any_mass_g: float | None = quantity("g", "Any mass", default=None)
    viscosity_cst: float | None = quantity("cSt", "Viscosity", default=None, above=0, plausible=(50, 2_000_000))
    track_temp_c: float | None = quantity("°C", "Track", default=None)
    diff_temp_c: float | None = quantity("°C", "Diff", default=None, minimum=-60, maximum=200)
    oven_temp_c: float | None = quantity("°C", "Oven", default=None, minimum=-20, maximum=400)
    torque_nm: float | None = quantity("N·m", "Torque", default=None)
    expansion_per_k: float | None = quantity("1/K", "Expansion", default=None)
    fill_fraction: float | None = quantity("1", "Share", default=None, above=0, below=1)
    runs: float | None = quantity("runs", "Runs", default=None, minimum=0)
    screws: int | None = whole("Screws", default=None, minimum=2, maximum=32)
    grip: str | None = choice(("low", "medium", "high"), "Grip", default=None)
    place: str | None = choice(("case-side shaft", "joint"), "Place", default=None)
    day: str | None = date("Day", default=None)
    note: str | None = text("Note", default=None)
    weighings: tuple[Weighed, ...] = listing(Weighed, "Weighings", default=(), singular="weighing")
    needed_g: float = quantity("g", "Needed", minimum=0)


def field(name: str) -> Field:
    return field_of(Sample, name)


def code_of(name: str, value: str, options: Options = Options()) -> str:  # noqa: B008
    with pytest.raises(ReadingError) as caught:
        read(field(name), value, options)
    return caught.value.code


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        # Traps of a general units library, each read as a person means it.
        ("oil_mass_g", "1,5 g", 1.5),
        ("viscosity_cst", "7k cSt", 7000.0),
        ("torque_nm", "0.3 Nm", 0.3),
        ("track_temp_c", "20 °C", 20.0),
        ("track_temp_c", "68 °F", 20.0),
        ("viscosity_cst", "7000 cst", 7000.0),
        # Grouping in its usual dresses.
        ("viscosity_cst", "7,000", 7000.0),
        ("viscosity_cst", "7.000", 7000.0),
        ("viscosity_cst", "7 000", 7000.0),
        ("viscosity_cst", "7\u00a0000", 7000.0),
        ("viscosity_cst", "7\u202f000", 7000.0),
        ("viscosity_cst", "7'000", 7000.0),
        ("viscosity_cst", "7’000", 7000.0),
        ("viscosity_cst", "1.000.000", 1_000_000.0),
        ("viscosity_cst", "1,000,000.5", 1_000_000.5),
        ("viscosity_cst", "12.5k", 12_500.0),
        ("viscosity_cst", "12,5K", 12_500.0),
        ("viscosity_cst", "0.5M", 500_000.0),
        ("viscosity_cst", "7kcSt", 7000.0),
        ("viscosity_cst", "70 St", 7000.0),
        # Units, signs, bounds that leave one reading.
        ("dry_mass_g", "0,0213 kg", 21.3),
        ("dry_mass_g", "21.500", 21.5),
        ("oil_mass_g", "1,500", 1.5),
        ("oil_mass_g", "0.125", 0.125),
        ("any_mass_g", "1500.250", 1500.25),
        ("any_mass_g", ".5", 0.5),
        ("any_mass_g", "1e3", 1000.0),
        ("track_temp_c", "−3", -3.0),
        ("track_temp_c", "–3", -3.0),
        ("track_temp_c", "+21", 21.0),
        ("expansion_per_k", "9.2e-4 1/K", 9.2e-4),
        ("expansion_per_k", "920 ppm/K", 9.2e-4),
        ("fill_fraction", "85 %", 0.85),
        ("runs", "1.5 packs", 1.5),
        ("screws", "4", 4),
        ("screws", "4.0", 4),
        ("grip", "MED", "medium"),
        ("grip", "med.", "medium"),
        ("grip", "hi", "high"),
        ("place", "Case side shaft", "case-side shaft"),
        ("note", " zoe\u0308\u200b ", "zoë"),
        ("note", "NA", "NA"),
        ("note", "n/a", None),
        ("grip", "?", None),
        ("runs", "—", None),
        ("runs", "NaN", None),
    ],
)
def test_a_text_with_one_reading_is_taken(name: str, value: str, expected: object) -> None:
    found = read(field(name), value)
    assert found == (pytest.approx(expected, rel=1e-12) if isinstance(expected, float) else expected)
    assert type(found) is type(expected)


def test_minus_zero_is_zero() -> None:
    assert str(read(field("track_temp_c"), "-0.0")) == "0.0"


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [
        ("viscosity_cst", "100.000", "ambiguous_number"),
        ("any_mass_g", "1,500", "ambiguous_number"),
        ("viscosity_cst", "7000 cps", "dynamic_viscosity_needs_density"),
        ("viscosity_cst", "30 wt", "viscosity_unit_wt"),
        ("viscosity_cst", "0.5m", "unit_not_allowed"),
        ("oil_mass_g", "1.5 gr", "unit_ambiguous"),
        ("track_temp_c", "24°", "unit_ambiguous"),
        ("oil_mass_g", "1.5 ml", "unit_not_allowed"),
        ("oil_mass_g", "~1.4", "approximate_value"),
        ("oil_mass_g", "ca. 1.4", "approximate_value"),
        ("oil_mass_g", "1.4?", "approximate_value"),
        ("oil_mass_g", "1.4±0.1", "approximate_value"),
        ("oil_mass_g", "1.3-1.4", "range_not_value"),
        ("oil_mass_g", "1.3 to 1.4 g", "range_not_value"),
        ("oil_mass_g", "1.3..1.4", "range_not_value"),
        ("oil_mass_g", "<1.5", "range_not_value"),
        ("oil_mass_g", "max 1.5", "range_not_value"),
        ("oil_mass_g", "=1+0.4", "formula_in_cell"),
        ("oil_mass_g", "#DIV/0!", "spreadsheet_error"),
        ("oil_mass_g", "####", "spreadsheet_error"),
        ("grip", "#N/A", "spreadsheet_error"),
        ("oil_mass_g", "abc", "number_unparseable"),
        ("oil_mass_g", "3+2", "number_unparseable"),
        ("oil_mass_g", "1,5,0", "number_unparseable"),
        ("oil_mass_g", "7²", "number_unparseable"),
        ("oil_mass_g", "١", "number_unparseable"),
        ("oil_mass_g", "1 2", "number_unparseable"),
        ("oil_mass_g", "inf", "number_unparseable"),
        ("oil_mass_g", "1e999", "out_of_range"),
        ("oil_mass_g", "-1", "out_of_range"),
        ("fill_fraction", "1", "out_of_range"),
        ("oil_mass_g", "1\x00.5", "control_character"),
        ("screws", "4.5", "number_unparseable"),
        ("screws", "40", "out_of_range"),
        ("grip", "grippy", "grip_unknown"),
        ("needed_g", "-", "missing_required"),
        ("note", "a\x07", "control_character"),
    ],
)
def test_a_text_with_no_single_reading_is_refused_with_its_reason(name: str, value: str, code: str) -> None:
    assert code_of(name, value) == code


def test_the_decimal_mark_settles_what_is_ambiguous() -> None:
    assert read(field("viscosity_cst"), "100.000", Options(decimal=",")) == 100_000
    assert read(field("viscosity_cst"), "100.000", Options(decimal=".")) == 100


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("2024-02-14", "2024-02-14"),
        ("20240214", "2024-02-14"),
        ("2024-02-14T18:30:00+01:00", "2024-02-14"),
        ("14/02/2024", "2024-02-14"),
        ("02/14/2024", "2024-02-14"),
        ("05/05/2024", "2024-05-05"),
        ("14.2.24", "2024-02-14"),
        ("1.9.99", "1999-09-01"),
        ("14 Feb 2024", "2024-02-14"),
        ("Feb 14th, 2024", "2024-02-14"),
        ("Wed 14-Feb-24", "2024-02-14"),
        # Day numbers as in ECMA-376, Part 1, 18.17.4: 1 January 1900 is day 1, with a 29 February 1900 that never was.
        ("45292", "2024-01-01"),
        ("45336.75", "2024-02-14"),
    ],
)
def test_days_are_read_as_iso(value: str, expected: str) -> None:
    assert read(field("day"), value) == expected


def test_the_other_day_numbers_count_from_1904() -> None:
    # 43830 days after 1 January 1904 is 1 January 2024 (constructed with a calendar).
    assert read(field("day"), "43830", Options(date_base=1904)) == "2024-01-01"


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("03/02/2024", "ambiguous_date"),
        ("24-02-14", "ambiguous_date"),
        ("2024-02-30", "date_invalid"),
        ("29.02.2023", "date_invalid"),
        ("13/13/2024", "date_invalid"),
        ("31/02/2024", "date_invalid"),
        ("2099-01-01", "future_date"),
        ("14.02.68", "future_date"),
        ("Feb-24", "date_incomplete"),
        ("2024-02", "date_incomplete"),
        ("2024", "date_incomplete"),
        ("14.02.", "date_incomplete"),
        ("spring 24", "date_unparseable"),
        ("4533", "date_unparseable"),
    ],
)
def test_ambiguous_days_are_refused(value: str, code: str) -> None:
    assert code_of("day", value, Options(today="2026-05-04")) == code


def test_the_order_of_dates_settles_what_is_ambiguous() -> None:
    assert read(field("day"), "03/02/2024", Options(date_order="dmy")) == "2024-02-03"
    assert read(field("day"), "03/02/2024", Options(date_order="mdy")) == "2024-03-02"


@pytest.mark.parametrize(
    ("name", "value", "expected", "uncertainty"),
    [
        ("dry_mass_g", "9.50 +/- 0.01 g (k = 1)", 9.5, 0.01),
        ("dry_mass_g", "9.50 +/- 0.02 g (k = 2)", 9.5, 0.01),
        ("dry_mass_g", "9.50 +/- 0.02 g", 9.5, 0.01),
        ("dry_mass_g", "9.50±0.01 g (k=1)", 9.5, 0.01),
        ("dry_mass_g", "9.50 g +/- 20 mg K=2", 9.5, 0.01),
        ("dry_mass_g", "9500 +- 10 mg, k = 1", 9.5, 0.01),
        ("dry_mass_g", "9,50 ± 0,01 (k = 1,0)", 9.5, 0.01),
        ("dry_mass_g", "9.5", 9.5, None),
        ("track_temp_c", "75 ± 2 °F", (75 - 32) / 1.8, 1 / 1.8),
        ("track_temp_c", "20 °C +/- 1 K (k = 1)", 20.0, 1.0),
    ],
)
def test_a_standard_uncertainty_is_read_with_its_value(
    name: str, value: str, expected: float, uncertainty: float | None
) -> None:
    found, found_uncertainty, k_taken = read_measured(field(name), value)
    assert k_taken == (uncertainty is not None and "k" not in value.lower().replace("1 k", "1"))
    assert found == pytest.approx(expected, rel=1e-11)
    assert found_uncertainty == (None if uncertainty is None else pytest.approx(uncertainty, rel=1e-11))


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("9.5 +/- 0.1 g (k = 3)", "the k of an uncertainty is 1 or 2"),
        ("9.5 +/- 0.1 g (k = )", "the k of an uncertainty is 1 or 2"),
        ("9.5 g (k = 2)", "a k without an uncertainty before it"),
    ],
)
def test_a_k_that_says_nothing_is_refused_in_words(value: str, said: str) -> None:
    with pytest.raises(ReadingError, match=said):
        read_measured(field("dry_mass_g"), value)


@pytest.mark.parametrize("value", ["9.5 +/-", "+/- 1", "9.5 +/- -1 g", "9.5 +/- 1 mm", "9.5 +/- 1e300 g"])
def test_half_an_uncertainty_is_refused(value: str) -> None:
    with pytest.raises(ReadingError):
        read_measured(field("dry_mass_g"), value)


@pytest.mark.parametrize(
    ("value", "expected"),
    [("38 +/- 0.5 K", 38.0), ("38 ± 0.5 kelvin", 38.0), ("311.15 +/- 0.5 K", 38.0), ("311.15 K +/- 0.5 K", 38.0)],
)
def test_kelvin_behind_a_temperature_may_be_those_of_a_difference(value: str, expected: float) -> None:
    """0 °C is 273.15 K, and a difference of 1 K is one of 1 °C (The International System of Units, 9th edition, 2.3.1,
    kelvin)."""
    found, uncertainty, _ = read_measured(field("diff_temp_c"), value)
    assert (found, uncertainty) == (pytest.approx(expected), pytest.approx(0.25))
    item = read_listing_values(field_of(EndGiven, "readings"), f"120:{value}", BY_HAND)
    assert item[1]["temperature_c"] == (pytest.approx(expected), pytest.approx(0.25), True)


def test_kelvin_that_may_be_either_are_asked_about() -> None:
    with pytest.raises(ReadingError) as caught:
        read_measured(field("oven_temp_c"), "290 +/- 0.5 K")
    assert (caught.value.code, caught.value.remedy) == (
        "ambiguous_number",
        "Write 290 °C +/- ... K or 290 K +/- ... K.",
    )


def test_items_of_a_listing_are_joined_by_colons() -> None:
    assert read_listing_item(field("weighings"), "6:18.34") == Weighed(runs=6.0, mass_g=18.34)
    with pytest.raises(ReadingError, match="runs:mass"):
        read_listing_item(field("weighings"), "6")


def test_a_fault_can_be_put_at_another_place() -> None:
    with pytest.raises(ReadingError) as caught:
        read(field("dry_mass_g"), "abc")
    moved = caught.value.at(Place("scale.csv", 3, "dry"))
    assert str(moved).startswith("scale.csv, line 3, dry: not a number")
    assert moved.settled_by is caught.value.settled_by


def test_values_outside_the_sane_range_are_reported() -> None:
    assert implausible(field("dry_mass_g"), 9.5) is None
    assert implausible(field("dry_mass_g"), 950.0) == "dry mass of 950 g is outside 5 to 100 g"


NUMBERS = st.floats(0.001, 1e7).map(lambda x: float(f"{x:.9g}"))


def styles(value: float) -> dict[str, tuple[str, Options]]:
    """The same number in every style that is read."""
    plain = f"{value:f}".rstrip("0").rstrip(".") if value >= 1e-4 else repr(value)
    whole_part, _, decimals = plain.partition(".")
    grouped = f"{int(whole_part):,}"
    tail = f".{decimals}" if decimals else ""
    comma, point = Options(decimal=","), Options(decimal=".")
    found = {
        "plain": (plain, point),
        "comma": (plain.replace(".", ","), comma),
        "english": (grouped + tail, point),
        "continental": ((grouped.replace(",", "\0") + tail.replace(".", ",")).replace("\0", "."), comma),
        "exponent": (repr(value), point) if "e" in repr(value) else (f"{value!r}e0", point),
    }
    for name, space in (("blank", " "), ("no-break", "\u00a0"), ("narrow", "\u202f"), ("apostrophe", "'")):
        found[name] = (grouped.replace(",", space) + tail, point)
    return found


@given(NUMBERS, st.sampled_from(["", " g", "g", " grams"]))
def test_a_number_written_in_any_style_is_read_back_as_itself(value: float, unit: str) -> None:
    value = float(f"{value:f}".rstrip("0"))
    if value == 0:
        return
    for name, (written, options) in styles(value).items():
        assert read(field("any_mass_g"), written + unit, options) == value, name


@given(st.text(max_size=30), st.sampled_from([one.name for one in Sample.fields if one.kind != "listing"]))  # type: ignore[attr-defined]
def test_any_text_is_read_or_refused(value: str, name: str) -> None:
    try:
        read(field(name), value)
    except ReadingError as fault:
        assert fault.code


def test_plain_numbers_need_no_units_library() -> None:
    script = (
        "import sys; from bevelbook.reading import read; from bevelbook.records import BY_NAME;"
        "f = {x.name: x for x in BY_NAME['build'].fields}['dry_mass_g'];"
        "assert (read(f, '9.5'), read(f, '9.5 g')) == (9.5, 9.5);"
        "sys.exit(1 if {'pint', 'datetime', 'csv'} & set(sys.modules) else 0)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0
