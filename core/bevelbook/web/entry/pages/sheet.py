"""The lines of a printed run sheet, typed in for a day: one run a line, each stored by itself."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.display.days import day_in_words
from bevelbook.reading import read
from bevelbook.reading.dates import today_iso
from bevelbook.records import BY_NAME
from bevelbook.web.entry.request import EntryRequest, Kept, entry_request
from bevelbook.web.entry.run_head import run_head
from bevelbook.web.entry.sheet_lines import HEAD, MOST_LINES, LineDone, TypedSheet, lines_sent, sheet_of, store_lines
from bevelbook.web.host.arguments import Argument, any_text, whole
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.stored_line import remember_last_entry

DAY: Final = "day"
CAR: Final = "car"
LINE: Final = "line"


async def sheet(request: Any, datasette: Any) -> Any:
    """The sheet of a car on a day, and what was typed in it."""
    from datasette.utils.asgi import Response

    asked = await entry_request(datasette, request)
    day, car = await asked.page.ask(_day_and_car, _given(asked, DAY), _given(asked, CAR))
    if not asked.is_sent:
        return await _shown(asked, day, car, {}, ())
    done = await store_lines(asked, lines_sent(asked.form), day, car)
    stored = [one for one in done if one.entry]
    if any(one.fault for one in done):
        answer = await _shown(asked, day, car, asked.form.after(HEAD), done)
        if stored:
            remember_last_entry(datasette, answer, stored[-1].entry or "")
        return answer
    following = _line(asked.form.text(LINE)) or max((one.line.number for one in done), default=0) + 1
    address = asked.page.links.page(PAGE.address, **{DAY: day, CAR: car, LINE: following})
    if stored:
        return asked.stored(address, Kept(stored[-1].entry or "", None))
    return Response.redirect(address, status=303)


def _given(asked: EntryRequest, name: str) -> str:
    return asked.form.text(name) or asked.page.given(name)


def _day_and_car(connection: sqlite3.Connection, day: str, car: str) -> tuple[str, str]:
    """The day and the car asked for, by name; else today, and the car that ran last."""
    known = run_head(connection, {"run_on": day, "car": car})
    return known.day, known.car_name


async def _shown(asked: EntryRequest, day: str, car: str, head: Mapping[str, str], done: Sequence[LineDone]) -> Any:
    found = await asked.page.ask(sheet_of, day, car, head, done)
    stopped = [row for row in found.rows if row.is_stopped]
    stored = sum(one.entry is not None for one in done)
    return await asked.render(
        PAGE,
        "Enter a run sheet",
        status=400 if stopped else 200,
        sheet=found,
        day_words=day_in_words(day),
        is_of_another_day=day != today_iso(),
        here=stopped[0].number if stopped else _here(asked, found),
        stopped=stopped,
        goes_on=bool(asked.page.given(LINE)) and not stopped,
        said=f"{counted(stored, 'line')} stored." if stored else "",
    )


def _here(asked: EntryRequest, found: TypedSheet) -> int:
    """The line that a phone shows: the one asked for, else the first that is empty."""
    wanted = _line(asked.page.given(LINE))
    if wanted is not None and 1 <= wanted <= len(found.rows):
        return wanted
    return next(row.number for row in found.rows if not row.run)


def _line(text: str) -> int | None:
    """The number of a line in an address or on a button; None for anything else."""
    return int(text) if text.isdecimal() and len(text) <= len(str(MOST_LINES)) else None


def _is_day(given: str) -> bool:
    try:
        return read(BY_NAME["run"].field("run_on"), given) is not None
    except BevelbookError:
        return False


PAGE: Final = EntryPage(
    "sheet", sheet, takes=(Argument(DAY, "a day, as 2026-05-04", _is_day), any_text(CAR), whole(LINE, 1, MOST_LINES))
)
