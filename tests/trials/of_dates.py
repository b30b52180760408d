"""Days and times as they are read: a day that was written is the day that comes out, or it is asked which one.

The outside reference is :mod:`datetime`: it writes the days, counts those of spreadsheets, and says which exist.
"""

from __future__ import annotations

import random
from datetime import date, timedelta
from pathlib import Path

from bevelbook.declare.fields import Field
from bevelbook.reading import BY_HAND, Options, ReadingError, read

DAY = Field("run_on", "date", "Day", nullable=True, default=None, may_come=True)
PAST = Field("run_on", "date", "Day", nullable=True, default=None)
WHICH = Field("day", "which_day", "Day", nullable=True, default=None)
TIME = Field("at", "time", "Time", nullable=True, default=None)
TODAY = "2026-05-04"
REASONS = frozenset(
    (
        "date_unparseable",
        "date_invalid",
        "date_incomplete",
        "ambiguous_date",
        "future_date",
        "time_unparseable",
        "formula_in_cell",
        "spreadsheet_error",
        "control_character",
    )
)
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
FULL = (
    *("January", "February", "March", "April", "May", "June", "July", "August"),
    *("September", "October", "November", "December"),
)
ODD = "0123456789-/. :,TZ'apmhAPM年月日JanuFebstndo+٣\u200b\u202e\u00a0"


def case(source: random.Random, folder: Path) -> str:
    """One text, read as a day or as a time."""
    draw = source.random()
    if draw < 0.4:
        return written_case(source)
    if draw < 0.5:
        return counted_case(source)
    if draw < 0.65:
        return time_case(source)
    return odd_case(source)


def any_day(source: random.Random) -> date:
    if source.random() < 0.2:
        return date.fromordinal(source.randrange(1, date.max.toordinal() + 1))
    return date(1980, 1, 1) + timedelta(days=source.randrange(100 * 365))


def forms(source: random.Random, day: date) -> tuple[str, dict[str, date]]:
    """A text for a day, and the day by each order of its parts; one key ``""`` where there is one reading."""
    y, m, d = day.year, day.month, day.day
    short = f"{y % 100:02}"
    mark = source.choice("-/. ")
    pad = source.choice(("02", ""))
    dd, mm = format(d, pad), format(m, pad)
    draw = source.randrange(9)
    if draw == 0 or (y < 1000 and draw != 1):
        return f"{y:04}-{m:02}-{d:02}", {"": day}
    if draw == 1:
        return f"{y:04}{mark}{mm}{mark}{dd}", {"": day}
    if draw == 2 and 1900 <= y < 2100:
        return day.strftime("%Y%m%d"), {"": day}
    if draw in (3, 4):
        order = source.choice(("dmy", "mdy"))
        first, second = (dd, mm) if order == "dmy" else (mm, dd)
        if mark == ".":
            first, second = dd, mm
        text = f"{first}{mark}{second}{mark}{y}"
        if mark == ".":
            return text, {"": day}
        return text, readings({"dmy": (y, int(second), int(first)), "mdy": (y, int(first), int(second))})
    if draw in (5, 6) and 1980 <= y < 2080:
        parts = {"dmy": (dd, mm, short), "mdy": (mm, dd, short), "ymd": (short, f"{m:02}", f"{d:02}")}
        a, b, c = parts[source.choice(tuple(parts))]
        found = {"dmy": (full(c), int(b), int(a)), "mdy": (full(c), int(a), int(b))}
        if len(a) == 2:
            found["ymd"] = (full(a), int(b), int(c))
        if len(c) == 1:
            return f"{y:04}-{m:02}-{d:02}", {"": day}
        return mark.join((a, b, c)), readings(found)
    month = source.choice((MONTHS[m - 1], FULL[m - 1]))
    suffix = "st" if d in (1, 21, 31) else "nd" if d in (2, 22) else "rd" if d in (3, 23) else "th"
    ways = (
        f"{d} {month} {y}",
        f"{month} {d}, {y}",
        f"{d}{suffix} of {month} {y}",
        f"{d}-{month}-{y}",
        f"{d:02} {month.lower()} {y}",
    )
    return source.choice(ways) if y >= 1000 else day.isoformat(), {"": day}


def full(two: str) -> int:
    return int(two) + (1900 if int(two) >= 80 else 2000)


def readings(found: dict[str, tuple[int, int, int]]) -> dict[str, date]:
    kept = {}
    for order, (y, m, d) in found.items():
        try:
            kept[order] = date(y, m, d)
        except ValueError:
            continue
    return kept


def written_case(source: random.Random) -> str:
    """A day written in a known form."""
    day = any_day(source)
    text, orders = forms(source, day)
    behind = source.choice(("", "", "", "", " 14:05", " 14:05:09", "T14:05:09Z", ", 2:05 pm"))
    if behind and orders != {}:
        text += behind if text[-1].isdigit() else ""
    order = source.choice((None, "dmy", "mdy", "ymd"))
    field = source.choice((DAY, PAST, WHICH))
    said = Options(date_order=order, today=TODAY) if source.random() < 0.8 else BY_HAND._replace(date_order=order)
    try:
        found = read(field, text, said)
    except ReadingError as refused:
        assert refused.code in REASONS, f"a reason nobody declared: {refused.code}"
        if refused.code == "ambiguous_date":
            assert order is None and len(set(orders.values())) > 1, f"ambiguous: {text!r} may only be {orders}"
        elif refused.code == "future_date":
            assert field is PAST, f"refused as to come: {text!r}"
        else:
            usual = {"dmy"} if "." in text else {"dmy", "mdy"} | ({"ymd"} if "-" in text else set())
            unusual = order is None and not usual & set(orders)
            assert refused.code == "date_invalid" and (order is not None or not orders or unusual), (
                f"not read: {text!r}, which is {day}: {refused}"
            )
            assert "" not in orders, f"not read: {text!r}, which has one reading: {refused}"
            assert order not in orders, f"not read: {text!r} in the order {order}: {refused}"
        return refused.code
    wanted = orders.get("") or (orders.get(order) if order else None)
    if wanted is None:
        assert order is None, f"read in another order than said: {text!r} as {found}"
        kinds = set(orders.values())
        assert found in {one.isoformat() for one in kinds}, f"wrong: {text!r} is {found}, and may be {orders}"
        # By hand a two-digit year in front stands between dashes only.
        usual = {one for way, one in orders.items() if way != "ymd" or "-" in text} or kinds
        if "." in text:
            usual = {one for way, one in orders.items() if way in ("", "dmy")} or usual
        assert len(usual) == 1, f"guessed: {text!r} is {found}, and may be {orders}"
    else:
        assert found == wanted.isoformat(), f"wrong: {text!r} is {found}, and was {wanted}"
    assert read(field, found, said) == found, f"not the same again: {found}"
    return "read"


def counted_case(source: random.Random) -> str:
    """A day as a spreadsheet counts it, from 1900 or from 1904."""
    base = source.choice((1900, 1904, None))
    number = source.choice((source.randrange(30_000, 60_001), source.randrange(10_000, 100_000)))
    text = f"{number}{source.choice(('', '.0', '.5', ',75'))}"
    try:
        found = read(DAY, text, Options(date_base=base, today=TODAY))
    except ReadingError as refused:
        assert refused.code in REASONS and not 30_000 <= number <= 60_000, f"not read: {text!r}: {refused}"
        return refused.code
    first = date(1904, 1, 1) if base == 1904 else date(1899, 12, 30)
    assert found == (first + timedelta(days=number)).isoformat(), f"wrong: {text!r} of {base} is {found}"
    return "counted"


def time_case(source: random.Random) -> str:
    """A time of day in a known form, or one that there is not."""
    hour, minute, second = source.randrange(30), source.randrange(70), source.randrange(60)
    half = source.choice(("", "", "am", "pm", " AM", " p.m."))
    mark = source.choice((":", ".", "h", ""))
    text = f"{hour:{source.choice(('02', ''))}}{mark}{minute:02}"
    if mark == "" and len(text) == 3:
        text = f"0{text}"
    text += (f":{second:02}" if mark == ":" and source.random() < 0.3 else "") + half
    exists = minute < 60 and ((1 <= hour <= 12) if half else hour < 24)
    try:
        found = read(TIME, text)
    except ReadingError as refused:
        assert refused.code == "time_unparseable" and not exists, f"not read: {text!r}: {refused}"
        return "time refused"
    assert exists, f"no such time: {text!r} is {found}"
    in_day = hour % 12 + (12 if "p" in half.lower() else 0) if half else hour
    assert found == f"{in_day:02}:{minute:02}", f"wrong: {text!r} is {found}"
    assert read(TIME, found) == found
    return "time read"


def odd_case(source: random.Random) -> str:
    """A torn or random text: refused, or a day of the calendar that is the same again."""
    draw = source.random()
    if draw < 0.6:
        text, _ = forms(source, any_day(source))
        for _ in range(source.randrange(1, 4)):
            at = source.randrange(len(text) + 1)
            text = text[:at] + source.choice(ODD) + text[at + source.randrange(2) :]
    elif draw < 0.9:
        text = "".join(source.choice(ODD) for _ in range(source.randrange(1, 16)))
    else:
        text = source.choice(("1", "9/", "-", "1 ", "Jan ", "0")) * source.choice((300, 2500, 5000)) + "x"
    field = source.choice((DAY, PAST, WHICH, TIME))
    said = Options(
        date_order=source.choice((None, "dmy", "mdy", "ymd")),
        date_base=source.choice((None, 1900, 1904)),
        year=source.choice((None, 2024, 2025)),
        today=TODAY,
    )
    try:
        found = read(field, text, said)
    except ReadingError as refused:
        assert refused.code in REASONS, f"a reason nobody declared: {refused.code} for {text!r}"
        return "refused"
    if found is None:
        return "nothing"
    if field is DAY or field is PAST:
        assert date.fromisoformat(found).isoformat() == found, f"not in the calendar: {text!r} is {found}"
        assert field is DAY or found <= TODAY
    assert read(field, found, said) == found, f"not the same again: {text!r} is {found!r}"
    return "odd, read"
