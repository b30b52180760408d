"""The order of a column of dates: what proves it, what does not, and what is asked. All data are constructed."""

from __future__ import annotations

import pytest

from bevelbook.notes.columns import Cells, Evidence, Fault, Settled, settle
from bevelbook.notes.date_order import DayEvidence
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.questions import FileQuestion
from bevelbook.reading import Options
from bevelbook.reading.options import ReadingOption

TODAY = Options(today="2026-11-26")
DATE = BY_NAME["date"]


def column(*cells: str, options: Options = TODAY) -> tuple[list[str], list[str]]:
    """What is made of each cell of a column, a day or a reason, and the warnings of the file."""
    evidence = Evidence(DATE, None, options)
    evidence.look(cells)
    settled, warnings = settle({"date": evidence})
    read = Cells(DATE, settled["date"], options, {}, False)
    return [found.reason if isinstance(found := read[cell], Fault) else str(found) for cell in cells], warnings


def questions(*cells: str, options: Options = TODAY) -> list[FileQuestion]:
    evidence = Evidence(DATE, None, options)
    evidence.look(cells)
    return evidence.days.questions("Day")


# What proves an order


@pytest.mark.parametrize("mark", ["/", "-", ".", " "])
@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (("14{0}02{0}24", "03{0}04{0}99", "5{0}6{0}24"), "dmy"),
        (("02{0}14{0}24", "03{0}04{0}24"), "mdy"),
        (("99{0}02{0}14", "03{0}04{0}24"), "ymd"),
    ],
)
def test_a_part_that_cannot_be_a_day_or_a_month_proves_the_order_whatever_the_mark(
    cells: tuple[str, ...], order: str, mark: str
) -> None:
    written = [cell.format(mark) for cell in cells]
    found, warnings = column(*written)
    second = {"dmy": ("1999-04-03", "2024-06-05"), "mdy": ("2024-03-04",), "ymd": ("2003-04-24",)}[order]
    first = {"dmy": "2024-02-14", "mdy": "2024-02-14", "ymd": "1999-02-14"}[order]
    assert (found, warnings) == ([first, *second], [])


def test_a_four_digit_year_at_the_end_proves_that_the_year_is_not_first() -> None:
    assert column("14/02/2024", "03/04/24") == (["2024-02-14", "2024-04-03"], [])
    assert column("14.02.2024", "03/04/24") == (["2024-02-14", "2024-04-03"], []), "one order for a column"


def test_what_has_one_order_says_nothing_of_the_others() -> None:
    cells = ("2024-02-14", "2024/2/14", "14 Feb 2024", "20240214", "03/04/2024")
    assert column(*cells) == (["2024-02-14"] * 4 + ["ambiguous_date"], [])


def test_two_days_in_the_future_put_an_order_out_and_that_is_said() -> None:
    found, warnings = column("24/02/14", "24/02/21", "24/02/28", "24/03/31")
    assert found == ["2024-02-14", "2024-02-21", "2024-02-28", "2024-03-31"]
    assert warnings == ["date_order_by_future:date=ymd"]
    found, warnings = column("14-02-24", "21-02-24", "28-02-24", "31-03-24")
    assert found == ["2024-02-14", "2024-02-21", "2024-02-28", "2024-03-31"]
    assert warnings == ["date_order_by_future:date=dmy"]
    assert column("03/02/2026", "05/12/2026", "06/12/2026")[0] == ["2026-03-02", "2026-05-12", "2026-06-12"]


@pytest.mark.parametrize("mark", ["/", "-", "."])
def test_one_day_in_the_future_puts_an_order_out_where_another_holds_the_days_close_together(mark: str) -> None:
    def written(*cells: str) -> tuple[list[str], list[str]]:
        return column(*(cell.replace("-", mark) for cell in cells))

    days = ["2024-02-14", "2024-02-21", "2024-03-31"]
    assert written("14-02-24", "21-02-24", "31-03-24") == (days, ["date_order_by_future:date=dmy"])
    assert written("24-02-14", "24-02-21", "24-03-31")[0] == days
    assert written("24-02-14", "28-02-14") == (["2014-02-24", "2014-02-28"], ["date_order_by_future:date=dmy"])
    many = written("14-01-18", "21-02-20", "12-06-22", "31-03-24")
    assert many[0] == ["2018-01-14", "2020-02-21", "2022-06-12", "2024-03-31"], "six years, and year first 22"
    if mark == "/":
        assert written("03/02/2026", "05/12/2026")[0] == ["2026-03-02", "2026-05-12"]


# Slips


def test_one_slip_in_a_year_does_not_turn_the_other_dates_of_its_column() -> None:
    """11/03/29 was meant to be 11 March 2024; read year first it is a day of the past."""
    cells = ("05/02/24", "12/02/24", "26/02/24", "11/03/29")
    assert column(*cells) == (["ambiguous_date"] * 4, [])
    found, _ = column(*cells, options=TODAY._replace(date_order="dmy"))
    assert found == ["2024-02-05", "2024-02-12", "2024-02-26", "future_date"]


def test_a_slip_is_refused_alone_where_the_rest_settles_the_order() -> None:
    found, warnings = column("14/02/2026", "03/02/2026", "05/12/2026")
    assert (found, warnings) == (["2026-02-14", "2026-02-03", "future_date"], [])
    late = [f"{day}/0{month}/24" for month in (1, 3) for day in (27, 29, 31)]
    found, warnings = column("05/02/24", *late, "11/03/29")
    assert (found[0], found[-1]) == ("2024-02-05", "future_date")
    assert warnings == ["date_order_by_future:date=dmy"]


def test_a_day_of_the_future_in_every_order_or_of_no_calendar_says_nothing() -> None:
    found, warnings = column("14/02/2024", "03/04/2042", "31/02/2024", "14/14/2024", "05/06/2024")
    assert found == ["2024-02-14", "future_date", "date_invalid", "date_invalid", "2024-06-05"]
    assert warnings == []


def test_many_days_in_the_future_under_the_only_order_are_a_contradiction() -> None:
    found, warnings = column("14/02/2026", "03/02/2026", "05/12/2026", "06/12/2026")
    assert (found, warnings) == (["2026-02-14", *["ambiguous_date"] * 3], ["mixed_date_orders"])


def test_where_two_habits_contradict_only_what_has_one_reading_is_taken() -> None:
    found, warnings = column("14/02/2024", "02/15/2024", "03/04/2024", "05/05/2024")
    assert found == ["2024-02-14", "2024-02-15", "ambiguous_date", "2024-05-05"]
    assert warnings == ["mixed_date_orders"]


def test_only_the_rows_in_which_the_orders_left_differ_are_refused() -> None:
    """26/02/24 has no reading month first: day first and year first are left, and agree on 05/03/05."""
    assert column("26/02/24", "05/03/05") == (["ambiguous_date", "2005-03-05"], [])


# An order that is said


@pytest.mark.parametrize(
    ("order", "cells", "wanted"),
    [
        ("ymd", ("24/02/14", "24/02/28"), ["2024-02-14", "2024-02-28"]),
        ("mdy", ("14/02/2024", "03/04/2024"), ["date_invalid", "2024-03-04"]),
        ("ymd", ("03/04/2024",), ["date_invalid"]),
        ("mdy", ("14.02.2024", "2024-02-14", "02/14/24"), ["2024-02-14"] * 3),
        ("dmy", ("24/02/28",), ["future_date"]),
    ],
)
def test_an_order_that_is_said_is_the_only_one_tried(order: str, cells: tuple[str, ...], wanted: list[str]) -> None:
    assert column(*cells, options=TODAY._replace(date_order=order)) == (wanted, [])


# Days run together


def test_six_digits_are_read_by_the_order_of_the_column_with_or_without_the_first_nought() -> None:
    found, warnings = column("140224", "310324", "280224", "30224", "99")
    assert found == ["2024-02-14", "2024-03-31", "2024-02-28", "2024-02-03", "date_unparseable"]
    assert warnings == ["date_order_by_future:date=dmy"]
    assert column("140224", "30224")[0] == ["ambiguous_date"] * 2
    assert column("021424", "30224")[0] == ["2024-02-14", "2024-03-02"]
    assert column("140224", "45336")[0] == ["ambiguous_date", "date_unparseable"], "no day of month 53"


def test_eight_digits_are_iso_where_they_begin_with_a_year_and_else_by_the_order() -> None:
    assert column("14022024", "4022024", "20240214")[0] == ["2024-02-14", "2024-02-04", "2024-02-14"]
    assert column("20022024", "20240230")[0] == ["2024-02-20", "date_invalid"]


def test_five_digits_are_the_number_of_a_day_where_nothing_is_run_together() -> None:
    assert column("45336", "30224", "2024-02-14")[0] == ["2024-02-14", "1982-09-30", "2024-02-14"]
    assert column("20524", "60001")[0] == ["date_unparseable"] * 2
    assert column("45336", "20240216")[0] == ["2024-02-14", "2024-02-16"]
    assert column("30224", "20240216")[0] == ["ambiguous_date", "2024-02-16"], "3 February or 2 March 2024"


def test_five_digits_wait_for_the_rest_of_their_column() -> None:
    from bevelbook.notes.columns import UndecidedError

    with pytest.raises(UndecidedError):
        Cells(DATE, Settled(certain=False), TODAY, {}, False)["45336"]


# Dates without a year


def test_a_date_without_a_year_takes_the_one_that_is_said() -> None:
    cells = ("14.02.", "14 Feb", "Feb 14", "14-Feb", "3/4", "14/2", "2023-05-06")
    found, _ = column(*cells)
    assert found == ["date_incomplete"] * 6 + ["2023-05-06"]
    found, _ = column(*cells, options=TODAY._replace(year=2024))
    assert found == ["2024-02-14"] * 4 + ["2024-04-03", "2024-02-14", "2023-05-06"]
    found, _ = column("14.02.", "30.12.", "29 Feb", options=TODAY._replace(year=2026))
    assert found == ["2026-02-14", "future_date", "date_invalid"]


@pytest.mark.parametrize("cell", ["Feb-24", "2/2024", "2024-02", "Feb 2024", "2024"])
def test_a_month_without_a_day_stays_incomplete(cell: str) -> None:
    assert column(cell, options=TODAY._replace(year=2024))[0] == ["date_incomplete"]
    assert questions(cell) == []


# What is asked


def test_an_ambiguous_column_asks_what_is_first_with_three_cells() -> None:
    (asked,) = questions("03/02/2024", "05/05/2024", "04/03/2024", "06/07/2024", "08/09/2024")
    assert (asked.option, asked.about, asked.is_needed) == (ReadingOption.DATE_ORDER, "Day", True)
    assert asked.words == "What is first in the dates of Day: the day or the month?"
    assert set(asked.samples) < {"03/02/2024", "04/03/2024", "06/07/2024", "08/09/2024"}
    assert len(asked.samples) == 3
    assert [answer.value for answer in asked.answers] == ["dmy", "mdy"]
    text = asked.answers[0].words.split()[2]
    days = [column(text, options=TODAY._replace(date_order=answer.value))[0][0] for answer in asked.answers]
    assert [answer.words for answer in asked.answers] == [
        f"the day: {text} is {days[0]}",
        f"the month: {text} is {days[1]}",
    ]


def test_a_day_in_the_future_is_never_offered_as_a_reading() -> None:
    cells = ("05/02/24", "12/02/24", "26/02/24", "11/03/29")
    evidence = Evidence(DATE, None, TODAY)
    evidence.look(cells)
    settled, _ = settle({"date": evidence})
    found = Cells(DATE, settled["date"], TODAY, {}, False)["11/03/29"]
    assert isinstance(found, Fault)
    assert found.reason == "ambiguous_date"
    assert "2011-03-29 (year first)" in found.words
    assert "with the day first it is later than today" in found.words
    assert "2029" not in found.words
    (asked,) = questions("11/03/29", *cells)
    assert "11/03/29" not in "".join(answer.words for answer in asked.answers)
    assert "2029" not in "".join(answer.words for answer in asked.answers)


def test_only_the_orders_that_are_left_are_offered() -> None:
    (asked,) = questions("05/02/24", "26/02/24")
    assert [answer.value for answer in asked.answers] == ["dmy", "ymd"]
    (asked,) = questions("05/02/04")
    assert [answer.value for answer in asked.answers] == ["dmy", "mdy", "ymd"]


def test_nothing_is_asked_of_a_column_that_is_settled() -> None:
    assert questions("14/02/2024", "03/04/2024") == []
    assert questions("03/04/2024", options=TODAY._replace(date_order="dmy")) == []
    assert questions("2024-02-14", "-", "spring") == []


def test_a_year_is_asked_for_where_only_that_is_left_out() -> None:
    (asked,) = questions("14.02.", "2024-02-14", "14 Feb")
    assert asked.option is ReadingOption.YEAR
    assert [answer.value for answer in asked.answers] == ["2026", "2025", "2024"]
    assert set(asked.samples) == {"14.02.", "14 Feb"}
    assert questions("14.02.", options=TODAY._replace(year=2024)) == []


def test_evidence_of_days_needs_no_today() -> None:
    evidence = DayEvidence(DATE, Options())
    evidence.look("28-02-24")
    assert evidence.settle("date", None, []).order is None
