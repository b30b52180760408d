"""Which day a row is of: one day written in several ways is one day, and what is not a date is a name."""

from __future__ import annotations

import pytest

from bevelbook.declare.fields import record, which_day
from bevelbook.reading import BY_HAND, ReadingError, read
from bevelbook.reading.dates import today_iso


@record
class Row:
    day: str | None = which_day("Day", default=None)


FIELD = Row.fields[0]


@pytest.mark.parametrize(
    "text",
    [
        "2026-05-13",
        "13.5.2026",
        "13.05.26",
        "13 May 2026",
        "Wed 13 may 26",
        "May 13, 2026",
        "13/5/2026",
        "5/13/2026",
        "20260513",
        " 2026/05/13 ",
        "2026-05-13T14:05",
    ],
)
def test_one_day_written_in_several_ways_is_one(text: str) -> None:
    assert read(FIELD, text, BY_HAND) == "2026-05-13"


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("1", "1"),
        ("01", "1"),
        ("12", "12"),
        ("sat", "sat"),
        (" Sat ", "sat"),
        ("Race  Day", "race day"),
        ("day 1",) * 2,
    ],
)
def test_what_is_not_a_date_is_a_name_without_case(text: str, name: str) -> None:
    assert read(FIELD, text, BY_HAND) == name


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1/5/26", "ambiguous_date"),
        ("02-05-26", "ambiguous_date"),
        ("31.2.2026", "date_invalid"),
        ("2.5.", "date_incomplete"),
        ("2026", "date_incomplete"),
        ("2 May", "date_incomplete"),
        ("=A1", "formula_in_cell"),
        ("#REF!", "spreadsheet_error"),
    ],
)
def test_a_date_that_does_not_read_in_one_way_is_refused(text: str, code: str) -> None:
    with pytest.raises(ReadingError) as raised:
        read(FIELD, text, BY_HAND)
    assert raised.value.code == code


def test_a_day_to_come_and_today_and_no_day_are_taken() -> None:
    assert read(FIELD, "2.5.2999", BY_HAND) == "2999-05-02"
    assert read(FIELD, "Today", BY_HAND) == today_iso()
    assert [read(FIELD, text, BY_HAND) for text in ("", "-", "n/a")] == [None] * 3
