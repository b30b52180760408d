"""What the cells of a column prove, and what is then made of each of them. All data are constructed."""

from __future__ import annotations

from typing import Any

import pytest

from bevelbook.declare.fields import field_of
from bevelbook.notes.cells import SheetNumber
from bevelbook.notes.columns import Cells, Evidence, Fault, Settled, UndecidedError, settle, unsettled
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.reading import Options
from bevelbook.records.track import Run

OPTIONS = Options(today="2026-05-04")


def seen(name: str, *cells: str, unit: str | None = "", options: Options = OPTIONS) -> Evidence:
    """What a column of a note proves by these cells."""
    evidence = Evidence(BY_NAME[name], unit, options)
    evidence.look(cells)
    return evidence


def settled(**evidence: Evidence) -> tuple[dict[str, Settled], list[str]]:
    return settle(evidence)


def value(name: str, cell: str, found: Settled = Settled(), **more: Any) -> Any:  # noqa: B008
    return Cells(BY_NAME[name], found, OPTIONS, more.pop("words", {}), more.pop("allow", False))[cell]


# The decimal mark


def test_one_proof_settles_the_mark_of_every_column_of_numbers() -> None:
    found, warnings = settled(
        dry_mass_g=seen("dry_mass_g", "9,52"), viscosity_cst=seen("viscosity_cst", "100.000"), date=seen("date")
    )
    assert (found["dry_mass_g"].decimal, found["viscosity_cst"].decimal, found["date"].decimal) == (",", ",", None)
    assert warnings == []
    assert value("viscosity_cst", "100.000", found["viscosity_cst"]) == 100_000


def test_both_marks_proven_settle_nothing_and_that_is_said() -> None:
    found, warnings = settled(dry_mass_g=seen("dry_mass_g", "9,52"), oil_mass_g=seen("oil_mass_g", "1.52"))
    assert (found["dry_mass_g"].decimal, warnings) == (None, ["mixed_decimal_marks"])


def test_a_mark_that_alone_keeps_all_values_sane_is_taken_with_a_warning() -> None:
    found, warnings = settled(dry_mass_g=seen("dry_mass_g", "21,500", "9,600"))
    assert (found["dry_mass_g"].decimal, warnings) == (",", ["decimal_mark_by_plausibility:dry_mass_g=,"])
    found, warnings = settled(dry_mass_g=seen("dry_mass_g", "21.500"))
    assert (found["dry_mass_g"].decimal, warnings) == (".", ["decimal_mark_by_plausibility:dry_mass_g=."])


def test_where_both_marks_or_neither_keep_the_values_sane_none_is_taken() -> None:
    assert settled(viscosity_cst=seen("viscosity_cst", "100.000"))[0]["viscosity_cst"].decimal is None
    assert settled(dry_mass_g=seen("dry_mass_g", "950,000"))[0]["dry_mass_g"].decimal is None
    assert settled(dry_mass_g=seen("dry_mass_g", "21500 mg"))[0]["dry_mass_g"].decimal is None


def test_an_option_goes_before_what_the_cells_prove() -> None:
    comma = OPTIONS._replace(decimal=",")
    assert settled(dry_mass_g=seen("dry_mass_g", "9.52", options=comma))[0]["dry_mass_g"].decimal == ","


def test_a_number_of_a_workbook_proves_nothing() -> None:
    assert seen("dry_mass_g", SheetNumber("9.52")).proofs == set()
    assert seen("dry_mass_g", "9.52").proofs == {"."}


def test_cells_that_cannot_be_read_prove_nothing_and_stop_nothing() -> None:
    assert seen("dry_mass_g", "abc", "9,52", "1,500,0").proofs == {","}


@pytest.mark.parametrize(
    ("cells", "mark", "decimals"),
    [
        (("9.5", "9.52"), ".", 2),
        (("9.5214 g", "9.5"), ".", 4),
        (("9521.25 mg",), ".", 0),
        (("9",), None, 0),
        ((), None, 0),
        (("9.5x",), None, 0),
        # three decimals may be a group of thousands until the mark is settled
        (("9.521",), ".", 3),
        (("9.521",), ",", 0),
        (("9.521",), None, 0),
        (("9,521", "9.5"), ",", 3),
        (("1,000.25",), ".", 2),
        # both marks are proven: each cell goes by its own
        (("9,52", "9.5214", "9.521"), None, 4),
        # what a workbook holds as a number needs no mark, and its noise is not a digit
        ((SheetNumber("9.52"),), None, 2),
        ((SheetNumber("14.260000000000002"),), ",", 2),
        ((SheetNumber("14"),), None, 0),
    ],
)
def test_the_most_decimals_of_a_mass_in_grams_are_the_step_of_the_scale(
    cells: tuple[str, ...], mark: str | None, decimals: int
) -> None:
    assert seen("dry_mass_g", *cells).decimals_under(mark) == decimals


# The order of dates


def test_a_day_above_twelve_proves_the_order_of_its_column() -> None:
    found, warnings = settled(date=seen("date", "03/02/2024", "14/02/2024"))
    assert (found["date"].date_order, warnings) == ("dmy", [])
    assert value("date", "03/02/2024", found["date"]) == "2024-02-03"


def test_both_orders_proven_settle_nothing_and_that_is_said() -> None:
    found, warnings = settled(date=seen("date", "14/02/2024", "02/14/2024"))
    assert (found["date"].date_order, warnings) == (None, ["mixed_date_orders"])
    fault = value("date", "03/02/2024", found["date"])
    assert (fault.reason, fault.column, fault.value) == ("ambiguous_date", "date", "03/02/2024")


def test_an_order_by_option_goes_before_what_the_cells_prove() -> None:
    found, _ = settled(date=seen("date", "14/02/2024", unit=None, options=OPTIONS._replace(date_order="mdy")))
    assert found["date"].date_order == "mdy"


# Temperatures without a unit


@pytest.mark.parametrize(
    ("cells", "unit", "unknown", "warnings"),
    [
        (("24", "31"), "", False, ["unit_assumed:track_temp_c=C"]),
        (("-20", "65"), "", False, ["unit_assumed:track_temp_c=C"]),
        (("75", "104"), "°F", False, ["unit_by_plausibility:track_temp_c=F"]),
        (("20", "66"), "°F", False, ["unit_by_plausibility:track_temp_c=F"]),
        (("-20", "150"), "", True, []),
        (("900",), "", True, []),
        (("24 °C", "900 K"), "", False, []),
    ],
)
def test_a_column_of_temperatures_without_a_unit(
    cells: tuple[str, ...], unit: str, unknown: bool, warnings: list[str]
) -> None:
    found, said = settled(track_temp_c=seen("track_temp_c", *cells, unit=None))
    assert (found["track_temp_c"].unit, bool(found["track_temp_c"].unit_unknown), said) == (unit, unknown, warnings)


def test_a_unit_that_is_said_is_kept() -> None:
    assert settled(track_temp_c=seen("track_temp_c", "150", unit="K"))[0]["track_temp_c"].unit == "K"
    fahrenheit = OPTIONS._replace(temperature_unit="F")
    found, _ = settled(track_temp_c=seen("track_temp_c", "20", unit=None, options=fahrenheit))
    assert found["track_temp_c"].unit == "°F"
    found, _ = settled(dry_mass_g=seen("dry_mass_g", "20", unit=None, options=fahrenheit))
    assert found["dry_mass_g"].unit is None


def test_where_no_unit_fits_a_bare_temperature_is_refused_and_one_with_its_unit_is_taken() -> None:
    found = Settled(unit="", unit_unknown="no unit here")
    assert value("track_temp_c", "900", found).reason == "temp_unit_unknown"
    assert value("track_temp_c", "24 °C", found) == 24


# Before anything was seen


def test_a_column_of_bare_temperatures_has_to_be_seen_as_a_whole_first() -> None:
    track = BY_NAME["track_temp_c"]
    assert unsettled({"track_temp_c": Evidence(track, None, OPTIONS)}) is None
    found = unsettled({"track_temp_c": Evidence(track, None, OPTIONS._replace(temperature_unit="K"))})
    assert found == {"track_temp_c": Settled(None, None, "K", certain=False)}
    comma = Evidence(BY_NAME["dry_mass_g"], None, OPTIONS._replace(decimal=","))
    assert unsettled({"dry_mass_g": comma}) == {"dry_mass_g": Settled(",", None, None, certain=False)}


@pytest.mark.parametrize(("name", "cell"), [("viscosity_cst", "100.000"), ("date", "03/02/2024")])
def test_a_cell_with_two_readings_waits_for_the_rest_of_its_column(name: str, cell: str) -> None:
    with pytest.raises(UndecidedError):
        value(name, cell, Settled(certain=False))
    assert isinstance(value(name, cell), Fault)


# Cells


def test_the_sane_range_holds_at_its_bounds_and_may_be_left_by_option() -> None:
    low, high = BY_NAME["dry_mass_g"].plausible or (0, 0)
    assert (value("dry_mass_g", f"{low:g}"), value("dry_mass_g", f"{high:g}")) == (low, high)
    for cell in (f"{low * 0.9:g}", f"{high * 1.1:g}"):
        assert value("dry_mass_g", cell).reason == "out_of_range"
        cells = Cells(BY_NAME["dry_mass_g"], Settled(), OPTIONS, {}, True)
        assert (cells[cell], cells.findings[cell], cells.faulty) == (float(cell), ("implausible",), False)
    assert value("dry_mass_g", "-1", allow=True).reason == "out_of_range", "a physical bound holds all the same"


def test_typed_numbers_and_days_are_taken_as_they_are() -> None:
    assert value("viscosity_cst", SheetNumber("100.5")) == 100.5
    assert value("dry_mass_g", SheetNumber("9.5"), Settled(unit="mg")).reason == "out_of_range", "9.5 mg"
    assert value("result_note", SheetNumber("12")) == "12"
    assert value("date", SheetNumber("45336")) == "2024-02-14"


def test_a_day_says_what_it_leaves_out_and_today_is_the_last_one() -> None:
    cells = Cells(BY_NAME["date"], Settled(), OPTIONS, {}, False)
    assert (cells["2026-05-04"], cells["2024-02-14 18:30"]) == ("2026-05-04", "2024-02-14")
    assert cells.findings == {"2024-02-14 18:30": ("time_dropped",)}
    assert cells["2026-05-05"].reason == "future_date"  # type: ignore[attr-defined]


def test_what_is_needed_and_missing_is_a_fault() -> None:
    assert value("date", "-").reason == "missing_required"
    assert value("diff", "").reason == "missing_required"
    assert value("dry_mass_g", "-") is None


def test_words_of_the_team_go_before_those_that_are_kept() -> None:
    assert value("grip", " Grippy ", words={"grippy": "high"}) == "high"
    assert value("grip", "medium", words={"medium": "low"}) == "low"
    fault = value("grip", "grippy")
    assert fault.reason == "grip_unknown"
    assert 'words: {grip: {"grippy": ...}}' in fault.words, "it may mean any of them"
    assert 'words: {grip: {"meduim": "medium"}}' in value("grip", "meduim").words
    assert value("grip", "#N/A").reason == "spreadsheet_error"


def test_a_control_character_is_refused_in_every_kind_of_cell() -> None:
    for name in ("date", "diff", "dry_mass_g", "grip"):
        assert value(name, "1\x07").reason == "control_character"


def test_each_spelling_is_read_once_unless_it_is_long() -> None:
    cells = Cells(BY_NAME["result_note"], Settled(), OPTIONS, {}, False)
    short, long = "a" * 60, "b" * 61
    assert (cells[short], cells[long]) == (short, long)
    assert (short in cells, long in cells) == (True, False)


@pytest.mark.parametrize(
    ("cell", "found"),
    [("6", 6), ("6.0", 6), ("", None), ("6.5", "number_unparseable"), ("six", "number_unparseable")],
)
def test_a_column_of_whole_numbers_takes_no_others(cell: str, found: int | str | None) -> None:
    """No column of a note has whole numbers yet: the place of a run in its day, as its record declares it."""
    cells = Cells(field_of(Run, "day_order"), Settled(), OPTIONS, {}, False)
    value = cells[cell]
    assert (value.reason if isinstance(value, Fault) else value) == found
    assert type(value) is not float


def test_a_number_of_a_workbook_does_not_end_the_look_at_its_column() -> None:
    cells = [SheetNumber(str(number)) for number in range(20)]
    assert seen("dry_mass_g", *cells, "21,5").proofs == {","}


def test_a_unit_by_option_is_known() -> None:
    fahrenheit = OPTIONS._replace(temperature_unit="F")
    found, warnings = settled(track_temp_c=seen("track_temp_c", "900", "-900", unit=None, options=fahrenheit))
    assert (found["track_temp_c"].unit, bool(found["track_temp_c"].unit_unknown), warnings) == ("°F", False, [])


@pytest.mark.parametrize("name", ["\ufb00-1", "\uff21", "\U0001f3ce one", "\ue001x"])
def test_a_name_may_begin_with_a_sign_behind_the_mark_of_typed_numbers(name: str) -> None:
    assert value("diff", name) == name


# Names


@pytest.mark.parametrize("name", ["2024-02-03", "03.Feb", "3-Feb-24", "03.02.2024", "2024-02-03 00:00:00", "3. feb"])
def test_a_day_in_place_of_a_name_is_refused_in_a_text_file_too(name: str) -> None:
    found = Cells(BY_NAME["diff"], Settled(), OPTIONS, {}, False)[name]
    assert isinstance(found, Fault)
    assert (found.reason, found.column) == ("date_in_label", "diff")


@pytest.mark.parametrize("name", ["3-2", "1/2", "1-2-3", "2024", "3-Max", "Jan-02", "24-02-03", "2024-13-01", "5.Gen"])
def test_a_name_that_is_only_like_a_day_is_a_name(name: str) -> None:
    assert Cells(BY_NAME["diff"], Settled(), OPTIONS, {}, False)[name] == name


def test_the_months_of_a_profile_count_for_a_day_in_place_of_a_name() -> None:
    found = Cells(BY_NAME["diff"], Settled(), OPTIONS._replace(months={"mär": 3}), {}, False)["03. Mär"]
    assert isinstance(found, Fault)
