"""A photograph: a picture with the piece and the side that it shows, hung on what it is of."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID, uuid5

from bevelbook.declare.errors import BevelbookError, InputError, UnknownNameError
from bevelbook.pictures.limits import LARGEST_FILE_BYTES, LIMIT_WORDS
from bevelbook.pictures.prepare import PLACE, PreparedPicture, prepared_picture, refuse_too_big
from bevelbook.pictures.reader import INSTALL, pictures_can_be_read
from bevelbook.records import BY_NAME
from bevelbook.records.photos import HUNG_ON
from bevelbook.store.entry_contents import EntryBook
from bevelbook.web.entry.entry_fields import EntryField
from bevelbook.web.entry.given_texts import OF_EVERY_FORM, given_texts
from bevelbook.web.entry.photograph_of import PhotographOf, named_in, photograph_choices, photograph_of
from bevelbook.web.entry.record_answer import RecordPage, ShownForm, answer
from bevelbook.web.entry.record_form import RecordForm, folded, new_record_form
from bevelbook.web.entry.record_sent import RecordSent
from bevelbook.web.entry.request import KEY, EntryRequest, entry_request
from bevelbook.web.entry.sent import Saver
from bevelbook.web.entry.stops import STILL_NEEDED, stopped_by
from bevelbook.web.host.arguments import any_texts
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.photographs_shown import PHOTOGRAPH
from bevelbook.web.host.sent_files import SentFile, files_in
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.typed_form import TypedForm

PICTURE: Final = "picture"
"""The field of the file: there are two of it, one that opens the camera and one for a picture taken before."""
_PHOTO: Final = BY_NAME["photo"]
_FIRST: Final = ("piece", "side", "note")
_CHOSEN: Final = ("piece", "side")
NO_LIBRARY: Final = f"Pictures cannot be read on this laptop yet. Install what reads them with: {INSTALL}"


async def photo(request: Any, datasette: Any) -> Any:
    """The form of a photograph of the record that the address names; without one, what it may be of."""
    from datasette.utils.asgi import NotFound

    asked = await entry_request(datasette, request)
    if not pictures_can_be_read():
        raise NotFound(NO_LIBRARY)
    texts = {name: asked.form.text(name) or asked.page.given(name) for name in HUNG_ON}
    named = named_in(texts)
    if named is None and not asked.is_sent:
        return await _choices(asked)
    try:
        of = await asked.page.ask(photograph_of, *named) if named else None
    except UnknownNameError as fault:
        if not asked.is_sent:
            raise NotFound(fault_words(fault)) from fault
        of = None
    return await _answer(asked, of, named)


async def _choices(asked: EntryRequest) -> Any:
    """What a photograph may be of: the last build of each diff, and bottles."""
    found = await asked.page.ask(photograph_choices)
    links, shows = asked.page.links, {name: asked.page.given(name) for name in _CHOSEN}
    return await asked.render(
        PAGE,
        "Photograph",
        choosing=True,
        builds=[(links.page(PAGE.address, build=build, **shows), label) for build, label in found.builds],
        bottles=[(links.page(PAGE.address, bottle=bottle, **shows), name) for bottle, name in found.bottles],
    )


async def _answer(asked: EntryRequest, of: PhotographOf | None, named: tuple[str, str] | None) -> Any:
    picture, unread = await _picture(asked)
    if picture is not None:
        asked = await _keyed_by_picture(asked, picture)

    def store(saver: Saver, sent: RecordSent) -> tuple[str, ...]:
        if unread is not None:
            raise unread
        assert picture is not None
        saver.save(_PHOTO.name, sent.given, picture=picture)
        return ()

    def drawn(connection: sqlite3.Connection, sent: RecordSent, fault: BevelbookError | None) -> ShownForm:
        texts = sent.typed if asked.is_sent else {**(of.likely if of else {}), **given_texts(asked, _PHOTO)}
        form = _form(connection, asked.person, texts)
        if fault is None:
            return ShownForm(form)
        found = ShownForm(*stopped_by(connection, form, fault, texts))
        return found._replace(form=_with_what_else_is_needed(found.form, fault))

    shown = RecordPage(PAGE, _PHOTO, f"Photograph of {of.words}" if of else "Photograph", button="Store")
    return await answer(
        asked,
        shown,
        store,
        drawn,
        words="a photograph",
        beside=[(of.kind, of.row_id)] if of else [named] if named else [],
        limit_words=LIMIT_WORDS,
        most_bytes=LARGEST_FILE_BYTES,
    )


async def _picture(asked: EntryRequest) -> tuple[PreparedPicture | None, BevelbookError | None]:
    """The picture that was sent, ready to be kept, or why there is none."""
    if not asked.is_sent:
        return None, None
    try:
        return await asyncio.to_thread(prepared_picture, _content(files_in(asked.page.request).get(PICTURE, ()))), None
    except BevelbookError as fault:
        return None, fault


def _content(files: Any) -> bytes:
    """The content of the one picture. Raises InputError where two were chosen, or it is too long to be looked at."""
    sent: list[SentFile] = list(files)
    if len(sent) > 1:
        raise InputError(
            "two pictures came in one form",
            code="two_pictures",
            place=PLACE,
            remedy="Choose one, store it, then take the other one. Nothing was stored.",
        )
    for file in sent:
        if file.is_too_long:
            refuse_too_big(file.sent_bytes)
    return sent[0].content if sent else b""


async def _keyed_by_picture(asked: EntryRequest, picture: PreparedPicture) -> EntryRequest:
    """The request; where its form has stored another picture already, as a form of its own: who goes back and takes
    another picture wants that one stored too, and once."""
    stored = await asked.page.ask(_pictures_of_entry, asked.key)
    if not stored or not stored.isdisjoint((picture.id, picture.came_sha256)):
        return asked
    key = str(uuid5(UUID(asked.key), picture.id))
    return asked._replace(form=TypedForm({**asked.form.texts, KEY: [key]}))


def _pictures_of_entry(connection: sqlite3.Connection, entry_id: str) -> set[str]:
    """The hashes of the picture that an entry stored, as it came and as it is kept, also where it was taken back since;
    empty where there is no such entry."""
    entries = EntryBook(connection)
    entry = entries.by_id.get(entry_id)
    touches = entries.contents_of(entry) if entry else []
    kept = [one.after.content[PICTURE] for one in touches if one.kind is _PHOTO and one.after.content]
    came = connection.execute("SELECT came_sha256 FROM pictures WHERE id = ?", (kept[0],)).fetchone() if kept else None
    return {*kept, *(came or ())}


def _form(connection: sqlite3.Connection, by: str | None, texts: Mapping[str, str]) -> RecordForm:
    """The picture, then what it shows as buttons; what it hangs on is said above."""
    form = new_record_form(connection, _PHOTO, by, texts, seen_first=_FIRST)
    picture = EntryField(PICTURE, "Picture", "", "", "file", "text", is_needed=True)
    shows = (one._replace(drawn="choices") if one.name in _CHOSEN else one for one in form.first)
    rest = [one for one in form.fold.fields if one.name not in HUNG_ON] if form.fold else []
    return form._replace(first=(picture, *shows), fold=folded(rest) if rest else None)


def _with_what_else_is_needed(form: RecordForm, fault: BevelbookError) -> RecordForm:
    """Where the picture is at fault, the other fields that are needed are marked at once too."""
    if fault.place.field != PICTURE:
        return form
    return form.with_fields(
        lambda one: one._replace(fault=STILL_NEEDED) if one.is_needed and not one.typed and not one.fault else one
    )


PAGE: Final = EntryPage(
    PHOTOGRAPH, photo, most_file_bytes=LARGEST_FILE_BYTES, takes=(*any_texts((*HUNG_ON, *_CHOSEN)), *OF_EVERY_FORM)
)
