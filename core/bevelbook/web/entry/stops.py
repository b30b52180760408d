"""What keeps a form from being stored, as its page shows it: a sentence, ways to settle it, and marks at its fields."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, DatabaseError, UnknownNameError, near_names, shown
from bevelbook.display.begun import begun
from bevelbook.entering.dated_build import ANOTHER_DIFF, CLOSED_AGAIN
from bevelbook.entering.equal_names import EqualNameError
from bevelbook.entering.question import Question
from bevelbook.entering.typed_fields import typed_fields
from bevelbook.entering.weighing_basis import WEIGH_AGAIN
from bevelbook.records import Kind
from bevelbook.store.lookup import WhichOneError, find_id, labels_of
from bevelbook.store.record_names import is_named_by_label
from bevelbook.web.entry.clashes import ChangedMeanwhileError, removed_by_name, renamed_to
from bevelbook.web.entry.entry_fields import EntryField
from bevelbook.web.entry.likely_records import target_of
from bevelbook.web.entry.record_form import RecordForm
from bevelbook.web.entry.record_sent import OldFormError
from bevelbook.web.entry.sent import ANOTHER, ANSWER, SURE, NotSureError, WrittenBeforeError
from bevelbook.web.entry.sent_again import AGAIN, ANOTHER_ONE, CORRECT, StoredOtherwiseError
from bevelbook.web.shared.fault_words import fault_words

STILL_NEEDED: Final = "Still needed."
TRY_AGAIN: Final = "What you typed is still here: try again."

_AT_FIELD: Final = {ANOTHER_DIFF: "", WEIGH_AGAIN: "mass_g"}
"""Answers that are typed, with the field that takes them; empty for the one that the question is about."""


class WayOut(NamedTuple):
    """A button that settles what stopped the form: the field that it sends, its text, and its words."""

    name: str
    value: str
    words: str


class WayElsewhere(NamedTuple):
    """A link that settles it: a page below ``/DATABASE/-/`` or a place on this one, and its words; ``drops`` where what
    was typed is thrown away then, also where it waits on the phone."""

    words: str
    page: str = ""
    anchor: str = ""
    given: Mapping[str, str] = {}
    drops: bool = False


class Stop(NamedTuple):
    """Why nothing was stored; ``asks_for_oil`` where an answer may name the oil of a build closed again."""

    sentence: str = ""
    ways: tuple[WayOut, ...] = ()
    links: tuple[WayElsewhere, ...] = ()
    asks_for_oil: bool = False


def stopped_by(
    connection: sqlite3.Connection, form: RecordForm, fault: BevelbookError, typed: Mapping[str, str]
) -> tuple[RecordForm, Stop]:
    """The form with its faults marked, and what is said above it."""
    if isinstance(fault, Question):
        return _asked(form, fault)
    if isinstance(fault, NotSureError):
        return _unsure(form, fault)
    if isinstance(fault, ChangedMeanwhileError):
        return form.with_fields(lambda one: one._replace(clash=fault.clashes.get(one.name))), Stop(fault_words(fault))
    if isinstance(fault, WrittenBeforeError):
        ways = (WayOut(ANOTHER, "yes", "Store it once more: it happened twice"),)
        link = WayElsewhere("See the one that is stored", f"enter/record/{form.kind.name}/{fault.row_id}")
        return form, Stop(fault_words(fault), ways, (link,))
    if isinstance(fault, StoredOtherwiseError):
        return form, _stored_otherwise(form, fault)
    if isinstance(fault, EqualNameError):
        return form, _equal_name(connection, fault)
    if isinstance(fault, OldFormError):
        return form.with_fields(_not_a_choice_any_more), Stop(fault_words(fault))
    if isinstance(fault, DatabaseError):
        return form, Stop(f"{fault_words(fault)} {TRY_AGAIN}")
    if isinstance(fault, UnknownNameError) and (name := fault.place.field or _naming(form, fault)):
        return _unknown_name(connection, form, fault, name, typed.get(name, "").strip())
    if isinstance(fault, WhichOneError) and fault.place.field:
        return _which_one(form, fault, fault.place.field), Stop()
    if fault.place.field and fault.place.field in {one.name for one in form.fields}:
        return _marked(form, {fault.place.field: fault_words(fault)}), Stop()
    names = {one.name for one in form.fields}
    lacking = [field for field in form.kind.needed if field.name in names and not typed.get(field.name)]
    if lacking and fault.code == "missing_input" and not form.stored:
        return _marked(form, {field.name: STILL_NEEDED for field in lacking}), Stop()
    return form, Stop(fault_words(fault))


def _marked(form: RecordForm, faults: Mapping[str, str]) -> RecordForm:
    return form.with_fields(lambda one: one._replace(fault=faults.get(one.name, one.fault)))


def _not_a_choice_any_more(one: EntryField) -> EntryField:
    """A field of a choice in which something was typed that is none of the choices now."""
    if one.kind != "choice" or one.drawn != "text":
        return one
    said = f"Typed as {one.typed}, which this page no longer has: choose what is right, or leave it empty."
    return one._replace(fault=said)


def _asked(form: RecordForm, question: Question) -> tuple[RecordForm, Stop]:
    """The answers as buttons; to name another diff or to weigh again leads to the field."""
    words = begun(question.what, (question.found or "",))
    ways = tuple(
        WayOut(f"{ANSWER}{question.field}", way.key, way.words) for way in question.answers if way.key not in _AT_FIELD
    )
    links = tuple(
        WayElsewhere(way.words, anchor=f"field-{_AT_FIELD[way.key] or question.field}")
        for way in question.answers
        if way.key in _AT_FIELD
    )
    asks_for_oil = any(way.key == CLOSED_AGAIN for way in question.answers)
    return form, Stop(words if words.endswith(("?", ".")) else f"{words}.", ways, links, asks_for_oil)


def _unsure(form: RecordForm, fault: NotSureError) -> tuple[RecordForm, Stop]:
    """Each odd value with a button that confirms it, and a link to its field."""
    by_name = {one.name: one for one in form.fields}
    said = {odd.field.name: odd_words(by_name.get(odd.field.name), odd.words) for odd in fault.odd}
    ways = tuple(WayOut(SURE, f"{odd.field.name}={odd.text}", _right(odd.field.words, fault)) for odd in fault.odd)
    links = tuple(
        WayElsewhere(f"No: change the {odd.field.words}", anchor=f"field-{odd.field.name}") for odd in fault.odd
    )
    return _marked(form, said), Stop(f"{' '.join(said.values())} Is that right?", ways, links)


def odd_words(field: EntryField | None, words: str) -> str:
    """What is odd about a value, as a sentence."""
    return f"{begun(words)}."


def _right(words: str, fault: NotSureError) -> str:
    return "Yes, that is right" if len(fault.odd) == 1 else f"Yes, the {words} is right"


def _equal_name(connection: sqlite3.Connection, fault: EqualNameError) -> Stop:
    ways = (WayOut(ANOTHER, "yes", "Store another one of that name"),) if fault.another_may_be else ()
    row_id = find_id(connection, fault.kind, fault.name)
    link = WayElsewhere(f"Use that one: {fault.name}", f"enter/record/{fault.kind.name}/{row_id}")
    return Stop(fault_words(fault), ways, (link,))


def _stored_otherwise(form: RecordForm, fault: StoredOtherwiseError) -> Stop:
    """A form that was stored before with other texts: corrected, stored as another record, or left."""
    noun = form.kind.name.replace("_", " ")
    correct = WayOut(AGAIN, CORRECT, "Correct it to what I typed now")
    ways = ((correct,) if fault.changes else ()) + (WayOut(AGAIN, ANOTHER_ONE, f"It is another {noun}: store it too"),)
    return Stop(fault_words(fault), ways, (WayElsewhere("Leave it as it is stored", f"enter/stored/{fault.entry}"),))


def _naming(form: RecordForm, fault: UnknownNameError) -> str | None:
    """The field with the name that is unknown, where the fault does not say it."""
    return next((one.name for one in form.fields if one.typed and shown(one.typed.strip()) in fault.what), None)


def _unknown_words(fault: UnknownNameError, target: Kind, text: str, near: list[str]) -> str:
    """The fault in terms of what the field's buttons name: a build of a day goes by its diff."""
    if target.name != "diff" or fault.code == "unknown_diff":
        return fault_words(fault)
    meant = f" Did you mean {' or '.join(near)}?" if near else ""
    return f"There is no diff named {shown(text)}.{meant}"


def _which_one(form: RecordForm, fault: WhichOneError, name: str) -> RecordForm:
    """The fault beside its field, whose buttons begin with those that it may be."""

    def marked(one: EntryField) -> EntryField:
        if one.name != name:
            return one
        kept = [choice for choice in one.choices if choice[0] not in fault.names]
        return one._replace(fault=fault_words(fault), choices=(*((word, word) for word in fault.names), *kept))

    return form.with_fields(marked)


def _unknown_name(
    connection: sqlite3.Connection, form: RecordForm, fault: UnknownNameError, name: str, text: str
) -> tuple[RecordForm, Stop]:
    """The fault beside its field, whose buttons begin with names that are spelt alike; and a way to write it down."""
    field = next((one for one in typed_fields(form.kind) if one.name == name), None)
    if field is None or field.kind != "reference":
        return _marked(form, {name: fault_words(fault)}), Stop()
    target = target_of(form.kind, field)
    near = near_names(text, labels_of(connection, target)) if is_named_by_label(target) else []
    renamed = renamed_to(connection, target, text)
    removed = None if renamed else removed_by_name(connection, target, text)
    if renamed:
        near = [renamed, *(one for one in near if one != renamed)]
        words = f"{shown(text)} is called {shown(renamed)} now."
    else:
        words = f"{begun(removed)}." if removed else _unknown_words(fault, target, text, near)

    def marked(one: EntryField) -> EntryField:
        if one.name != name:
            return one
        kept = [choice for choice in one.choices if choice[0] not in near]
        return one._replace(fault=words, choices=(*((word, word) for word in near), *kept))

    given = {target.label: text} if target.label else {}
    noun = target.name.replace("_", " ")
    link = WayElsewhere(f"Write down a new {noun}", f"enter/record/{target.name}", given=given)
    return form.with_fields(marked), Stop(links=(link,))
