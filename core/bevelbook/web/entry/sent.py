"""A form sent to store records: saved as one entry, or stopped with what a person has to settle first."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final, NamedTuple, TypeVar

from bevelbook.declare.errors import BevelbookError, DatabaseError, InputError, Place
from bevelbook.declare.naming import InWords
from bevelbook.entering.defaults import day_of, with_reasons
from bevelbook.entering.equal_names import refuse_equal_name
from bevelbook.entering.question import NO_ANSWERS, Question
from bevelbook.entering.record import OddValue, PreparedRecord
from bevelbook.entering.typed_fields import typed_fields
from bevelbook.entering.weighing_basis import settled
from bevelbook.entering.written_already import written_already
from bevelbook.pictures.prepare import PreparedPicture
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.saving.photographs import with_picture
from bevelbook.saving.record import SavedRecord, WantedRecord, read_wanted, save
from bevelbook.store.ids import now_utc
from bevelbook.store.lookup import label_of
from bevelbook.web.entry.clock_behind import (
    AS_THE_CLOCK,
    ask_where_far_ahead,
    clock_answer,
    day_asked,
    is_settled,
    settle,
)
from bevelbook.web.entry.noted_moment import NotedMoment
from bevelbook.web.entry.request import EntryRequest, Kept
from bevelbook.web.shared.typed_form import TypedForm

T = TypeVar("T")

ANSWER: Final = "answer."
"""Begins the name of the field that answers a question about another."""
SURE: Final = "sure"
"""The field with what a person confirmed: ``FIELD=TEXT`` for each odd value."""
ANOTHER: Final = "another"
"""The field that says that a record is wanted although there is one just like it."""


class NotSureError(InputError):
    """Values that a person has to confirm, each outside the range of sane values or read from a doubtful comma."""

    def __init__(self, odd: tuple[OddValue, ...]) -> None:
        self.odd = odd
        first = odd[0]
        super().__init__(
            "; ".join(one.words for one in odd),
            code=first.code,
            place=Place(field=first.field.name),
            found=first.text,
            remedy="Is that right? Nothing was stored yet.",
        )


class WrittenBeforeError(InputError):
    """The same record was stored a moment ago; ``row_id`` is its id."""

    def __init__(self, label: str, row_id: str) -> None:
        self.row_id = row_id
        super().__init__(
            f"{label} was stored a moment ago with the same values",
            code="written_already",
            remedy="Nothing was added. Store it once more only if it happened twice.",
        )


class Saver:
    """Saves records one after the other, all in one entry, with what the form answers and confirms."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        registry: Registry,
        by: str | None,
        form: TypedForm,
        *,
        clock_is_right: bool = False,
        noted: NotedMoment | None = None,
        may_repeat: bool = False,
    ) -> None:
        """``clock_is_right`` if somebody has said so before on this phone today. ``noted`` is when the form was noted,
        where it waited on the phone, and ``may_repeat`` whether it is stored without a question where another one just
        like it was stored a moment ago."""
        self.connection = connection
        self._registry = registry
        self._by = by
        self._answers = {name: text for name, text in form.after(ANSWER).items() if text}
        self._sure = frozenset(form.all(SURE))
        self._clock_is_right = clock_is_right
        self._another = bool(form.text(ANOTHER))
        self._may_repeat = self._another or may_repeat
        self.noted_at = noted.at if noted and noted.has_waited else None
        """When what is saved was noted, as the database keeps times; None for now."""
        self.saved: list[SavedRecord] = []

    def save(
        self,
        kind_name: str,
        texts: Mapping[str, str],
        name: str | None = None,
        *,
        taken: Mapping[str, str] = MappingProxyType({}),
        picture: PreparedPicture | None = None,
    ) -> SavedRecord:
        """Save a record: a new one, or changes of the one with that name or id. ``taken`` says of texts that nobody
        typed where they come from; ``picture`` is what a photograph shows.

        Raises Question, NotSureError, WrittenBeforeError, EqualNameError, or another BevelbookError with the field as
        place.
        """
        kind = BY_NAME[kind_name]
        try:
            if name is None:
                answer = AS_THE_CLOCK if self._clock_is_right else self._answers.get(kind.day or "")
                noted_on = day_of(self.noted_at) if self.noted_at else None
                day = day_asked(self.connection, kind, texts, answer, noted_on)
                texts = {**texts, kind.day: day} if day is not None and kind.day is not None else texts
            entry = with_reasons(self._read(WantedRecord(kind, dict(texts), name)), taken)
            if picture is not None:
                entry = with_picture(self.connection, entry, picture)
            unsure = tuple(one for one in entry.odd if f"{one.field.name}={one.text}" not in self._sure)
            if unsure:
                raise NotSureError(unsure)
            entry = settled(self.connection, entry, self._answers)
            if not self._may_repeat:
                before = written_already(self.connection, entry, self._by, now_utc())
                if before is not None and not any(one.row_id == before for one in self.saved):
                    raise WrittenBeforeError(label_of(self.connection, entry.kind, before), before)
            refuse_equal_name(self.connection, entry.kind, entry.values, entry.row_id, another=self._another)
            noted_at = self.noted_at if entry.row_id is None else None
            saved = save(self.connection, self._registry, entry, self._by, noted_at=noted_at)
        except BevelbookError as fault:
            fault.naming = InWords(typed_fields(kind))
            raise
        self.saved.append(saved)
        return saved

    def _read(self, wanted: WantedRecord) -> PreparedRecord:
        """The record read, with the answers that the form gives to its questions."""
        asked: set[str] = set()
        while True:
            try:
                return read_wanted(self.connection, wanted, self._by, is_of_today=True, noted_at=self.noted_at)
            except Question as question:
                key = self._answers.get(question.field)
                way = next((one for one in question.answers if one.key == key), None)
                if way is None or question.field in asked:
                    raise
                asked.add(question.field)
                if way.instead is not None:
                    wanted = wanted._replace(texts={**wanted.texts, question.field: way.instead})
                else:
                    given = wanted.answers or NO_ANSWERS
                    fluid = self._answers.get("fluid") or None
                    wanted = wanted._replace(
                        answers=given._replace(by_field={**given.by_field, question.field: way.key}, fluid=fluid)
                    )


class Stopped(NamedTuple):
    """Nothing was stored: why, to be shown with the form and all that was typed in it."""

    fault: BevelbookError


async def send(
    asked: EntryRequest, act: Callable[[Saver], T], *, words: str, noted: NotedMoment | None = None
) -> Kept[T] | Stopped:
    """Save what a form wants as one entry, or say what stopped it.

    ``words`` are what the history keeps as asked for; ``noted`` is when it was noted, if that can be another time than
    now. Raises DatabaseError for what a script sent: then nothing is
    wrong with the form.
    """

    def write(connection: sqlite3.Connection) -> T:
        ask_where_far_ahead(connection, AS_THE_CLOCK if is_right else clock_answer(answers))
        return act(
            Saver(
                connection,
                asked.page.registry,
                asked.person,
                asked.form,
                clock_is_right=is_right,
                noted=noted,
                may_repeat=asked.is_handed_over and noted is not None and noted.has_waited,
            )
        )

    datasette, answers = asked.page.datasette, asked.form.after(ANSWER)
    is_right = is_settled(datasette, asked.phone.id)
    try:
        kept = await asked.write(write, asked=f"{words}{noted.words if noted else ''}")
    except DatabaseError as fault:
        if asked.is_handed_over:
            raise
        return Stopped(fault)
    except BevelbookError as fault:
        return Stopped(fault)
    if AS_THE_CLOCK in answers.values():
        settle(datasette, asked.phone.id)
    return kept
