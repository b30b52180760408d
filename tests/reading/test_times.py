"""Times of day. The 24-hour form is that of ISO 8601; noon and midnight with am and pm as the Government Publishing
Office's style manual has them (12 a.m. is midnight, 12 p.m. noon; from memory)."""

from __future__ import annotations

import pytest

from bevelbook.declare.fields import record, time
from bevelbook.reading import BY_HAND, ReadingError, read


@record
class Started:
    at: str | None = time("Time of day", default=None)


FIELD = Started.fields[0]


@pytest.mark.parametrize(
    ("text", "read_as"),
    [
        ("14:10", "14:10"),
        ("14.10", "14:10"),
        ("14h10", "14:10"),
        ("1410", "14:10"),
        ("910", "09:10"),
        ("9:05", "09:05"),
        (" 2:10 pm ", "14:10"),
        ("2.10PM", "14:10"),
        ("2 p.m.", "14:00"),
        ("12:05 am", "00:05"),
        ("12 pm", "12:00"),
        ("0:00", "00:00"),
        ("14:10:59", "14:10"),
        ("-", None),
        ("", None),
    ],
)
def test_a_time_is_read_as_people_write_it(text: str, read_as: str | None) -> None:
    assert read(FIELD, text, BY_HAND) == read_as


@pytest.mark.parametrize("text", ["25:99", "24:00", "14:60", "2510", "14", "after lunch", "13 pm", "0:10 am", "14:1"])
def test_what_is_not_a_time_is_refused_with_what_is_wanted(text: str) -> None:
    with pytest.raises(ReadingError, match="wanted a time of day such as 14:05") as refused:
        read(FIELD, text, BY_HAND)
    assert refused.value.code == "time_unparseable"
