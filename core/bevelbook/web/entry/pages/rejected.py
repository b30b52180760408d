"""Rows of imported files that were rejected: the files that have some, and the rows of one, mended and brought in."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.calculating.recalculate import recalculate_for_notes
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.display.begun import begun
from bevelbook.display.clock import clock_in_words
from bevelbook.notes.headings import Heading
from bevelbook.notes.mending import (
    BroughtIn,
    Mend,
    MendedBefore,
    bring_in,
    change_earlier,
    heading_of_kept,
    mended_before,
)
from bevelbook.notes.rejected_rows import (
    FileWithRejects,
    RejectedRow,
    files_with_rejects,
    kept_file_called,
    open_rows,
)
from bevelbook.store.ids import new_id
from bevelbook.store.sqlite_errors import in_words
from bevelbook.web.entry.mending_form import (
    RowCard,
    RowSent,
    TwoAnswersError,
    card_of,
    differs_from,
    headings_sent,
    rows_a_page,
    rows_sent,
)
from bevelbook.web.entry.request import KEY, EntryRequest, Kept, entry_request
from bevelbook.web.entry.stops import TRY_AGAIN
from bevelbook.web.host.arguments import whole
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.short_text import short
from bevelbook.web.shared.stored_line import remember_last_entry

NUMBER: Final = "at"
"""Which of the pages of rows is shown."""
_GONE: Final = "This file is not in the book any more: it was taken back, or never was here. Nothing was stored."


class FileToMend(NamedTuple):
    """A kept file with its open rows, and the heading that it was read with, where it can still be read."""

    id: str
    called: str
    heading: Heading | None
    rows: tuple[RejectedRow, ...]


class EarlierChanged(NamedTuple):
    """The entry by which rows changed earlier ones, or what stopped it."""

    entry: str | None = None
    stopped: str = ""


class Mended(NamedTuple):
    """What came of a form: the entry, how many rows came in, and for the others what is said of them."""

    entry: str | None = None
    brought: int = 0
    known: int = 0
    faults: Mapping[str, str] = {}
    came: BroughtIn = BroughtIn()
    before: Mapping[str, MendedBefore] = {}
    said: tuple[str, ...] = ()
    fault: str = ""


async def rejected(request: Any, datasette: Any) -> Any:
    """The files with rows to mend; or the rows of one, and what was typed in them."""
    from datasette.utils import tilde_decode

    asked = await entry_request(datasette, request)
    row = request.url_vars.get("row")
    if not row:
        return await _listed(asked)
    file = await asked.page.ask(_file_to_mend, tilde_decode(row))
    sent = rows_sent(asked.form) if asked.is_sent else []
    if file is None:
        typed = [f"line {one.line or '?'}: {words}" for one in sent if (words := one.said(headings_sent(asked.form)))]
        return await _listed(asked, status=404 if not sent else 400, gone=_GONE, typed=typed)
    if not sent:
        return await _shown(asked, file, {}, Mended())
    done = await _mended(asked, file, sent)
    if done.faults or done.came.still or done.said or done.fault or not (done.entry or done.brought):
        file = await asked.page.ask(_file_to_mend, file.id) or file._replace(rows=())
        return await _shown(asked, file, {one.id: one for one in sent}, done)
    return asked.stored(asked.page.links.page(f"{PAGE.address}/{file.id}"), Kept(done.entry or asked.key, None))


def _file_to_mend(connection: sqlite3.Connection, note_file: str) -> FileToMend | None:
    called = kept_file_called(connection, note_file)
    if called is None:
        return None
    found = tuple(open_rows(connection, note_file))
    return FileToMend(note_file, called, heading_of_kept(connection, note_file), found)


async def _listed(asked: EntryRequest, *, status: int = 200, gone: str = "", typed: Sequence[str] = ()) -> Any:
    found: list[FileWithRejects] = await asked.page.ask(files_with_rejects)
    links = [
        (
            asked.page.links.page(f"{PAGE.address}/{one.id}"),
            one.called,
            f"{counted(one.waiting, 'row')} to mend, imported {clock_in_words(one.read_at)}",
        )
        for one in found
    ]
    return await asked.render(PAGE, "Rejected rows", status=status, files=links, file=None, gone=gone, typed=typed)


async def _mended(asked: EntryRequest, file: FileToMend, sent: Sequence[RowSent]) -> Mended:
    """Bring in what was mended. What is wrong with the rest is said, and nothing that was typed is lost."""
    rows = {one.id: one for one in file.rows}
    faults: dict[str, str] = {}
    mends: list[Mend] = []
    changing: list[RejectedRow] = []
    for one in sent:
        if one.is_to_change and one.id in rows:
            changing.append(rows[one.id])
            continue
        try:
            mend = one.mend(rows[one.id]) if one.id in rows else None
        except TwoAnswersError as two:
            faults[one.id] = two.words
        else:
            mends += [mend] if mend else []
    gone = [one.id for one in sent if one.id not in rows]
    try:
        came = await asyncio.to_thread(_bring_in, asked, file, mends) if mends else BroughtIn()
        changed = await asyncio.to_thread(_change, asked, file, changing) if changing else EarlierChanged()
    except BevelbookError as fault:
        fault.place = fault.place._replace(file=None)
        return Mended(faults=faults, fault=f"{fault_words(fault)} {TRY_AGAIN}")
    before = {**await asked.page.ask(_mended_before, gone), **came.before}
    own = [reject for reject, one in before.items() if one.entry == asked.key]
    said = _said_before(asked, file, {one.id: one for one in sent}, before)
    faults |= dict.fromkeys((one.id for one in changing), changed.stopped) if changed.stopped else {}
    count = len(came.ids) + len([one for one in own if one not in said]) + (0 if changed.stopped else len(changing))
    nothing = not (count or said or faults or came.still or any(one.entry for one in before.values()))
    return Mended(
        changed.entry or came.entry or (asked.key if own else None),
        count,
        came.known,
        faults,
        came,
        before,
        tuple(said.values()),
        "Nothing was changed yet: choose or type what is right, then bring it in." if nothing else "",
    )


def _bring_in(asked: EntryRequest, file: FileToMend, mends: Sequence[Mend]) -> BroughtIn:
    path = Path(asked.page.team.path)
    with closing(asked.open_for_writing()) as connection, in_words(path):
        there = connection.execute("SELECT 1 FROM entries WHERE id = ?", (asked.key,)).fetchone()
        return bring_in(
            connection,
            path,
            file.id,
            mends,
            by=asked.person,
            asked=f"from the browser: rejected rows of {file.called}, mended",
            entry_id=new_id() if there else asked.key,
            also=lambda note_file: _keep_up(asked, connection, note_file),
        )


def _change(asked: EntryRequest, file: FileToMend, rows: Sequence[RejectedRow]) -> EarlierChanged:
    """Have rows change the earlier ones that they look like; an entry of its own, as the whole file is read again."""
    path = Path(asked.page.team.path)
    with closing(asked.open_for_writing()) as connection, in_words(path):
        there = connection.execute("SELECT 1 FROM entries WHERE id = ?", (asked.key,)).fetchone()
        entry = new_id() if there else asked.key
        stopped = change_earlier(
            connection,
            path,
            file.id,
            [row.line for row in rows],
            by=asked.person,
            asked=f"from the browser: rows of {file.called} changed earlier ones",
            entry_id=entry,
            also=lambda note_file: _keep_up(asked, connection, note_file),
        )
    return EarlierChanged(None if stopped else entry, begun(stopped))


def _keep_up(asked: EntryRequest, connection: sqlite3.Connection, note_file: str) -> None:
    recalculate_for_notes(connection, asked.page.registry, note_file, asked.person)


def _mended_before(connection: sqlite3.Connection, rejects: Sequence[str]) -> dict[str, MendedBefore]:
    return {one: mended_before(connection, one) for one in rejects}


def _said_before(
    asked: EntryRequest, file: FileToMend, sent: Mapping[str, RowSent], before: Mapping[str, MendedBefore]
) -> dict[str, str]:
    """What is said of rows that came in before otherwise than was typed here, by somebody else meanwhile or by this
    form, which was gone back to and changed."""
    said: dict[str, str] = {}
    for reject, one in before.items():
        mine = sent.get(reject)
        if mine is None:
            continue
        line = f"Line {mine.line or '?'}"
        if one.entry is None:
            said[reject] = f"{line} is not among the rejected rows any more. You typed: {mine.said(_headings(file))}."
        elif mine.is_touched(one.was) and file.heading and (other := differs_from(one, file.heading, mine.texts())):
            cells = (f"{name} {short(at) or 'empty'}, you typed {short(my) or 'nothing'}" for name, at, my in other)
            when, who = clock_in_words(one.at), one.by or "somebody"
            if one.entry == asked.key:
                said[reject] = (
                    f"{line}: you brought it in at {when} with {'; '.join(cells)}. What came first is in: correct it "
                    "on its own page, or take it back."
                )
            else:
                said[reject] = f"{line}: {who} brought it in at {when} with {'; '.join(cells)}. What {who} wrote is in."
    return said


def _headings(file: FileToMend) -> Sequence[str]:
    return file.heading.cells if file.heading else ()


async def _shown(asked: EntryRequest, file: FileToMend, sent: Mapping[str, RowSent], done: Mended) -> Any:
    """The rows of a page, those that are not in though they were mended first."""
    most = rows_a_page(file.heading) if file.heading else 1
    pages = max(1, -(-len(file.rows) // most))
    given = asked.page.given(NUMBER)
    number = min(int(given), pages) if given.isdecimal() and len(given) < 7 and int(given) else 1
    stopped = {*done.faults, *done.came.still} | ({*sent} if done.fault else set())
    first = [row for row in file.rows if row.id in stopped]
    here = file.rows[(number - 1) * most : number * most]
    rows = [*first, *(row for row in here if row.id not in stopped)][: max(most, len(first))]
    cards = await asked.page.ask(_cards, file, rows, sent, done) if file.heading else []
    status = 400 if stopped or done.said or done.fault else 200
    answer = await asked.render(
        PAGE,
        f"Rejected rows of {file.called}",
        status=status,
        file=file,
        cards=cards,
        key=new_id() if done.entry or not asked.is_sent else asked.key,
        key_name=KEY,
        number=number,
        pages=pages,
        page_links=_page_links(asked, file, number, pages, most),
        said=_in_words(done),
        said_before=done.said,
        fault=done.fault,
        stopped=[one for one in cards if one.is_still_wrong],
    )
    if done.entry:
        remember_last_entry(asked.page.datasette, answer, done.entry)
    return answer


def _cards(
    connection: sqlite3.Connection,
    file: FileToMend,
    rows: Sequence[RejectedRow],
    sent: Mapping[str, RowSent],
    done: Mended,
) -> list[RowCard]:
    assert file.heading is not None
    return [
        card_of(
            connection,
            file.heading,
            row,
            date.today(),
            sent=sent.get(row.id),
            still=done.came.still.get(row.id),
            fault=done.faults.get(row.id, ""),
        )
        for row in rows
    ]


def _in_words(done: Mended) -> str:
    if not done.brought:
        return "What you sent is in already." if done.before and not done.said and not done.fault else ""
    known = f" {counted(done.known, 'row')} of them the book had already." if done.known else ""
    return f"{counted(done.brought, 'row')} brought in.{known}"


def _page_links(
    asked: EntryRequest, file: FileToMend, number: int, pages: int, most: int
) -> list[tuple[str, str, str]]:
    """The pages before and after, with the lines that they begin with."""
    return [
        (
            asked.page.links.page(f"{PAGE.address}/{file.id}", **{NUMBER: other}),
            words,
            f"from line {file.rows[(other - 1) * most].line}",
        )
        for other, words in ((number - 1, "Rows before"), (number + 1, "More rows"))
        if 1 <= other <= pages
    ]


PAGE: Final = EntryPage("rejected", rejected, below="(/(?P<row>[^/]+))?", takes=(whole(NUMBER, 1, 999_999),))
