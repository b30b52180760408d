"""Days at their bounds: calendar, two digits of a year, orders, day numbers, times of day. All data are constructed.

The calendar is that of ISO 8601 (Gregorian; leap years by 4, not by 100, but by 400), asked of the standard library.
"""

from __future__ import annotations

import calendar
from datetime import date as Day
from datetime import timedelta

import pytest

from bevelbook.declare.fields import Field, date, field_of, record
from bevelbook.reading import Options, ReadingError, read
from bevelbook.reading.date_forms import DayForms, Days
from bevelbook.reading.dates import days_of

TODAY = "2026-05-04"


@record
class Sheet:
    day: str | None = date("Day", default=None)


FIELD: Field = field_of(Sheet, "day")


def day(text: str, **options: str) -> str:
    found = read(FIELD, text, Options(today=TODAY, **options))
    assert isinstance(found, str)
    return found


def code(text: str, **options: str) -> str:
    with pytest.raises(ReadingError) as caught:
        read(FIELD, text, Options(today=TODAY, **options))
    return caught.value.code


def readings(text: str, forms: DayForms = DayForms()) -> Days:  # noqa: B008
    found = days_of(FIELD, text, forms)
    assert found is not None
    return found


# The calendar


@pytest.mark.parametrize("year", [1900, 1999, 2000, 2023, 2024])
@pytest.mark.parametrize("month", range(1, 13))
def test_the_last_day_of_each_month_is_taken_and_the_one_after_it_is_not(year: int, month: int) -> None:
    last = calendar.monthrange(year, month)[1]
    assert day(f"{year}-{month:02}-{last:02}") == f"{year}-{month:02}-{last:02}"
    assert code(f"{year}-{month:02}-{last + 1:02}") == "date_invalid"


@pytest.mark.parametrize(
    ("text", "is_day"),
    [
        ("2024-01-01", True),
        ("2024-12-31", True),
        ("2024-00-10", False),
        ("2024-13-10", False),
        ("2024-01-00", False),
        ("0001-01-01", True),
        ("0000-01-01", False),
    ],
)
def test_months_and_days_count_from_one(text: str, is_day: bool) -> None:
    assert (day(text) == text) if is_day else (code(text) == "date_invalid")


def test_today_is_taken_and_tomorrow_is_refused() -> None:
    assert day(TODAY) == TODAY
    assert code("2026-05-05") == "future_date"
    assert code("5.5.2026") == "future_date"


def test_without_an_option_today_is_the_day_of_the_computer() -> None:
    assert read(FIELD, Day.today().isoformat()) == Day.today().isoformat()
    with pytest.raises(ReadingError, match="later than today"):
        read(FIELD, (Day.today() + timedelta(days=2)).isoformat())


# Two digits of a year: 80 to 99 are 19yy, 00 to 79 are 20yy


@pytest.mark.parametrize(
    ("text", "wanted"), [("1.2.80", "1980-02-01"), ("1.2.99", "1999-02-01"), ("1.2.00", "2000-02-01")]
)
def test_two_digits_of_a_year_are_of_the_last_century_from_80_on(text: str, wanted: str) -> None:
    assert day(text) == wanted


def test_79_is_a_year_to_come() -> None:
    assert readings("1.2.79").readings == {"dmy": "2079-02-01", "mdy": "2079-01-02"}
    assert readings("1 Feb 79").readings == {"iso": "2079-02-01"}
    assert readings("1 Feb 80").readings == {"iso": "1980-02-01"}
    assert readings("80-02-13").readings == {"ymd": "1980-02-13"}


# Orders


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("12/11/2024", {"dmy": "2024-11-12", "mdy": "2024-12-11"}),
        ("13/11/2024", {"dmy": "2024-11-13"}),
        ("11/13/2024", {"mdy": "2024-11-13"}),
        ("13/12/2024", {"dmy": "2024-12-13"}),
        ("12/13/2024", {"mdy": "2024-12-13"}),
        ("13-11-2024", {"dmy": "2024-11-13"}),
        ("11-13-2024", {"mdy": "2024-11-13"}),
        ("13 11 2024", {"dmy": "2024-11-13"}),
        # dots with a four-digit year at the end are day.month.year
        ("11.12.2024", {"dmy": "2024-12-11"}),
        ("11. 12. 2024.", {"dmy": "2024-12-11"}),
        # with two digits everywhere the year may be first, whatever the mark
        ("13.12.24", {"dmy": "2024-12-13", "ymd": "2013-12-24"}),
        ("12.13.24", {"mdy": "2024-12-13"}),
        ("10-11-12", {"dmy": "2012-11-10", "mdy": "2012-10-11", "ymd": "2010-11-12"}),
        ("13-11-12", {"dmy": "2012-11-13", "ymd": "2013-11-12"}),
        ("1-11-12", {"dmy": "2012-11-01", "mdy": "2012-01-11"}),
        ("10/11/12", {"dmy": "2012-11-10", "mdy": "2012-10-11", "ymd": "2010-11-12"}),
        ("24/2/8", None),
        ("24 02 28", {"dmy": "2028-02-24", "ymd": "2024-02-28"}),
        ("10-11-2012", {"dmy": "2012-11-10", "mdy": "2012-10-11"}),
        ("5/5/2024", {"dmy": "2024-05-05", "mdy": "2024-05-05"}),
    ],
)
def test_each_order_that_the_calendar_allows_is_a_reading(text: str, found: dict[str, str] | None) -> None:
    if found is None:
        assert code(text) == "date_unparseable"
        return
    days = readings(text)
    assert (days.readings, days.warnings) == (found, ())
    assert days.ambiguous == (len(set(found.values())) > 1)


@pytest.mark.parametrize(("order", "wanted"), [("dmy", "2012-11-10"), ("mdy", "2012-10-11"), ("ymd", "2010-11-12")])
def test_an_order_chooses_among_the_readings(order: str, wanted: str) -> None:
    assert day("10-11-12", date_order=order) == wanted
    assert day("10/11/12", date_order=order) == wanted
    assert day("10.11.12", date_order=order) == wanted


def test_an_order_that_is_said_is_the_only_one_tried() -> None:
    assert code("10/11/2012", date_order="ymd") == "date_invalid"
    assert code("13/11/2012", date_order="mdy") == "date_invalid"
    with pytest.raises(ReadingError, match=r"with the month first.*write it as 2012-11-13 \(day first\)"):
        read(FIELD, "13/11/2012", Options(today=TODAY, date_order="mdy"))


@pytest.mark.parametrize("order", ["dmy", "mdy", "ymd"])
@pytest.mark.parametrize("text", ["2024-02-14", "2024/2/14", "20240214", "14.02.2024", "14 Feb 2024"])
def test_an_order_that_is_said_leaves_what_has_one_order(text: str, order: str) -> None:
    assert day(text, date_order=order) == "2024-02-14"


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("13/4/26", "2026-04-13"),
        ("13.04.26", "2026-04-13"),
        ("03/04/26", "ambiguous_date"),
        ("24/02/14", "2014-02-24"),
        ("24-02-14", "ambiguous_date"),
        ("24/02/28", "future_date"),
        ("24.02.28", "future_date"),
        ("80/02/13", "date_invalid"),
        ("31.4.24", "date_invalid"),
    ],
)
def test_a_year_of_two_digits_typed_by_itself_is_first_only_between_dashes(text: str, wanted: str) -> None:
    """Common practice, no source."""
    assert wanted in (day(text) if wanted[0] == "2" else code(text))


@pytest.mark.parametrize("text", ["13/13/2024", "31/04/2024", "30-02-2024", "0/5/2024", "31.4.24", "29 Feb 2023"])
def test_a_day_that_no_order_has_is_refused(text: str) -> None:
    assert code(text) == "date_invalid"


# Forms


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("2024/2/14", "2024-02-14"),
        ("2024.02.14", "2024-02-14"),
        ("19991231", "1999-12-31"),
        ("14. 2. 2024", "2024-02-14"),
        ("14 Sept 2024", "2024-09-14"),
        ("September 14, 2024", "2024-09-14"),
        ("14 dec 2024", "2024-12-14"),
        ("1 January 2024", "2024-01-01"),
        ("1st Jan 2024", "2024-01-01"),
        ("2nd Feb 2024", "2024-02-02"),
        ("3rd Mar 2024", "2024-03-03"),
        ("2024 Feb 14", "2024-02-14"),
        ("14-Feb-24", "2024-02-14"),
        ("Sunday, 14 July 2024", "2024-07-14"),
        ("Mon 15 July 2024", "2024-07-15"),
        ("Fri, May 3, 2024", "2024-05-03"),
    ],
)
def test_days_in_words_and_figures(text: str, wanted: str) -> None:
    assert day(text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("20250230", "date_invalid"),
        ("21000101", "date_unparseable"),
        ("Feb 2024", "date_incomplete"),
        ("14 Feb", "date_incomplete"),
        ("2024/12", "date_incomplete"),
        ("2024-1", "date_incomplete"),
        ("1999", "date_incomplete"),
        ("2024-13", "date_unparseable"),
        ("14.2", "date_incomplete"),
        ("14/2", "date_incomplete"),
        ("2/2024", "date_incomplete"),
        ("2/2124", "date_unparseable"),
        ("14 Feb 2024 x", "date_unparseable"),
        ("Feb Mar 2024", "date_unparseable"),
        ("14 Febr 2024", "date_unparseable"),
        ("2024 Feb 2024", "date_unparseable"),
        ("1-2/2024", "date_unparseable"),
        ("=TODAY()", "formula_in_cell"),
        ("####", "spreadsheet_error"),
        ("#REF!", "spreadsheet_error"),
        ("#NAME?", "spreadsheet_error"),
        ("#N/A", "spreadsheet_error"),
        ("#3", "date_unparseable"),
        ("monday", "date_unparseable"),
    ],
)
def test_what_is_no_whole_day_is_refused_with_its_reason(text: str, wanted: str) -> None:
    assert code(text) == wanted


@pytest.mark.parametrize("text", ["", " ", "-", "n/a", "?", "NaN", "–"])
def test_no_day_is_none(text: str) -> None:
    assert read(FIELD, text) is None


# A time of day behind it


@pytest.mark.parametrize(
    "text",
    [
        "2024-02-14T18:30",
        "2024-02-14 18:30:05.25",
        "2024-02-14T18:30:00Z",
        "2024-02-14T18:30:00+0100",
        "14.02.2024 6:30 PM",
        "14.02.2024, 18:30",
        "45336.75",
    ],
)
def test_a_time_of_day_is_left_out_and_said(text: str) -> None:
    found = readings(text)
    assert set(found.readings.values()) == {"2024-02-14"}
    assert "time_dropped" in found.warnings


# Day numbers (ECMA-376, Part 1, 18.17.4)


@pytest.mark.parametrize(
    ("text", "base", "wanted", "warnings"),
    [
        # 1900: 60 is a 29 February 1900 that never was, so that 61 is 1 March 1900, 31 + 28 + 1 days in the calendar.
        ("30000", None, (Day(1900, 3, 1) + timedelta(days=30000 - 61)).isoformat(), ("day_number_1900",)),
        ("60000", None, (Day(1900, 3, 1) + timedelta(days=60000 - 61)).isoformat(), ("day_number_1900",)),
        ("45336", 1900, (Day(1900, 3, 1) + timedelta(days=45336 - 61)).isoformat(), ("day_number_1900",)),
        ("45336.0", None, "2024-02-14", ("day_number_1900",)),
        ("45336,5", None, "2024-02-14", ("day_number_1900", "time_dropped")),
        ("43830", 1904, (Day(1904, 1, 1) + timedelta(days=43830)).isoformat(), ("day_number_1904",)),
    ],
)
def test_a_day_number_counts_from_its_first_day(
    text: str, base: int | None, wanted: str, warnings: tuple[str, ...]
) -> None:
    assert days_of(FIELD, text, DayForms(base)) == Days({"iso": wanted}, warnings)


@pytest.mark.parametrize("text", ["29999", "60001", "20524", "4533", "453361", "45336.", "45336.5.1"])
def test_a_number_too_small_or_too_long_is_no_day_number(text: str) -> None:
    assert code(text) == "date_unparseable"
