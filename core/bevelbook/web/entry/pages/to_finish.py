"""What waits for the evening: each with the form that finishes it, or left empty for good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.display.clock import clock_in_words
from bevelbook.display.days import day_in_words
from bevelbook.display.format import format_figure
from bevelbook.entering.putting_by import put_by
from bevelbook.notes.rejected_rows import FileWithRejects
from bevelbook.records import BY_TABLE
from bevelbook.reports.to_finish import DAYS, LAP, LeftEmpty, ToFinish, left_empty, to_finish
from bevelbook.store.ids import new_id, now_utc
from bevelbook.web.entry.given_texts import BACK_TO
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.entry.sent import Saver, Stopped, send
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.stored_line import LEFT_EMPTY
from bevelbook.web.shared.waiting import wait_line

LEAVE: Final = "leave"
"""The field with the record that is left as it is: its table and its id."""
FIELD_WORDS: Final[Mapping[str, str]] = {
    LAP: "lap",
    "grip": "grip",
    "changed": "what was changed",
    "call": "call",
    "note": "remark",
    "closed_mass_g": "closed mass",
    "mass_basis": "what was on the scale",
}


class Waiting(NamedTuple):
    """One thing to finish: where that is done, what it is, what is missing; ``leave`` is sent to leave it empty."""

    address: str
    words: str
    missing: str
    leave: str = ""
    key: str = ""


async def finish(request: Any, datasette: Any) -> Any:
    """What is left open, and what was decided to stay empty."""
    asked = await entry_request(datasette, request)
    fault = ""
    if asked.is_sent:
        done = await send(asked, lambda saver: leave_it(saver, asked), words="from the browser: left empty")
        if not isinstance(done, Stopped):
            return asked.stored(asked.page.links.page(PAGE.address), done)
        fault = fault_words(done.fault)
    found = await asked.page.ask(to_finish, date.today())
    return await asked.render(
        PAGE,
        "To finish",
        status=400 if fault else 200,
        fault=fault,
        bench=list(_on_bench(asked, found)),
        records=[_record(asked, one) for one in found.records],
        files=[_file(asked, one) for one in found.files],
        days=DAYS,
    )


def leave_it(saver: Saver, asked: EntryRequest) -> None:
    """Put by every field of a record that is still empty. Raises InputError where nothing of it is asked for."""
    table, _, row_id = asked.form.text(LEAVE).partition("/")
    found = left_empty(saver.connection, table, row_id, date.today())
    if found is None:
        raise InputError(
            "nothing of it is empty any more, or it was left empty already",
            code="nothing_to_leave",
            remedy="Nothing was changed.",
        )
    for finding in found.as_one():
        put_by(saver.connection, finding, LEFT_EMPTY, asked.person, now_utc)


def _on_bench(asked: EntryRequest, found: ToFinish) -> Iterator[Waiting]:
    now = now_utc()
    for paper in found.papers:
        yield Waiting(asked.page.links.page(f"enter/bench/{paper.job}/{paper.step}"), wait_line(paper, now), "")
    for job in found.jobs:
        step = job.steps.get(job.at_step or "")
        at = f", at {step.title}" if step else ""
        words = f"on the bench since {clock_in_words(job.begun_at)}{at}"
        yield Waiting(asked.page.links.page(f"enter/bench/{job.id}/go_on"), f"{job.diff_label}, {job.kind}", words)


def _record(asked: EntryRequest, one: LeftEmpty) -> Waiting:
    """A record, with the form that opens at the first field that is missing."""
    name = BY_TABLE[one.table].name
    page = f"enter/run/{one.row_id}" if name == "run" else f"enter/record/{name}/{one.row_id}"
    return Waiting(
        f"{asked.page.links.page(page, **{BACK_TO: PAGE.name})}#field-{one.fields[0]}",
        _name(one, name),
        f"empty: {', '.join(FIELD_WORDS[field] for field in one.fields)}",
        f"{one.table}/{one.row_id}",
        new_id(),
    )


def _file(asked: EntryRequest, one: FileWithRejects) -> Waiting:
    """An imported file with rejected rows, with the page that mends them."""
    words = counted(one.waiting, "rejected row")
    return Waiting(asked.page.links.page(f"enter/rejected/{one.id}"), one.called, words)


def _name(one: LeftEmpty, kind: str) -> str:
    """``Run 2026-05-03/2, Tannery Hall``; ``Weighing of rear-a/3, 22.31 g, 3 May``."""
    day = day_in_words(one.day)
    if kind == "run":
        return ", ".join(part for part in (f"Run {one.label}", one.venue) if part)
    if kind == "build":
        return f"Build {one.label}, {day}"
    return f"Weighing of {one.label}, {format_figure(one.mass_g or 0.0, 'g')} g, {day}"


PAGE: Final = EntryPage("to-finish", finish)
