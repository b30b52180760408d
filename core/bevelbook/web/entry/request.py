"""The request behind a page that writes: who writes, what was typed, and the one way to write."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any, Final, Generic, NamedTuple, TypeVar

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.web.entry.noted_moment import NOTED_BY, noted_in
from bevelbook.web.entry.people import as_recorded, people_of
from bevelbook.web.entry.words_of_stop import words_of_page
from bevelbook.web.host.answers_to_scripts import asks_answer, done_answer, wants_answer
from bevelbook.web.host.commands_of_book import naming_book_in_lines
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.entry_gate import NOT_PAIRED, STORED
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.phone_of_request import phone_in
from bevelbook.web.host.private_datasette import may_enter
from bevelbook.web.host.sent_files import SentFile, files_in
from bevelbook.web.pairing.pairings_file import Phone
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.stored_line import last_entry, remember_last_entry, stored_line_of
from bevelbook.web.shared.typed_form import TypedForm, typed_form

T = TypeVar("T")

KEY: Final = "key"
"""The hidden field with the id of the entry that a form will make."""
_ID: Final = late_pattern(r"[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")


class Kept(NamedTuple, Generic[T]):
    """What a form stored: the id of its entry, and what the writing returned.

    ``known`` is set where the same form had stored it before: then nothing was written and there is no ``value``.
    """

    entry: str
    value: T | None
    known: bool = False


class EntryRequest(NamedTuple):
    """One request of a paired phone; ``person`` is who writes, ``own_key`` the id of an entry whose form has none."""

    page: PageRequest
    person: str | None
    form: TypedForm
    phone: Phone
    own_key: str

    @property
    def is_sent(self) -> bool:
        """Whether a form was sent, not only opened."""
        return bool(self.page.request.method == "POST")

    @property
    def is_handed_over(self) -> bool:
        """Whether a script sent the form, which wants its answer as JSON."""
        return self.is_sent and wants_answer(self.page.request)

    @property
    def key(self) -> str:
        """The id of the entry that the form will make: the one it was drawn with, else one of this request."""
        given = self.form.text(KEY)
        return given if _ID.fullmatch(given) else self.own_key

    def file(self, name: str) -> SentFile | None:
        """The file of a field; None where none was chosen."""
        found = files_in(self.page.request).get(name)
        return found[-1] if found else None

    async def row_id(self, kind_name: str) -> str:
        """The id of the record named in the address; of one that was removed while its form was open the id that the
        form was for. Raises NotFound for any other."""
        from datasette.utils import tilde_decode
        from datasette.utils.asgi import NotFound

        try:
            return await self.page.row_id(kind_name)
        except NotFound:
            if self.is_sent:
                return str(tilde_decode(self.page.request.url_vars["row"]))
            raise

    async def write(self, act: Callable[[sqlite3.Connection], T], *, asked: str, reason: str | None = None) -> Kept[T]:
        """What a function returns that writes, in one transaction that is one entry of this person.

        ``asked`` are the words that the entry keeps, with the ``reason`` where a person gave one. A form
        that has stored its entry already writes nothing more.
        """
        return await asyncio.to_thread(self._write, act, asked, self.key, reason)

    def _write(self, act: Callable[[sqlite3.Connection], T], asked: str, key: str, reason: str | None) -> Kept[T]:
        path = Path(self.page.team.path)
        with (
            closing(self.open_for_writing()) as connection,
            transaction(connection, path, asked=asked, by=self.person, entry_id=key) as entry,
        ):
            entry.reason = reason
            if connection.execute("SELECT 1 FROM entries WHERE id = ?", (key,)).fetchone():
                return Kept(key, None, known=True)
            return Kept(key, act(connection))

    def open_for_writing(self) -> sqlite3.Connection:
        """A connection that writes to the book that the phone is paired with. Raises DatabaseError."""
        entry = state_of(self.page.datasette).entry
        book = entry.phones.book if entry else None
        return open_for_writing(Path(self.page.team.path), while_served=True, book=book)

    def stored(
        self,
        address: str,
        kept: Kept[Any],
        *,
        words: str = STORED,
        more: Sequence[str] = (),
        left_out: Sequence[str] = (),
    ) -> Any:
        """The answer after a save: on to an address, which says what was stored; for a script that address, with words
        and further sentences, and those of them that say what was left out."""
        from datasette.utils.asgi import Response

        if self.is_handed_over:
            words, *named = self._naming_book(words, *more)
            out = [self._naming_book(one)[0] for one in left_out]
            answer = done_answer(self.key, "known" if kept.known else "stored", words, named, address, out)
        else:
            answer = Response.redirect(address, status=303)
        remember_last_entry(self.page.datasette, answer, kept.entry)
        return answer

    def _naming_book(self, *lines: str) -> list[str]:
        """Lines for a script, whose commands name the file of the book; then a further one says where to type them."""
        return naming_book_in_lines(self.page.datasette, self.page.team.name, lines)

    async def render(self, page: EntryPage, title: str, *, status: int = 200, **context: Any) -> Any:
        """The answer with the page's template, which is given the context, and what this phone stored last."""
        if self.is_handed_over:
            return asks_answer(self.key, " ".join(self._naming_book(words_of_page(context))))
        last = last_entry(self.page.datasette, self.page.request)
        stored = await self.page.ask(stored_line_of, last) if last else None
        answer = await self.page.render(page, title, stored=stored, person=self.person, **context)
        answer.status = status
        answer.headers["Cache-Control"] = "no-store"
        return answer


async def entry_request(datasette: Any, request: Any) -> EntryRequest:
    """The request of a paired phone. Raises Forbidden for any other."""
    from datasette.utils.asgi import Forbidden

    page = await page_request(datasette, request)
    phone = phone_in(request)
    if phone is None or not await may_enter(datasette, request.actor, page.team.name):
        raise Forbidden(NOT_PAIRED)
    form = await typed_form(request)
    return EntryRequest(page, await _who_noted(page, form, phone), form, phone, new_id())


async def _who_noted(page: PageRequest, form: TypedForm, phone: Phone) -> str:
    """Who holds the phone; of what waited on it who held it then, where that is one of the recorded people."""
    by = form.text(NOTED_BY)
    if by in ("", phone.person) or not noted_in(form, now_utc()).has_waited:
        return phone.person
    return as_recorded(by, await page.ask(people_of)) or phone.person
