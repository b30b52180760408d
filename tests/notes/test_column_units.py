"""What a sheet says of a column's unit, wherever it says it. 59 °F = 15 °C and 50 °F = 10 °C by the definition of the
scale (NIST SP 811, 2008, B.9: t/°C = (t/°F - 32)/1.8, from memory). All data are constructed.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes.cells import CellBesideUnit, SheetNumber, kept_cells, parts_of_cell
from bevelbook.notes.column_units import NOTHING_SAID, ColumnUnit, SaidUnit, unit_of_cell
from bevelbook.notes.columns_of_units import unit_columns
from bevelbook.notes.importing import import_notes
from bevelbook.notes.layout import find_heading
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import empty_database
from bevelbook.reading import ReadingError

TEMPERATURE, MASS = BY_NAME["track_temp_c"], BY_NAME["oil_mass_g"]


def imported(text: str, **said: Any) -> Report:
    settings = Settings(**said, today="2026-05-04")
    file = io.BytesIO(text.encode())
    return import_notes(file, "n.csv", empty_database(), Path(), settings, dry_run=True, want_rows=True)


def outcomes(report: Report, name: str = "track_temp_c") -> list[object]:
    """The value of each row that came in, the reason of each that did not."""
    found: list[object] = []
    for row in report.rows or []:
        values = row.get("values")
        found.append(values[name] if isinstance(values, dict) else row["reason"])
    return found


# Where a unit may be said


@pytest.mark.parametrize(
    "text",
    [
        "date,diff,track temp (°F)\n2024-04-06,a,59\n",
        "date,diff,track temp\n,,°F\n2024-04-06,a,59\n",
        ",,°F\ndate,diff,track temp\n2024-04-06,a,59\n",
        "date,diff,track temp,result note\n,,°F,free text\n2024-04-06,a,59,\n",
        "date,diff,track temp\n2024-04-06,a,59 °F\n",
        "date,diff,track temp (°C)\n2024-04-06,a,59 °F\n",
        "date,diff,track temp,track temp unit\n2024-04-06,a,59,F\n",
        "date,diff,track temp,unit of track temp\n2024-04-06,a,59,°F\n",
        "date,diff,track temp,Track_Temp Unit\n2024-04-06,a,59,degF\n",
        "date,diff,track temp unit,track temp\n2024-04-06,a,°F,59\n",
        "date,diff,track temp (°F),track temp unit\n2024-04-06,a,59,F\n",
    ],
)
def test_a_unit_counts_wherever_it_is_said(text: str) -> None:
    report = imported(text)
    assert [one for one in outcomes(report) if one not in ("units_row",)] == [15.0]
    assert not any(one.startswith(("unit_", "unknown_column")) for one in report.warnings)
    assert (report.questions, report.not_understood) == ([], ())


@pytest.mark.parametrize(
    ("text", "reason", "words"),
    [
        ("date,diff,track temp (°C)\n,,°F\n2024-04-06,a,59\n", "units_disagree", "row of units in line 2"),
        ("date,diff,track_temp_c\n,,°F\n2024-04-06,a,59\n", "units_disagree", "track_temp_c"),
        ("date,diff,track temp (°C),track temp unit\n2024-04-06,a,59,F\n", "units_disagree", "track temp unit"),
        ("date,diff,track temp,track temp unit\n2024-04-06,a,59 °C,F\n", "units_disagree", "the cell says"),
        ("date,diff,track temp (°)\n2024-04-06,a,59\n", "unit_ambiguous", "the heading"),
        ("date,diff,track temp\n,,deg\n2024-04-06,a,59\n", "unit_ambiguous", "row of units"),
        ("date,diff,track temp,track temp unit\n2024-04-06,a,59,°\n", "unit_ambiguous", "track temp unit"),
        ("date,diff,track temp\n2024-04-06,a,59°\n", "unit_ambiguous", ""),
        ("date,diff,track temp (Grad)\n2024-04-06,a,59\n", "unit_unknown", "Grad"),
        ("date,diff,track temp,track temp unit\n2024-04-06,a,59,warm\n", "unit_unknown", "warm"),
        ("date,diff,track temp,track temp unit\n2024-04-06,a,59,g\n", "unit_not_allowed", "track temp unit"),
    ],
)
def test_what_is_said_and_cannot_be_used_refuses_the_numbers_and_says_where(text: str, reason: str, words: str) -> None:
    report = imported(text)
    assert (report.accepted, report.rejected) == (0, 1)
    assert report.rejections[0].reason == reason
    assert words in (report.rejections[0].words or "")


def test_a_row_of_units_with_a_word_that_is_none_refuses_the_numbers_below_that_word() -> None:
    report = imported("date,diff,oil mass,track temp\n,,drops,°F\n2024-04-06,a,5,59\n2024-04-07,a,,59\n")
    assert outcomes(report) == ["units_row", "unit_unknown", 15.0]
    report = imported("DATE,DIFF,OIL MASS,TRACK TEMP\n,,MG,DEG F\n2024-04-06,A,9,59\n")
    assert [(one.reason, one.column) for one in report.rejections] == [("unit_unknown", "oil_mass_g")]
    assert "Did you mean mg?" in str(report.rejections[0].words)


def test_every_line_around_a_row_of_units_is_accounted_for() -> None:
    report = imported("date,diff,oil mass,track temp\n\n,,mg,°F\n2024-04-06,a,1350,59\n")
    assert outcomes(report) == ["blank", "units_row", 15.0]
    assert outcomes(report, "oil_mass_g")[-1] == 1.35
    report = imported("date,diff,oil mass,track temp\nday,label,grams,Fahrenheit\n2024-04-06,a,1.35,59\n")
    assert (outcomes(report), report.rejected) == (["units_row", 15.0], 0)


def test_a_heading_again_with_other_units_begins_another_table() -> None:
    head = "date,diff,oil mass,track temp\n"
    text = f"{head},,mg,°F\n2024-04-06,a,1350,59\n{head},,g,°C\n2024-04-07,b,1.35,25\n"
    report = imported(text)
    assert (report.outcome, report.file_reason) == ("rejected", "header_changed")
    assert "lines 1 to 3" in str(report.message) and "lines 4 to 6" in str(report.message)
    first, second = (imported(text, lines=lines) for lines in ("1-3", "4-6"))
    assert [one for one in outcomes(first, "oil_mass_g") if isinstance(one, float)] == [1.35]
    assert [one for one in outcomes(second) if isinstance(one, float)] == [25.0]
    single = "date,diff,oil mass\n2024-04-06,a,1.35\ndate,diff,oil mass\n,,mg\n2024-04-07,b,1350\n"
    assert imported(single).file_reason == "header_changed"
    again = f"{head},,mg,°F\n2024-04-06,a,1350,59\n{head},,mg,F\n2024-04-07,b,1350,59\n"
    report = imported(again)
    assert outcomes(report) == ["units_row", 15.0, "repeated_header", "units_row", 15.0]


@pytest.mark.parametrize("row", [",,°F,g", ",,°F,", ",,F,mg"])
def test_a_row_of_units_below_rows_is_refused_unless_it_says_what_is_known(row: str) -> None:
    text = f"date,diff,track temp,oil mass\n2024-04-06,a,59,1.35\n{row}\n"
    report = imported(text)
    assert (report.outcome, report.file_reason) == ("rejected", "units_unclear")
    assert str(report.message).startswith("line 3: a row of units")
    said = {"track_temp_c": "°F", "oil_mass_g": "g"}
    assert outcomes(imported(text, units=said)) == [15.0, "units_row"]
    known = text.replace("track temp", "track temp (°F)").replace(
        "oil mass", f"oil mass ({'mg' if 'mg' in row else 'g'})"
    )
    assert outcomes(imported(known, allow_out_of_range=True)) == [15.0, "units_row"]
    assert imported(text, units={}, temp_unit="F").outcome == ("rejected" if "mg" in row else "accepted")


def test_cells_with_their_own_unit_do_without_what_is_said_of_the_column() -> None:
    text = "date,diff,track temp (Grad)\n2024-04-06,a,59 °F\n2024-04-06,a,59\n2024-04-06,a,\n"
    assert outcomes(imported(text)) == [15.0, "unit_unknown", None]


def test_a_profile_settles_what_heading_and_row_of_units_say() -> None:
    text = "date,diff,track temp (°C)\n,,°F\n2024-04-06,a,59\n"
    assert outcomes(imported(text, units={"track_temp_c": "°F"})) == ["units_row", 15.0]
    unknown = "date,diff,track temp (Grad)\n2024-04-06,a,15\n"
    assert outcomes(imported(unknown, units={"track_temp_c": "°C"})) == [15.0]


def test_units_by_row_hold_for_masses_too() -> None:
    text = "date,diff,oil mass,oil mass unit\n2024-04-06,a,1350,mg\n2024-04-07,a,1.38,g\n2024-04-08,a,1.39,\n"
    assert outcomes(imported(text), "oil_mass_g") == [1.35, 1.38, 1.39]


def test_a_bare_temperature_beside_an_empty_unit_is_not_taken_for_one() -> None:
    text = "date,diff,track temp,track temp unit\n2024-04-06,a,59,F\n2024-04-07,a,50,\n2024-04-08,a,,\n"
    report = imported(text)
    assert outcomes(report) == [15.0, "temp_unit_unknown", None]
    assert not any(one.startswith("unit_") for one in report.warnings)
    assert report.questions == []
    assert outcomes(imported(text, temp_unit="F")) == [15.0, 10.0, None]


# Which column holds the units of which


@pytest.mark.parametrize(
    ("headings", "found"),
    [
        ("date,diff,track temp,track temp unit", {3: 2}),
        ("date,diff,track temp,air temp,air temp unit,track temp unit", {4: 3, 5: 2}),
        ("date,diff,track temp,units", {3: 2}),
        ("date,diff,units,track temp", {}),
        ("date,diff,track temp,venue unit", {}),
        ("date,diff,track temp,community", {}),
        ("date,unit,track temp", {}),
        ("date,diff,track temp,track temp unit,unit of track temp", {3: 2}),
    ],
)
def test_a_column_of_units_names_the_column_that_it_is_for(headings: str, found: dict[int, int]) -> None:
    heading = find_heading(f"{headings}\n", own={})
    assert unit_columns(heading.columns).places == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("date,diff,track temp,temp scale\n2024-04-06,a,59,F\n2024-04-07,b,15,C\n", [15.0, 15.0]),
        ("date,diff,unit,track temp,oil mass\n2024-04-06,a,F,59,1\n2024-04-07,b,C,15,1\n", [15.0, 15.0]),
        ("date,diff,track temp,,oil mass\n2024-04-06,a,59,F,1\n2024-04-07,b,59,°F,1\n", [15.0, 15.0]),
        ("date,diff,track temp,air temp,track unit,air unit\n2024-04-06,a,59,20,F,C\n", [15.0]),
        ("date,diff,track temp,degrees,oil mass,g/mg\n2024-04-06,a,59,F,1350,mg\n", [15.0]),
        ("date,diff,track temp unit,track temp,uom,air temp\n2024-04-06,a,F,59,C,20\n", [15.0]),
        ("date,diff,oil mass,unit,track temp\n2024-04-06,a,1,F,59\n", [15.0]),
        (
            "date,diff,track temp,deg,note\ndate,diff,track temp,deg,note\n2024-04-06,a,59,F,x\n",
            ["repeated_header", 15.0],
        ),
        ("date,diff,track temp,spot\n2024-04-06,a,15,F\n2024-04-07,b,15,R\n", [15.0, 15.0]),
        ("date,diff,track temp,result note,spot\n2024-04-06,a,15,x,F\n", [15.0]),
    ],
)
def test_a_column_with_nothing_but_units_is_one_of_units_whatever_its_heading(text: str, found: list[object]) -> None:
    report = imported(text)
    assert outcomes(report) == found
    assert not any(one.startswith("unit_by_plausibility") for one in report.warnings)


def test_a_column_of_units_without_the_word_unit_is_named_and_may_be_left_out() -> None:
    text = "date,diff,track temp,temp scale,oil mass,unit of mass\n2024-04-06,a,59,F,9,mg\n"
    report = imported(text)
    assert (outcomes(report), outcomes(report, "oil_mass_g")) == ([15.0], [0.009])
    assert report.warnings == ["units_by_cells:temp scale=track_temp_c"]
    assert (report.questions, report.not_understood) == ([], ())
    report = imported(text, columns={"temp scale": "ignore"})
    assert outcomes(report) == [59.0]
    report = imported("date,diff,track temp,\n2024-04-06,a,59,F\n2024-04-07,b,59,\n")
    assert outcomes(report) == [15.0, "temp_unit_unknown"]
    assert report.warnings == ["units_by_cells:column 4=track_temp_c", "fill_unknown:line 2"]


@pytest.mark.parametrize(
    "text",
    [
        "date,diff,track temp,how,air temp\n2024-04-06,a,59,F,20\n",
        "date,diff,track temp,temp scale,air temp\n2024-04-06,a,59,F,59\n",
        "date,diff,dry mass,oil mass,result note,unit of mass\n2024-04-06,a,12000,1350,x,mg\n",
        "date,diff,track temp,air temp,x,y\n2024-04-06,a,59,20,F,C\n",
    ],
)
def test_a_column_of_units_that_may_be_for_two_columns_refuses_the_file(text: str) -> None:
    report = imported(text)
    assert (report.outcome, report.file_reason) == ("rejected", "units_unclear")
    assert "it may be for" in str(report.message) and "in a profile: units:" in str(report.message)


def test_a_column_of_units_that_says_nothing_new_or_that_a_profile_settles_refuses_nothing() -> None:
    masses = "date,diff,dry mass,oil mass,result note,unit of mass\n2024-04-06,a,12,1.35,x,g\n"
    assert outcomes(imported(masses), "oil_mass_g") == [1.35]
    text = "date,diff,track temp,how,air temp\n2024-04-06,a,59,F,20\n"
    assert outcomes(imported(text, units={"track_temp_c": "F", "air_temp_c": "C"})) == [15.0]


def test_a_column_of_units_that_is_ignored_holds_none() -> None:
    text = "date,diff,track temp,track temp unit\n2024-04-06,a,15,F\n"
    assert outcomes(imported(text)) == [pytest.approx(-9.4444, abs=1e-4)]
    report = imported(text, columns={"track temp unit": "ignore"})
    assert outcomes(report) == [15.0]
    assert "unit_assumed:track_temp_c=C" in report.warnings


# Temperatures without a unit


def test_temperatures_of_which_nothing_says_the_unit_are_taken_as_celsius_and_asked_about() -> None:
    report = imported("date,diff,track temp\n2024-04-06,a,34\n2024-04-07,a,n/a\n2024-04-08,a,50\n2024-04-09,a,34\n")
    assert outcomes(report) == [34.0, None, 50.0, 34.0]
    assert "unit_assumed:track_temp_c=C" in report.warnings
    (question,) = report.questions
    assert (question.option.value, question.about, question.samples) == ("temp_unit", "track temp", ("34", "50"))
    assert [answer.value for answer in question.answers] == ["C", "F"]
    assert question.words.endswith("?")
    assert not question.is_needed


def test_a_unit_said_by_an_option_is_not_assumed() -> None:
    report = imported("date,diff,track temp\n2024-04-06,a,59\n", temp_unit="F")
    assert (outcomes(report), report.questions) == ([15.0], [])
    assert not any(one.startswith("unit_") for one in report.warnings)


def test_temperatures_that_fit_only_one_unit_are_asked_about_too() -> None:
    report = imported("date,diff,track temp\n2024-04-06,a,59\n2024-04-07,a,91\n")
    assert "unit_by_plausibility:track_temp_c=F" in report.warnings
    assert [one.is_needed for one in report.questions] == [False]
    report = imported("date,diff,track temp\n2024-04-06,a,-40\n2024-04-07,a,300\n")
    assert set(outcomes(report)) == {"temp_unit_unknown"}
    assert [one.is_needed for one in report.questions] == [True]


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        (("50F", "59F", "59"), [10.0, 15.0, "temp_unit_unknown"]),
        (("59", "59 °F", "15 C"), ["temp_unit_unknown", 15.0, 15.0]),
        (("288.15 K", "15"), [15.0, "temp_unit_unknown"]),
        (("91", "15 °C"), ["temp_unit_unknown", 15.0]),
        (("15 °C", "15"), [15.0, 15.0]),
        (("59 °F", "91"), [15.0, pytest.approx(32.7778, abs=1e-4)]),
    ],
)
def test_a_bare_temperature_is_not_taken_in_another_unit_than_cells_beside_it_name(
    cells: tuple[str, ...], found: list[object]
) -> None:
    text = "".join(f"2024-04-06,a{place},{cell}\n" for place, cell in enumerate(cells))
    report = imported(f"date,diff,track temp\n{text}")
    assert outcomes(report) == found
    if "temp_unit_unknown" in found:
        assert not any(one.startswith("unit_") for one in report.warnings)
        assert [(one.option.value, one.is_needed) for one in report.questions] == [("temp_unit", True)]
        assert "other cells of the column say" in str(report.rejections[0].words)
        assert imported(f"date,diff,track temp\n{text}", temp_unit="F").rejected == 0


# Numbers of a workbook


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ([SheetNumber("59", "°F")], [15.0]),
        ([SheetNumber("59", "°F"), SheetNumber("15", "°C"), SheetNumber("15")], [15.0, 15.0, "temp_unit_unknown"]),
        ([SheetNumber("15", "°C"), SheetNumber("15")], [15.0, 15.0]),
        ([SheetNumber("59"), SheetNumber("91")], [15.0, pytest.approx(32.7778, abs=1e-4)]),
        ([SheetNumber("59", "drops")], ["unit_unknown"]),
    ],
)
def test_the_number_format_of_a_workbook_says_the_unit(
    rows: list[SheetNumber], found: list[object], monkeypatch: pytest.MonkeyPatch
) -> None:
    from bevelbook.notes import source
    from bevelbook.notes.table import Block

    texts = "".join(f"2024-04-06,a,{row}\n" for row in rows)
    plain = source.rows_below

    def typed(of: source.NoteSource) -> Any:
        for block in plain(of):
            yield Block([[*row[:2], cell] for row, cell in zip(block.rows, rows, strict=True)], block.lines, [])

    monkeypatch.setattr("bevelbook.notes.read_rows.rows_below", typed)
    assert outcomes(imported(f"date,diff,track temp\n{texts}")) == found


def test_a_cell_keeps_what_is_said_beside_it() -> None:
    cell = CellBesideUnit(SheetNumber("59", "°F"), "C")
    assert parts_of_cell(cell) == (SheetNumber("59", "°F"), "°F", "C")
    assert parts_of_cell("59") == ("59", "", "")
    assert kept_cells('["59"]') == ["59"]
    with pytest.raises(ReadingError) as caught:
        unit_of_cell(TEMPERATURE, ColumnUnit((), "unit"), "59", typed="", beside="C", shown_unit="°F")
    assert caught.value.code == "units_disagree"


def test_two_words_for_one_unit_agree() -> None:
    said = ColumnUnit((SaidUnit("", "the heading"),), "units")
    assert unit_of_cell(MASS, said, "1", typed="", beside="grams", shown_unit="g") == "grams"
    assert unit_of_cell(TEMPERATURE, said, "1", typed="", beside="C", shown_unit="deg C") == "C"
    assert unit_of_cell(MASS, NOTHING_SAID, "1", typed="", beside="", shown_unit="") == ""
