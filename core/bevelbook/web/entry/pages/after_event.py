"""After an event, in one screen of taps: calls, temperatures, diffs to weigh, and its days to send."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.declare.vocabulary import CALLS
from bevelbook.display.days import day_in_words
from bevelbook.entering.putting_by import put_by
from bevelbook.facts.runs import count_of, notes_and_runs
from bevelbook.records import BY_NAME
from bevelbook.reports.after_event import (
    OF_DIFF,
    TYPED_LATER,
    AfterEvent,
    NotWeighed,
    WithoutTemperature,
    after_event,
    without_temperature,
)
from bevelbook.reports.runs_without_call import RunWithoutCall
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.lookup import label_of
from bevelbook.web.entry.entry_fields import EntryField, entry_field
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.entry.sent import Saver, Stopped, send
from bevelbook.web.host.page import ROW, EntryPage
from bevelbook.web.shared.fault_words import fault_words

RUN: Final = "run"
"""The field with the run that a tap is about."""
CALL: Final = "call"
NOT_MEASURED: Final = "not-measured"
REASON: Final = "not measured"
_EVENT: Final = BY_NAME["event"]
_WORDS: Final = {"air_temp_c": "Air", "track_temp_c": "Track"}


class CallToMake(NamedTuple):
    """A run to decide: its id, its remark, and what it was, with the id of the entry that a tap makes."""

    run: str
    label: str
    remark: str
    about: str
    key: str


class TemperaturesToType(NamedTuple):
    """A run of which temperatures are missing: inputs for those that can still be typed, and words for its diffs."""

    run: str
    words: str
    fields: tuple[EntryField, ...]
    diffs: str
    key: str


class WayOn(NamedTuple):
    """A link with its words, and quiet ones behind."""

    address: str
    words: str
    quiet: str


async def after(request: Any, datasette: Any) -> Any:
    """What is missing of an event, each with one tap or a number."""
    asked = await entry_request(datasette, request)
    event = await asked.row_id("event")
    fault, at = "", ""
    if asked.is_sent:
        done = await send(asked, lambda saver: store(saver, asked, event), words="from the browser: after the event")
        if not isinstance(done, Stopped):
            return asked.stored(asked.page.links.page(f"{PAGE.address}/{event}"), done)
        fault, at = fault_words(done.fault), asked.form.text(RUN)
    name, found = await asked.page.ask(_asked_of, event)
    return await asked.render(
        PAGE,
        f"After {name}",
        status=400 if fault else 200,
        fault=fault,
        event=asked.page.links.page(f"event/{event}"),
        nothing=not found.waiting,
        calls_words=f"{counted(len(found.calls), 'run')} without a call",
        calls=[_call(one) for one in found.calls],
        words_of_call=CALLS,
        temperatures_words=f"{counted(len(found.temperatures), 'run')} without a temperature",
        temperatures=[_temperatures(one, asked if one.run == at else None) for one in found.temperatures],
        weighings_words=f"{counted(len(found.not_weighed), 'diff')} not weighed since",
        weighings=[_weighing(asked, one) for one in found.not_weighed],
        days=list(_days(asked, found)),
    )


def store(saver: Saver, asked: EntryRequest, event: str) -> None:
    """Store what one tap said of a run: its call, the temperatures typed, or that they were not measured.

    Raises InputError where nothing of it is missing any more, or nothing was typed.
    """
    run = asked.form.text(RUN)
    if call := asked.form.text(CALL):
        _store_call(saver, event, run, call)
        return
    found = without_temperature(saver.connection, event, run)
    if found is None:
        raise _nothing_missing()
    if asked.form.text(NOT_MEASURED):
        for field in found.missing:
            put_by(saver.connection, found.finding(field), REASON, asked.person, now_utc)
        return
    typed = {name: text for name in found.typed if (text := asked.form.text(name).strip())}
    if not typed:
        raise InputError(
            "no temperature is typed",
            code="nothing_typed",
            remedy="Type one, or say that it was not measured. Nothing was stored.",
        )
    saver.save("run", typed, run)


def _store_call(saver: Saver, event: str, run: str, call: str) -> None:
    row = saver.connection.execute("SELECT label, call FROM runs WHERE id = ? AND event = ?", (run, event)).fetchone()
    if row is None:
        raise _nothing_missing()
    if row["call"] not in (None, call):
        raise InputError(
            f"run {row['label']} has the call {row['call']} by now",
            code="call_meanwhile",
            found=call,
            remedy="Correct it on the page of the run if that is wrong. Nothing was changed.",
        )
    saver.save("run", {CALL: call}, run)


def _nothing_missing() -> InputError:
    return InputError("nothing of that run is missing any more", code="nothing_to_leave", remedy="Nothing was changed.")


def _asked_of(connection: sqlite3.Connection, event: str) -> tuple[str, AfterEvent]:
    return label_of(connection, _EVENT, event), after_event(connection, event)


def _call(one: RunWithoutCall) -> CallToMake:
    about = "; ".join(part for part in (one.conditions, *(diff.words for diff in one.diffs)) if part)
    return CallToMake(one.run, one.label, one.remark or "", about, new_id())


def _temperatures(one: WithoutTemperature, sent: EntryRequest | None) -> TemperaturesToType:
    """The inputs of a run, with what was typed there where that could not be stored."""
    kind = BY_NAME["run"]
    fields = tuple(
        entry_field(kind.field(name), typed=sent.form.text(name) if sent else "")._replace(
            words=_WORDS[name], about="", id=f"{name}-{one.run}", signed=False
        )
        for name in TYPED_LATER
        if name in one.typed
    )
    diffs = f"diff not read: {', '.join(one.diffs)}; it has cooled" if OF_DIFF in one.missing else ""
    return TemperaturesToType(one.run, f"Run {one.label}", fields, diffs, new_id())


def _weighing(asked: EntryRequest, one: NotWeighed) -> WayOn:
    return WayOn(asked.page.links.page("enter/weigh", build=one.label), f"Weigh {one.build_label}", count_of(one.runs))


def _days(asked: EntryRequest, found: AfterEvent) -> Iterator[WayOn]:
    """The page of each day as a file to send."""
    for one in found.days:
        yield WayOn(
            asked.page.links.page(f"day/{one.day}.html"),
            f"{day_in_words(one.day)} as a file to send",
            notes_and_runs(one.notes, one.runs),
        )


PAGE: Final = EntryPage("after-event", after, ROW)
