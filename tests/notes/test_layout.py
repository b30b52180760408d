"""Where a table is in its file: units above or below the heading, headings in two lines. Data constructed."""

from __future__ import annotations

import pytest

from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.headings import Heading
from bevelbook.notes.layout import Layout, heading_in, layout_of
from bevelbook.notes.table import Row, height


def laid_out(*lines: str, own: dict[str, str] | None = None) -> Layout:
    rows: list[Row] = [line.split(";") for line in lines]
    heading = heading_in(rows, own=own or {}, line=None, delimiter=";")
    assert heading is not None
    starts = [1 + sum(map(height, rows[:place])) for place in range(len(rows))]
    return layout_of(heading, rows, starts)


def names(heading: Heading) -> dict[int, str]:
    return {column.place: column.field.name for column in heading.columns if column.field}


HEADING = "date;builder;diff;dry mass;oil mass;track temp;result note"
ROW = "2026-05-03;ana;K-01;12.42;1.86;59;ok"


@pytest.mark.parametrize(
    ("units", "found"),
    [
        (";;;g;mg;°F;", {3: "g", 4: "mg", 5: "°F"}),
        (";;;(g);[mg];°F;", {3: "g", 4: "mg", 5: "°F"}),
        (";;;g;g;°F;free text", {3: "g", 4: "g", 5: "°F"}),
        (";;;g;g;hot;free text", {3: "g", 4: "g", 5: "hot"}),
        ("(dd.mm.yyyy);;;g;g;°F;", {3: "g", 4: "g", 5: "°F"}),
        ("TT.MM.JJJJ;who;;g;g;°F;words", {3: "g", 4: "g", 5: "°F"}),
        (";;;-;drops;°F;", {4: "drops", 5: "°F"}),
        (";;;dry;oil;F;free text", {3: "dry", 4: "oil", 5: "F"}),
        ("day;who;label;grams;grams;Fahrenheit;words", {3: "grams", 4: "grams", 5: "Fahrenheit"}),
    ],
)
def test_a_row_of_units_is_found_below_and_above_the_heading(units: str, found: dict[int, str]) -> None:
    below, above = laid_out(HEADING, units, ROW), laid_out(units, HEADING, ROW)
    assert (below.units, below.heading_lines, below.units_line, below.first_line) == (found, (1,), 2, 3)
    assert (above.units, above.heading_lines, above.units_line, above.first_line) == (found, (2,), 1, 3)


def test_blank_lines_may_be_between_the_heading_and_its_row_of_units() -> None:
    for blanks in ([""], ["", ";;;;;;"]):
        layout = laid_out(HEADING, *blanks, ";;;g;mg;°F;", ROW)
        assert (layout.units, layout.units_line) == ({3: "g", 4: "mg", 5: "°F"}, 2 + len(blanks))
        assert layout.first_line == 3 + len(blanks)


def test_single_words_below_the_heading_under_numbers_alone_are_units_that_nobody_knows() -> None:
    assert laid_out(HEADING, ";;;;drops;;", ROW).units == {4: "drops"}
    assert laid_out(";;;;drops;;", HEADING, ROW).units == {}


@pytest.mark.parametrize(
    "row",
    [
        ROW,
        ";;;12.4;g;;",
        "2026-05-03;;;g;g;;",
        ";;K-01;g;g;;free text",
        ";;;not weighed;free text;;",
        ";;;;;;only a remark",
        "",
    ],
)
def test_a_row_that_holds_more_than_units_is_a_row(row: str) -> None:
    layout = laid_out(HEADING, row, ROW)
    assert (layout.units, layout.units_line, layout.first_line) == ({}, None, 2)


def test_groups_above_and_names_below_are_one_heading() -> None:
    layout = laid_out("date;builder;diff;mass;;temp;", ";;;dry;oil;track;air", ROW)
    assert names(layout.heading) == {
        0: "date",
        1: "builder",
        2: "diff",
        3: "dry_mass_g",
        4: "oil_mass_g",
        5: "track_temp_c",
        6: "air_temp_c",
    }
    assert layout.heading.cells == ("date", "builder", "diff", "dry mass", "oil mass", "track temp", "air temp")
    assert (layout.heading_lines, layout.first_line) == ((1, 2), 3)


def test_a_row_of_units_may_follow_a_heading_in_two_lines_or_a_unit_be_in_it() -> None:
    layout = laid_out(
        "date;diff;masses [mg];;temp;", ";;dry;oil (g);track;air", ";;;;°F;°F", "2026-05-03;K-01;9;1;59;59"
    )
    assert (layout.units_line, layout.units, layout.first_line) == (3, {4: "°F", 5: "°F"}, 4)
    assert [column.unit for column in layout.heading.columns[2:4]] == ["mg", "g"]
    mixed = laid_out("date;diff;mass;;track temp", ";;dry;oil;°F", "2026-05-03;K-01;9;1;59")
    assert (names(mixed.heading)[4], mixed.heading.columns[4].unit) == ("track_temp_c", "°F")


def test_groups_may_be_above_a_heading_that_is_whole_but_for_them() -> None:
    layout = laid_out("our log", ";;;mass;;temp;", "date;builder;diff;dry;oil;track;air", ROW)
    assert names(layout.heading) == {
        0: "date",
        1: "builder",
        2: "diff",
        3: "dry_mass_g",
        4: "oil_mass_g",
        5: "track_temp_c",
        6: "air_temp_c",
    }
    assert layout.heading_lines == (2, 3)


def test_the_names_of_days_and_diffs_may_be_spread_over_both_lines() -> None:
    layout = laid_out("date;;mass;", ";diff;dry;oil", "2026-05-03;K-01;9;1")
    assert list(names(layout.heading).values()) == ["date", "diff", "dry_mass_g", "oil_mass_g"]
    assert layout.heading_lines == (1, 2)


def test_what_a_team_says_of_a_joined_name_counts() -> None:
    lines = ("date;diff;bench;;", ";;empty;poured;wet", "2026-05-03;K-01;9;1;10")
    own = {"bench empty": "dry_mass_g", "poured bench": "oil_mass_g", "bench wet": "total_mass_g"}
    assert list(names(laid_out(*lines, own=own).heading).values())[2:] == ["dry_mass_g", "oil_mass_g", "total_mass_g"]
    with pytest.raises(FileRejected) as caught:
        laid_out(*lines)
    assert (caught.value.code, caught.value.place.line) == ("two_line_heading", 1)
    assert "lines 1 and 2" in str(caught.value)
    assert '--map "bench empty=FIELD"' in str(caught.value)


@pytest.mark.parametrize(
    ("first", "second", "unclear"),
    [
        ("date;diff;oil mass;oil mass;dry;", ";;front;rear;;x", "oil mass front, oil mass rear"),
        ("date;diff;mass;;target;", ";;dry;oil;grip;", "target grip"),
        ("date;diff;mass;;venue;", ";;dry;oil;grip;", "venue grip"),
    ],
)
def test_two_names_that_say_more_than_one_of_them_alone_are_refused(first: str, second: str, unclear: str) -> None:
    with pytest.raises(FileRejected) as caught:
        laid_out(first, second, "2026-05-03;K-01;9;1;2;3")
    assert (caught.value.code, caught.value.found) == ("two_line_heading", unclear)


@pytest.mark.parametrize(
    "row",
    [
        ";;;;;;a remark alone",
        ";bo;;;;;a remark",
        "2026-05-03;ana;K-01;;;;",
        "soon;ana;K-01;;;;felt fine",
    ],
)
def test_a_row_of_words_below_a_heading_is_not_its_second_line(row: str) -> None:
    layout = laid_out(HEADING, row, ROW)
    assert (layout.heading_lines, layout.first_line) == ((1,), 2)


def test_a_group_over_several_columns_is_not_the_name_of_its_first_one() -> None:
    layout = laid_out("date;diff;mass;;venue;", ";;dry;oil;in;out", "2026-05-03;K-01;9;1;x;y")
    assert list(names(layout.heading).values()) == ["date", "diff", "dry_mass_g", "oil_mass_g"]
    assert layout.heading.cells[4:] == ("venue in", "venue out")
    one = laid_out("date;diff;mass;;venue;grip", ";;dry;oil;name;", "2026-05-03;K-01;9;1;x;high")
    assert list(names(one.heading).values())[4:] == ["venue", "grip"]


def test_a_title_above_the_heading_is_not_a_line_of_it() -> None:
    layout = laid_out("mass log;;2026;;;;", "typed by;ana;;;;;", HEADING, ROW)
    assert (layout.heading_lines, layout.heading.cells[0]) == ((3,), "date")
