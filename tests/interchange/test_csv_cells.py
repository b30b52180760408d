"""Values as cells of a CSV file: whatever is written is read back unchanged, and no text is a formula."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.interchange.csv_cells import (
    GUARD,
    CellError,
    CellType,
    csv_lines,
    heading_line,
    text_cell,
    text_of,
    values_of_column,
)

TEXTS = st.one_of(
    st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0")),
    st.text("='\"+-@,\t\r\n a\ufeff\u200e\uff1d"),
)
"""All of Unicode but what UTF-8 does not have and NUL, and texts of the signs that matter."""
ROWS = st.lists(
    st.tuples(
        st.none() | TEXTS,
        st.none() | st.floats(allow_nan=False, allow_infinity=False),
        st.none() | st.integers(-(1 << 63), (1 << 63) - 1),
        TEXTS,
    ),
    max_size=6,
)
TYPES: tuple[CellType, ...] = ("TEXT", "REAL", "INTEGER", "TEXT")
RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r")
"""OWASP Application Security Verification Standard 5.0, 1.2.10, with CR as in CWE-1236's examples."""


@given(ROWS)
def test_rows_come_back_unchanged_as_python_reads_csv(rows: list[tuple[object, ...]]) -> None:
    """The reader is the csv module of Python, which knows nothing of our guard."""
    text = csv_lines(rows, TYPES)
    read = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    columns = [list(column) for column in zip(*read, strict=True)] or [[]] * 4
    values = zip(*map(values_of_column, columns, TYPES), strict=True)
    assert [*map(repr, values)] == [*map(repr, rows)]
    assert not [cell for cells in (columns[0], columns[3]) for cell in cells if cell.startswith(RUN_BY_SPREADSHEETS)]
    assert not [cell for cell in (*columns[1], *columns[2]) if cell.startswith(GUARD)]


@given(TEXTS)
def test_a_text_alone_in_its_row_stays_a_row(text: str) -> None:
    lines = csv_lines([(text,), (None,)], ("TEXT",))
    assert [text_of(cell) for (cell,) in csv.reader(io.StringIO(lines, newline=""), strict=True)] == [text, None]


def test_nothing_and_an_empty_text_are_apart() -> None:
    assert (text_cell(None), text_cell("")) == ("", GUARD)
    assert csv_lines([(None, ""), ("", None)], ("TEXT", "TEXT")) == f",{GUARD}\n{GUARD},\n"


def test_numbers_are_written_with_the_fewest_digits_that_give_them_back() -> None:
    assert csv_lines([(0.1 + 0.2, 5), (-7000.0, None), (5e-324, -1)], ("REAL", "INTEGER")) == (
        "0.30000000000000004,5\n-7000.0,\n5e-324,-1\n"
    )


def test_a_heading_is_quoted_where_it_needs_it() -> None:
    assert heading_line(("id", 'a "b", c')) == 'id,"a ""b"", c"\n'


@pytest.mark.parametrize(
    ("cell", "cell_type"),
    [
        ("nan", "REAL"),
        ("inf", "REAL"),
        ("INF", "REAL"),
        ("1e999", "REAL"),
        ("1_000", "REAL"),
        ("1,5", "REAL"),
        (" 1", "REAL"),
        ("\N{ARABIC-INDIC DIGIT ONE}", "REAL"),
        ("0x1p3", "REAL"),
        ("1\n2", "REAL"),
        ("'1", "REAL"),
        (".", "REAL"),
        ("1.0", "INTEGER"),
        ("1_0", "INTEGER"),
        ("+1", "INTEGER"),
        ("9223372036854775808", "INTEGER"),
        ("-9223372036854775809", "INTEGER"),
        ("9" * 5_000, "INTEGER"),
        ("--1", "INTEGER"),
    ],
)
def test_what_is_no_number_is_refused_at_its_place(cell: str, cell_type: CellType) -> None:
    with pytest.raises(CellError) as refused:
        values_of_column(["1", "", cell, "2"], cell_type)
    assert refused.value.place == 2


@pytest.mark.parametrize(("cell", "number"), [("1", 1.0), ("1.", 1.0), (".5", 0.5), ("-1E+2", -100.0), ("007", 7.0)])
def test_a_number_as_other_programs_write_it_is_read(cell: str, number: float) -> None:
    """The forms of Table Schema 2.0, "number", but for its leading plus, at which a spreadsheet starts a formula."""
    assert values_of_column([cell], "REAL") == [number]
