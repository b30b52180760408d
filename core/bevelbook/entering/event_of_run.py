"""The event that a run is of, as it was typed: by its name and the day of the run, and made if there is none yet."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, Place, shown
from bevelbook.display.days import day_in_words
from bevelbook.entering.question import Question, Way
from bevelbook.reading.labels import folded_label, plain_label, refuse_ditto, refuse_long_name
from bevelbook.reading.near_names import names_like
from bevelbook.records import BY_NAME
from bevelbook.store.event_of_day import EventDays, events_by_name, of_day
from bevelbook.store.lookup import find_id, ids_called, label_of, labels_of

EVENT: Final = BY_NAME["event"]
_RUN_EVENT: Final = BY_NAME["run"].field("event")
_DAYS_SAID: Final = 3


class EventForRun(NamedTuple):
    """The event by its id; or the name of one that has to be made, with what is to be said of that."""

    event: str | None
    new_name: str | None = None
    remark: str = ""


def event_for_run(connection: sqlite3.Connection, text: str, day: str | None, venue: str | None) -> EventForRun:
    """The event that a text means for a run of a day at a venue (by id).

    Of events of one name it is the one whose days the day is among, else the one without days. Raises InputError for
    what cannot be a name, and Question where two events of that name have the day among their days.
    """
    typed = text.strip()
    if not typed:
        return EventForRun(None)
    if connection.execute("SELECT 1 FROM events WHERE id = ?", (typed,)).fetchone():
        return EventForRun(find_id(connection, EVENT, typed))
    try:
        refuse_long_name(_RUN_EVENT, typed)
        refuse_ditto(_RUN_EVENT, typed)
    except InputError as fault:
        fault.place = Place(field="event")
        raise
    name = plain_label(typed)
    alike = events_by_name(connection).get(folded_label(name), [])
    if not alike and (found := ids_called(connection, EVENT, typed)):
        return EventForRun(found[0] if len(found) == 1 else find_id(connection, EVENT, typed))
    meant = of_day(alike, day) if day else alike
    if len(meant) > 1 and venue is not None:
        meant = [one for one in meant if one.venue == venue] or meant
    if len(meant) > 1:
        names = [label_of(connection, EVENT, one.id) for one in meant]
        raise Question(
            f"{len(meant)} events are called {shown(name)} on that day",
            code="which_event",
            field="event",
            found=typed,
            answers=(Way(one, f"It was {one}", instead=one) for one in names),
        )
    return EventForRun(meant[0].id) if meant else EventForRun(None, name, _new_words(connection, name, alike))


def _new_words(connection: sqlite3.Connection, name: str, alike: list[EventDays]) -> str:
    """That an event is new, with what it may have been meant for."""
    new = f"The event {shown(name)} is new: it was added"
    if alike:
        days = [day_in_words(one.first_on) for one in alike if one.first_on][-_DAYS_SAID:]
        return (
            f"{new}, without days, as {counted(len(alike), 'event')} of that name had other days ({', '.join(days)})."
        )
    like = names_like(name, labels_of(connection, EVENT))
    return f"{new}. It looks like {' and '.join(map(shown, like))}: is it the same?" if like else f"{new}."
