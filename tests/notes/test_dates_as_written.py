"""Dates as people of many countries write them, read back exactly, a column at a time.

The patterns are the short, medium and long date formats of the Unicode CLDR for each locale, and its month names, as
Babel 2.19 lists them. The days are constructed; the texts are made by Python's ``strftime`` and from those names.
"""

from __future__ import annotations

import random
import re
from datetime import date, timedelta

import pytest

from bevelbook.notes.columns import Cells, Evidence, Fault, Settled, settle
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.reading import Options

OPTIONS = Options(today="2026-11-26")
NUMBERS = {
    "M/d/yy": "en-US",
    "dd/MM/yy": "en-IN, it-IT",
    "dd/MM/y": "en-GB, fr-FR, pt-BR",
    "d/M/yy": "es-ES",
    "dd.MM.yy": "de-DE, cs-CZ",
    "dd.MM.y": "de-DE, da-DK",
    "d.M.y": "fi-FI",
    "d.MM.y": "pl-PL, tr-TR",
    "d. M. y": "cs-CZ, sl-SI",
    "dd. MM. y.": "hr-HR",
    "dd-MM-y": "nl-NL",
    "y-MM-dd": "sv-SE",
    "y. MM. dd.": "hu-HU",
    "y/MM/dd": "ja-JP",
    "y/M/d": "zh-CN",
    "y. M. d.": "ko-KR",
    "yy. M. d.": "ko-KR",
    "y年M月d日": "ja-JP, zh-CN",
    "y년 M월 d일": "ko-KR",
}
"""Patterns of numbers alone, with locales that have them."""
PRACTICE = (
    "MM/dd/y",
    "MM.dd.yy",
    "yy/MM/dd",
    "yy.MM.dd",
    "yy-MM-dd",
    "dd-MM-yy",
    "ddMMyy",
    "ddMMy",
    "yMMdd",
    "dd MM yy",
)
"""Common practice, no source."""
WORDS = ("MMM d, y", "MMMM d, y", "d MMM y", "d MMMM y", "d-MMM-yy", "EEEE, MMMM d, y")
"""Medium, long and full formats of en-US and en-GB, and the one that spreadsheets show."""
MONTHS = {
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
}
LONG = {"de": "d. MMMM y", "fr": "d MMMM y", "es": "d de MMMM de y", "it": "d MMMM y"}
FORMATS = {"y": "%Y", "yy": "%y", "MM": "%m", "MMM": "%b", "MMMM": "%B", "dd": "%d", "EEEE": "%A"}


def some_days() -> list[date]:
    """Sixty days of 2022 to 2024, in no order."""
    chance = random.Random(15)
    return [date(2022, 1, 1) + timedelta(days=chance.randrange(1000)) for _ in range(60)]


def written(day: date, pattern: str, months: list[str] | None = None) -> str:
    """A day in a CLDR pattern; its words in English, unless ``months`` are given."""

    def part(found: re.Match[str]) -> str:
        name = found[0]
        if name == "MMMM" and months:
            return months[day.month - 1]
        return str({"d": day.day, "M": day.month}.get(name) or day.strftime(FORMATS[name]))

    return re.sub(r"y+|M+|d+(?!e)|E+", part, pattern)


def read_column(cells: list[str], options: Options = OPTIONS) -> list[object]:
    evidence = Evidence(BY_NAME["date"], None, options)
    evidence.look(cells)
    settled, _ = settle({"date": evidence})
    read = Cells(BY_NAME["date"], settled["date"], options, {}, False)
    return [read[cell] for cell in cells]


@pytest.mark.parametrize("pattern", [*NUMBERS, *PRACTICE, *WORDS])
def test_a_column_in_one_pattern_is_read_back_exactly(pattern: str) -> None:
    days = some_days()
    assert read_column([written(day, pattern) for day in days]) == [day.isoformat() for day in days]


@pytest.mark.parametrize(
    "time", ["{0} 21:15", "{0} 9:15:03 PM", "{0}, 21:15:03", "{0} 21:15:03 GMT+1", "{0} 21.15 CET"]
)
@pytest.mark.parametrize("pattern", ["d.M.y", "dd/MM/y", "M/d/yy", "y/MM/dd", "y-MM-dd", "d MMM y", "y. M. d."])
def test_a_time_of_day_behind_it_changes_no_day(pattern: str, time: str) -> None:
    days = some_days()
    assert read_column([time.format(written(day, pattern)) for day in days]) == [day.isoformat() for day in days]


@pytest.mark.parametrize("language", MONTHS)
def test_long_dates_of_another_language_need_its_months(language: str) -> None:
    names = MONTHS[language].split()
    known = {name.casefold(): number for number, name in enumerate(names, start=1)}
    days = some_days()
    cells = [written(day, LONG[language], names) for day in days]
    assert read_column(cells, OPTIONS._replace(months=known)) == [day.isoformat() for day in days]
    for found, day in zip(read_column(cells), days, strict=True):
        assert found == day.isoformat() or (isinstance(found, Fault) and found.reason == "date_unparseable")


@pytest.mark.parametrize("pattern", ["dd/MM/y", "MM/dd/y", "dd.MM.yy", "yy/MM/dd", "ddMMyy", "dd-MM-yy"])
def test_no_shorter_column_is_misread(pattern: str) -> None:
    """A column may be refused where it proves nothing, but never read as other days."""
    days = some_days()
    for first in range(0, len(days), 3):
        some = days[first : first + 3]
        for found, day in zip(read_column([written(day, pattern) for day in some]), some, strict=True):
            assert found == day.isoformat() or isinstance(found, Fault)


def test_the_patterns_are_those_of_the_days() -> None:
    assert written(date(2024, 2, 5), "yy. M. d.") == "24. 2. 5."
    assert written(date(2024, 2, 5), "ddMMyy") == "050224"
    assert written(date(2024, 2, 5), "d de MMMM de y", MONTHS["es"].split()) == "5 de febrero de 2024"


@pytest.mark.parametrize(
    ("cell", "finding"),
    [
        ("Wed 18 Feb 2026", ()),
        ("Tue 18 Feb 2026", ("weekday_differs",)),
        ("Tuesday, 18 February 2026 21:15", ("weekday_differs", "time_dropped")),
        ("18 Feb 2026", ()),
    ],
)
def test_a_weekday_that_is_not_the_one_of_the_day_is_a_finding(cell: str, finding: tuple[str, ...]) -> None:
    """18 February 2026 is a Wednesday by the calendar of the standard library (datetime)."""
    cells = Cells(BY_NAME["date"], Settled(), Options(today="2026-11-26"), {}, False)
    assert (cells[cell], cells.findings.get(cell, ())) == ("2026-02-18", finding)


@pytest.mark.parametrize("cell", ["14 Feb '24", "Feb 14, ’24", "14th Feb '24"])
def test_a_year_with_its_century_left_out_behind_an_apostrophe_is_read(cell: str) -> None:
    assert Cells(BY_NAME["date"], Settled(), OPTIONS, {}, False)[cell] == "2024-02-14"


def test_the_first_of_a_month_is_read_as_french_writes_it() -> None:
    options = OPTIONS._replace(months={"mars": 3})
    assert Cells(BY_NAME["date"], Settled(), options, {}, False)["1er mars 2024"] == "2024-03-01"
