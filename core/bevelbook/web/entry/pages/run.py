"""A run noted in the pits, or corrected the same evening."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final

from bevelbook.declare.errors import BevelbookError, InputError
from bevelbook.declare.vocabulary import NOTHING, POSITIONS
from bevelbook.entering.run_places import in_run
from bevelbook.reports.carried_to_run import LAP_FIGURES
from bevelbook.store.record_names import title_of
from bevelbook.web.entry.clashes import changed_texts
from bevelbook.web.entry.given_texts import given_texts, takes_of
from bevelbook.web.entry.noted_moment import NotedMoment
from bevelbook.web.entry.pits_forms import pits_forms
from bevelbook.web.entry.record_answer import RecordPage, answer
from bevelbook.web.entry.record_form import RecordForm, new_record_form, stored_record_form
from bevelbook.web.entry.record_sent import RecordSent
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.entry.run_form import RunForm, run_form
from bevelbook.web.entry.run_head import RUN, RunHead, RunMeanwhileError, refuse_unknown_car, run_head
from bevelbook.web.entry.run_sent import SETTLED, refuse_unclear, run_texts
from bevelbook.web.entry.sent import ANSWER, Saver
from bevelbook.web.entry.stops import Stop, WayElsewhere, WayOut, stopped_by
from bevelbook.web.host.page import EntryPage

_MEANWHILE: Final = "run_meanwhile"
"""What is answered with a button where somebody stored a run of the same car meanwhile."""
_OF_EVERY_RUN: Final = frozenset({"car", "run_on"})
"""Fields that every form of a run has, so that they alone make no run."""


async def run(request: Any, datasette: Any) -> Any:
    """The form of a run; with an id, of the one that is stored."""
    asked = await entry_request(datasette, request)
    if request.url_vars["row"] is not None:
        return await _corrected(asked)
    return await _noted(asked)


def _in_fields(asked: EntryRequest) -> EntryRequest:
    """The request with the texts of the fields of a run in place of the form's own inputs."""
    return asked._replace(form=run_texts(asked.form))


async def _noted(asked: EntryRequest) -> Any:
    """A new run, with what is carried over to it."""
    given = given_texts(asked, RUN)

    def store(saver: Saver, sent: RecordSent) -> tuple[str, ...]:
        refuse_unknown_car(saver.connection, sent.given)
        head = run_head(saver.connection, sent.given, sent.noted)
        if sent.noted.has_waited or sent.noted.after:
            head.refuse_changed_since_noted(saver.connection, asked.form)
        else:
            head.refuse_changed(saver.connection, asked.form)
        refuse_unclear(asked.form, sent.given)
        if not any(text for name, text in sent.given.items() if name not in _OF_EVERY_RUN):
            raise InputError(
                "nothing is typed yet",
                code="nothing_typed",
                remedy="The temperature of a diff makes a run, or any other one thing.",
            )
        taken_over, why = head.taken_over(sent.given)
        saver.save("run", {**taken_over, **sent.given}, taken=why)
        return (*head.left_out(sent.given), *head.grown_old(asked.form, sent.given))

    def drawn(connection: sqlite3.Connection, sent: RecordSent, fault: BevelbookError | None) -> RunForm:
        texts = sent.typed if asked.is_sent else given
        head, likely = run_head(connection, texts, sent.noted), dict[str, list[str]]()
        form, stop = _new_form(connection, asked, texts, head, sent.noted, likely), Stop()
        if fault is not None:
            form, stop = _stopped(connection, form, fault, texts)
        others = tuple(
            _of_car(connection, asked, {**texts, "car": car}, sent.noted, likely, head) for car in head.others_at_hand
        )
        return run_form(form, stop, texts, head.places, head.carried.lap, head)._replace(others=others)

    shown = RecordPage(PAGE, RUN, "Note a run", button="Store the run")
    beside = await asked.page.ask(pits_forms, asked.person)
    return await answer(_in_fields(asked), shown, store, drawn, words="a new run", beside_run=beside)


def _new_form(
    connection: sqlite3.Connection,
    asked: EntryRequest,
    texts: Mapping[str, str],
    head: RunHead,
    noted: NotedMoment,
    likely: dict[str, list[str]],
) -> RecordForm:
    return new_record_form(connection, RUN, asked.person, texts, offered=head.offered, noted_at=noted.at, likely=likely)


def _of_car(
    connection: sqlite3.Connection,
    asked: EntryRequest,
    texts: Mapping[str, str],
    noted: NotedMoment,
    likely: dict[str, list[str]],
    beside: RunHead,
) -> RunForm:
    """The form for another car, of which the page takes what is other than for the one that is shown."""
    head = run_head(connection, texts, noted, beside=beside)
    form = _new_form(connection, asked, texts, head, noted, likely)
    return run_form(form, Stop(), texts, head.places, head.carried.lap, head)


async def _corrected(asked: EntryRequest) -> Any:
    """A stored run with its values in the form."""
    row_id = await asked.row_id("run")
    named = await asked.page.ask(title_of, RUN, row_id) or "a run"
    sat = [one.line for one in await asked.page.ask(in_run, row_id)]

    def store(saver: Saver, sent: RecordSent) -> tuple[str, ...]:
        refuse_unclear(asked.form, sent.changes)
        texts = changed_texts(saver.connection, RUN, row_id, sent.changes, sent.was)
        if texts:
            saver.save("run", texts, row_id)
        return ()

    def drawn(connection: sqlite3.Connection, sent: RecordSent, fault: BevelbookError | None) -> RunForm:
        typed, was = (sent.changes, sent.was) if fault else ({}, {})
        form, stop = stored_record_form(connection, RUN, row_id, typed, was), Stop()
        texts = {one.name: one.typed for one in form.fields}
        if fault is not None:
            form, stop = _stopped(connection, form, fault, typed)
        return run_form(form, stop, texts, _places(connection, row_id), _lap(texts))

    shown = RecordPage(PAGE, RUN, f"Correct {named}", button="Store the correction")
    return await answer(
        _in_fields(asked), shown, store, drawn, words="correct a run", of_record=row_id, stored_run=row_id, sat=sat
    )


def _stopped(
    connection: sqlite3.Connection, form: RecordForm, fault: BevelbookError, typed: Mapping[str, str]
) -> tuple[RecordForm, Stop]:
    """The form as what stopped it marks it; of *nothing* beside something else one button chooses either, and where
    somebody stored a run meanwhile one says that this is another one, and one that it is the same."""
    form, stop = stopped_by(connection, form, fault, typed)
    if isinstance(fault, RunMeanwhileError):
        another = WayOut(f"{ANSWER}{_MEANWHILE}", "another", "Another run: store it")
        same = WayElsewhere("The same run: drop mine", f"run/{fault.run}", drops=True)
        stop = stop._replace(ways=(another,), links=(same,))
    if fault.place.field == "car" and not stop.sentence:
        said = next((one.fault for one in form.fields if one.name == "car"), "")
        stop = stop._replace(sentence=f"{said} Choose the car; nothing was stored yet.".strip())
    if fault.code == "nothing_and_something" and fault.found:
        name = f"{SETTLED}{fault.place.field}"
        stop = stop._replace(ways=tuple(WayOut(name, text, f"Only “{text}”") for text in (NOTHING, fault.found)))
    return form, stop


def _places(connection: sqlite3.Connection, row_id: str) -> tuple[str, ...]:
    """The places of a stored run that have a diff, the rear first; without one, rear and front."""
    there = {one.position for one in in_run(connection, row_id)}
    return tuple(place for place in reversed(POSITIONS) if place in there) or (POSITIONS[-1], POSITIONS[0])


def _lap(texts: Mapping[str, str]) -> str:
    return next((name for name in LAP_FIGURES if texts.get(name)), LAP_FIGURES[0])


PAGE: Final = EntryPage("run", run, r"(/(?P<row>[^/]+))?", takes=takes_of(RUN))
