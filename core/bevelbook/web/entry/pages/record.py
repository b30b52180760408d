"""Any record that people write: a new one, or one that is corrected or removed."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.declare.errors import BevelbookError, InputError, UnknownNameError
from bevelbook.display.begun import begun
from bevelbook.pictures.reader import pictures_can_be_read
from bevelbook.records import KINDS, Kind, kind_called
from bevelbook.records.joins import NOT_IN_A_FORM
from bevelbook.reports.photographs import photograph
from bevelbook.saving.removal import RemovedRecord, remove_record
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.ids import new_id
from bevelbook.store.record_names import title_of
from bevelbook.web.entry.clashes import removed_words
from bevelbook.web.entry.given_texts import given_texts, takes_of
from bevelbook.web.entry.own_pages import OWN_PAGES
from bevelbook.web.entry.record_answer import RecordPage, answer_new, answer_stored
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.entry.said import remember, said_of_removed
from bevelbook.web.host.arguments import Argument
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.photographs_shown import shown_photograph
from bevelbook.web.shared.fault_words import fault_words

REMOVE: Final = "remove"
"""The hidden field of the form that removes the record."""
WHY: Final = "why"


async def record(request: Any, datasette: Any) -> Any:
    """The form of a record of any kind; with an id, of the one that is stored."""
    from datasette.utils import tilde_decode

    asked = await entry_request(datasette, request)
    if request.url_vars["kind"] is None:
        return await _kinds(asked)
    kind = _kind(tilde_decode(request.url_vars["kind"]))
    if request.url_vars["row"] is None:
        if kind.from_file is not None:
            return _to_own_page(asked, kind)
        shown = RecordPage(PAGE, kind, f"A new {kind.name.replace('_', ' ')}")
        return await answer_new(asked, shown, typed=given_texts(asked, kind))
    row_id = await asked.row_id(kind.name)
    if asked.is_sent and asked.form.text(REMOVE):
        return await _removed(asked, kind, row_id)
    named = await asked.page.ask(title_of, kind, row_id)
    shown = RecordPage(PAGE, kind, f"Correct {named or kind.name.replace('_', ' ')}", button="Store the correction")
    photo = await asked.page.ask(photograph, row_id) if kind.name == "photo" else None
    pictures = [shown_photograph(asked.page.links.page, photo)] if photo else []
    return await answer_stored(asked, shown, row_id, can_be_removed=True, removal_key=new_id(), photographs=pictures)


def _to_own_page(asked: EntryRequest, kind: Kind) -> Any:
    """On to the page that takes the file of such a record, with what the address has filled in."""
    from datasette.utils.asgi import Response

    address = asked.page.links.page(f"enter/{OWN_PAGES[kind.name]}", **given_texts(asked, kind))
    return Response.redirect(address, status=303)


async def _removed(asked: EntryRequest, kind: Kind, row_id: str) -> Any:
    """Remove the record for the reason that was typed, or say why it has to stay."""
    why = asked.form.text(WHY)
    fault: BevelbookError | None = None
    if not why:
        fault = InputError("no reason was given", code="not_for_removal", remedy="Say why. Nothing was removed.")
    else:

        def act(connection: sqlite3.Connection) -> RemovedRecord:
            if connection.execute(f"SELECT 1 FROM {kind.table} WHERE id = ?", (row_id,)).fetchone() is None:
                raise InputError(
                    f"{removed_words(EntryBook(connection), kind, row_id)}",
                    code="removed_meanwhile",
                    remedy="Nothing was changed.",
                )
            return remove_record(connection, asked.page.registry, kind, row_id, asked.person)

        noun = kind.name.replace("_", " ")
        try:
            done = await asked.write(act, asked=f"from the browser: remove a {noun}", reason=why)
        except BevelbookError as stopped:
            fault = stopped
        else:
            if done.value is not None:
                remember(asked.page.datasette, done.entry, said_of_removed(done.value))
            return asked.stored(asked.page.links.page(f"enter/stored/{done.entry}"), done)
    return await asked.render(
        PAGE, "Not removed", status=400, removing=True, fault=fault_words(fault), why=why, removal_key=asked.key
    )


async def _kinds(asked: EntryRequest) -> Any:
    """All kinds that people write, each with its form."""
    links = asked.page.links
    ways = [
        (links.page(f"enter/{OWN_PAGES.get(kind.name, f'record/{kind.name}')}"), spoken(kind), kind.about)
        for kind in KINDS
        if kind.own and kind.name not in NOT_IN_A_FORM and (kind.from_file is None or pictures_can_be_read())
    ]
    return await asked.render(PAGE, "Write anything down", kinds=ways)


def spoken(kind: Kind) -> str:
    """A kind of record as people call it: ``Seal fitted``."""
    words = (kind.spoken[-1] if kind.spoken else kind.name).replace("_", " ")
    return begun(words)


def _kind(name: str) -> Kind:
    from datasette.utils.asgi import NotFound

    try:
        kind = kind_called(name)
    except UnknownNameError as fault:
        raise NotFound(fault_words(fault)) from fault
    if not kind.own or kind.name in NOT_IN_A_FORM:
        raise NotFound(f"{kind.title} are not written by hand.")
    return kind


def _takes(datasette: Any, places: Mapping[str, str | None]) -> Sequence[Argument]:
    """The fields of the kind in the address. An unknown one is refused by the page."""
    kind = next((one for one in KINDS if one.name == places.get("kind")), None)
    return () if kind is None else takes_of(kind)


PAGE: Final = EntryPage("record", record, r"(/(?P<kind>[^/]+)(/(?P<row>[^/]+))?)?", takes=_takes)
