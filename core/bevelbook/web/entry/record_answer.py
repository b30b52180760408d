"""The answer of a page that writes one record: its form, what stopped it, or the way on to what was stored."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final, NamedTuple, Protocol

from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.display.begun import begun
from bevelbook.records import Kind
from bevelbook.saving.record import SavedRecord
from bevelbook.store.ids import new_id
from bevelbook.web.entry.clashes import as_drawn, changed_texts
from bevelbook.web.entry.given_texts import BACK_TO, SAME
from bevelbook.web.entry.noted_moment import NOTED_BY, OF_WAITING
from bevelbook.web.entry.offered_values import offered_texts
from bevelbook.web.entry.record_form import RecordForm, form_fields, new_record_form, stored_record_form
from bevelbook.web.entry.record_sent import VERSION, WAS, OldFormError, RecordSent, record_sent
from bevelbook.web.entry.request import KEY, EntryRequest, Kept
from bevelbook.web.entry.said import remember, remembered, said_of
from bevelbook.web.entry.sent import ANSWER, Saver, Stopped, send
from bevelbook.web.entry.sent_again import (
    AGAIN,
    ANOTHER_ONE,
    CORRECT,
    NEXT_KEY,
    StoredOtherwiseError,
    is_as_sent,
    record_of_entry,
    refuse_other_texts,
    remember_sent,
)
from bevelbook.web.entry.shown_day import AS_OF_TODAY, SHOWN_DAY, day_as_shown, shown_day
from bevelbook.web.entry.stops import Stop, stopped_by
from bevelbook.web.host.answers_to_scripts import done_answer
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.stored_line import UNCHANGED, last_entry, stored_line_of
from bevelbook.web.shared.typed_form import TypedForm

TAKEN_BACK_SINCE: Final = "This was stored before, and was taken back since."

PATIENCE: Final = 15
"""How many times the limit of one query a form may take: a busy laptop draws it late, as a phone without one cannot
write."""


class RecordPage(NamedTuple):
    """What a page of one kind of record says: its heading, the fields seen first, the field that is as wide as the
    screen, and the words of its button. ``lines`` are sentences above the form."""

    page: EntryPage
    kind: Kind
    title: str
    seen_first: Sequence[str] = ()
    figure: str = ""
    button: str = "Store it"
    lines: tuple[str, ...] = ()


class ShownForm(NamedTuple):
    """A form to be shown, and what is said above it."""

    form: RecordForm
    stop: Stop = Stop()


class Drawable(Protocol):
    """A form to be shown as a page groups it."""

    @property
    def form(self) -> RecordForm: ...

    @property
    def stop(self) -> Stop: ...


Store = Callable[[Saver, RecordSent], "tuple[str, ...]"]
"""Writes what a form wants; returns what is to be said first: what the form seemed to take over and was left out."""


async def answer_new(
    asked: EntryRequest, shown: RecordPage, *, typed: Mapping[str, str] | None = None, **context: Any
) -> Any:
    """The answer of a page for a new record; ``typed`` is what is typed already when it is opened."""
    kind = shown.kind

    def store(saver: Saver, sent: RecordSent) -> tuple[str, ...]:
        offered = offered_texts(saver.connection, kind, asked.person, sent.given, noted_at=saver.noted_at)
        now = "" if saver.noted_at else offered.get(kind.day or "", ("", ""))[0]
        answer = asked.form.text(f"{ANSWER}{kind.day}")
        saver.save(kind.name, day_as_shown(kind, sent.given, asked.form.text(SHOWN_DAY), now, answer))
        return ()

    def drawn(connection: sqlite3.Connection, sent: RecordSent, fault: BevelbookError | None) -> ShownForm:
        texts = sent.typed if fault or asked.is_sent else dict(typed or {})
        form = new_record_form(
            connection, kind, asked.person, texts, seen_first=shown.seen_first, noted_at=sent.noted.at
        )
        return ShownForm(form) if fault is None else ShownForm(*stopped_by(connection, form, fault, texts))

    return await answer(asked, shown, store, drawn, words=f"a new {_noun(kind)}", **context)


async def answer_stored(asked: EntryRequest, shown: RecordPage, row_id: str, **context: Any) -> Any:
    """The answer of a page that corrects a stored record, by its id."""
    kind = shown.kind

    def store(saver: Saver, sent: RecordSent) -> tuple[str, ...]:
        texts = changed_texts(saver.connection, kind, row_id, sent.changes, sent.was)
        if texts:
            saver.save(kind.name, texts, row_id)
        return ()

    def drawn(connection: sqlite3.Connection, sent: RecordSent, fault: BevelbookError | None) -> ShownForm:
        typed, was = (sent.changes, sent.was) if fault else ({}, {})
        form = stored_record_form(connection, kind, row_id, typed, was, seen_first=shown.seen_first)
        return ShownForm(form) if fault is None else ShownForm(*stopped_by(connection, form, fault, typed))

    return await answer(asked, shown, store, drawn, words=f"correct a {_noun(kind)}", of_record=row_id, **context)


async def answer(
    asked: EntryRequest,
    shown: RecordPage,
    store: Store,
    drawn: Callable[[sqlite3.Connection, RecordSent, BevelbookError | None], Drawable],
    *,
    words: str,
    fields: Sequence[Field] | None = None,
    beside: Sequence[tuple[str, str]] = (),
    of_record: str | None = None,
    **context: Any,
) -> Any:
    """What was sent is stored as one entry, and the answer leads on to what was stored; else the form, with the fault
    and all that was typed.

    ``fields`` are those of the form, if not all of the kind; ``beside`` is what it sends unseen besides;
    ``of_record`` is the id of the record that the form corrects.
    """
    sent = record_sent(asked.form, fields or form_fields(shown.kind), day=shown.kind.day)
    fault: BevelbookError | None = None
    is_for_today = bool(asked.form.text(AS_OF_TODAY))
    if is_for_today:
        sent = sent._replace(typed={name: text for name, text in sent.typed.items() if name != shown.kind.day})
    elif asked.is_sent:
        done = await _sent(asked, shown.kind, store, sent, words, of_record)
        if not isinstance(done, Stopped):
            return await _on(asked, done)
        fault = done.fault
    if asked.form.text(AGAIN) == ANOTHER_ONE:
        asked = _with_next_key(asked)
    elif asked.form.text(AGAIN) == CORRECT:
        texts = ((name, asked.form.text(name)) for name in (AGAIN, NEXT_KEY))
        beside = [*beside, *texts, *((f"{WAS}{name}", text) for name, text in sent.was.items())]
    if isinstance(fault, StoredOtherwiseError):
        beside = [*beside, (NEXT_KEY, new_id()), *((f"{WAS}{name}", text) for name, text in fault.stored.items())]
    found = await asked.page.ask(drawn, sent, fault, patience=PATIENCE)
    key = asked.key if asked.is_sent else new_id()
    day_shown = "" if is_for_today else asked.form.text(SHOWN_DAY)
    day = [(SHOWN_DAY, day_shown or shown_day(found.form))] if not found.form.stored else []
    waited = () if found.form.stored else ((NOTED_BY, asked.person or ""), *sent.noted.unseen)
    was = [(f"{WAS}{one.name}", as_drawn(one.was)) for one in found.form.fields if one.was is not None]
    return await asked.render(
        shown.page,
        shown.title,
        status=400 if fault else 200,
        shown=shown,
        form=found.form,
        stop=found.stop,
        drawn=found,
        is_same=bool(asked.page.given(SAME)),
        homeless=sent.homeless if isinstance(fault, OldFormError) else {},
        unseen=((KEY, key), (VERSION, found.form.version), *was, *day, *waited, *beside, *sent.unseen),
        **context,
    )


def _with_next_key(asked: EntryRequest) -> EntryRequest:
    """The form as one of another entry than the one that it has made."""
    texts = {name: text for name, text in asked.form.texts.items() if name not in (AGAIN, NEXT_KEY)}
    return asked._replace(form=TypedForm({**texts, KEY: asked.form.all(NEXT_KEY) or [new_id()]}))


async def _sent(
    asked: EntryRequest, kind: Kind, store: Store, sent: RecordSent, words: str, of_record: str | None
) -> Kept[Done] | Stopped:
    """What became of a form; of one that was stored before, with other texts, what is to be done about it."""
    datasette, again = asked.page.datasette, asked.form.text(AGAIN)
    if again == CORRECT and of_record is None:
        record = await asked.page.ask(record_of_entry, kind, asked.key)

        def correct(saver: Saver, sent: RecordSent) -> tuple[str, ...]:
            wanted = {name: sent.changes.get(name, "") for name in sent.was}
            row_id = record.row_id if record else ""
            texts = changed_texts(saver.connection, kind, row_id, wanted, sent.was)
            if texts:
                saver.save(kind.name, texts, row_id)
            return ()

        return await _send(_with_next_key(asked), correct, sent, f"correct a {_noun(kind)}")
    done = await _send(_with_next_key(asked) if again else asked, store, sent, words)
    if isinstance(done, Stopped) or not done.known:
        return done
    if of_record is not None:
        if is_as_sent(datasette, done.entry, sent.typed):
            return done
        return await _send(asked._replace(form=TypedForm({**asked.form.texts, KEY: [new_id()]})), store, sent, words)
    if asked.is_handed_over and sent.noted.has_waited:
        return done
    try:
        await asked.page.ask(refuse_other_texts, datasette, kind, done.entry, sent.typed)
    except StoredOtherwiseError as fault:
        return Stopped(fault)
    return done


class Done(NamedTuple):
    """The records that a form has stored, and what its page says of them."""

    saved: tuple[SavedRecord, ...]
    said: tuple[str, ...]


async def _send(asked: EntryRequest, store: Store, sent: RecordSent, words: str) -> Kept[Done] | Stopped:
    is_left_over = bool(sent.homeless) and (asked.is_handed_over or bool(asked.form.after(OF_WAITING)))
    if sent.is_old or is_left_over:
        return Stopped(OldFormError(sent.homeless, sent.gone))
    if sent.noted.question is not None:
        return Stopped(sent.noted.question)

    def act(saver: Saver) -> Done:
        said = store(saver, sent)
        return Done(tuple(saver.saved), said)

    done = await send(asked, act, words=f"from the browser: {words}", noted=sent.noted)
    if not isinstance(done, Stopped) and not done.known:
        remember_sent(asked.page.datasette, done.entry, sent.typed)
    return done


async def _on(asked: EntryRequest, done: Kept[Done]) -> Any:
    """On to the page that says what was stored; where nothing had to be, to the form again, which says so."""
    from datasette.utils.asgi import Response

    if done.value is not None and all(one.done == "nothing" for one in done.value.saved):
        address = f"{asked.page.request.path}?{SAME}=yes"
        if asked.is_handed_over:
            return done_answer(asked.key, "stored", f"{begun(UNCHANGED)}.", (), address)
        return Response.redirect(address, status=303)
    if done.value is not None:
        remember(asked.page.datasette, done.entry, said_of(done.value.saved, done.value.said))
    if asked.is_handed_over:
        said = remembered(asked.page.datasette, done.entry)
        line = await asked.page.ask(stored_line_of, done.entry)
        words = f"{line.done}: {line.words}" if line else TAKEN_BACK_SINCE
        return asked.stored(
            asked.page.links.page(f"enter/stored/{done.entry}"),
            done,
            words=words,
            more=said.lines if said else (),
            left_out=done.value.said if done.value else (),
        )
    if not done.known:
        given = {BACK_TO: back} if (back := asked.page.given(BACK_TO)) else {}
        return asked.stored(asked.page.links.page(f"enter/stored/{done.entry}", **given), done)
    address = asked.page.links.page(f"enter/stored/{done.entry}", again="yes")
    last = last_entry(asked.page.datasette, asked.page.request)
    if last is not None and await asked.page.ask(is_later, last, done.entry):
        return Response.redirect(address, status=303)
    return asked.stored(address, done)


def is_later(connection: sqlite3.Connection, entry: str, other: str) -> bool:
    """Whether an entry was made after another one: then a form sent again is not what its phone stored last."""
    made = "SELECT made_at FROM entries WHERE id = ?"
    row = connection.execute(f"SELECT ({made}) > ({made})", (entry, other)).fetchone()
    return bool(row[0])


def _noun(kind: Kind) -> str:
    return kind.name.replace("_", " ")
