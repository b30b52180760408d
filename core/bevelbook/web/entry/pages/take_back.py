"""What a phone stored last, taken back."""

from __future__ import annotations

import asyncio
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, Final

from bevelbook.declare.errors import BevelbookError
from bevelbook.store.entry_contents import EntryBook
from bevelbook.taking_back.choosing import chosen
from bevelbook.taking_back.take_back import Outcome
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.private_datasette import BadRequest
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.stored_line import last_entry, remember_last_entry, stored_line_of

NOT_TAKEN_BACK: Final = "Not taken back"
NOT_THE_LAST: Final = "This is not the last entry of this phone any more. Nothing was changed."


def taken_back(asked: EntryRequest, entry_id: str) -> Outcome:
    """Take an entry back in the name of the person who asks. Raises BevelbookError where that cannot be."""
    from bevelbook.taking_back.take_back import take_back as carry_out

    path = Path(asked.page.team.path)
    with closing(asked.open_for_writing()) as connection:
        entry = chosen(EntryBook(connection), entry_id, by=asked.person, of=_anybody(connection, entry_id))
        words = "from the browser: take back"
        return carry_out(connection, path, [entry], asked.page.registry, asked=words, by=asked.person)


def _anybody(connection: sqlite3.Connection, entry_id: str) -> list[str]:
    """Whoever made the entry: a phone may have changed hands since."""
    row = connection.execute("SELECT made_by FROM entries WHERE id = ?", (entry_id,)).fetchone()
    return [] if row is None else [row[0] or ""]


async def take_back(request: Any, datasette: Any) -> Any:
    """Take back the last entry of the phone, and say what came of it. That is its last entry then, and can be brought
    back in the same way."""
    asked = await entry_request(datasette, request)
    entry_id = last_entry(datasette, request)
    if not asked.is_sent:
        raise BadRequest(NOT_THE_LAST)
    if entry_id is None or asked.form.text("entry") != entry_id:
        return await asked.render(PAGE, NOT_TAKEN_BACK, status=400, lines=(), fault=NOT_THE_LAST, line=None)
    lines: tuple[str, ...] = ()
    fault, line = "", None
    try:
        done = await asyncio.to_thread(taken_back, asked, entry_id)
        failed = [] if done.upkeep is None else [*done.upkeep.sentences()]
        lines = (*(line for one in done.taken for line in one.lines), *failed)
        line = await asked.page.ask(stored_line_of, str(done.taken[0].by_entry))
    except BevelbookError as stopped:
        fault = fault_words(stopped)
    title = line.done if line else NOT_TAKEN_BACK
    answer = await asked.render(PAGE, title, status=400 if fault else 200, lines=lines, fault=fault, line=line)
    if line is not None:
        remember_last_entry(datasette, answer, line.entry)
    return answer


PAGE: Final = EntryPage("take-back", take_back)
