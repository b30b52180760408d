"""The small forms below that of a run, so that all that is noted in the pits is on one page."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.records import BY_NAME
from bevelbook.store.ids import new_id
from bevelbook.web.entry.noted_moment import NOTED_BY
from bevelbook.web.entry.record_form import RecordForm, new_record_form
from bevelbook.web.entry.record_sent import VERSION
from bevelbook.web.entry.request import KEY
from bevelbook.web.entry.shown_day import SHOWN_DAY, shown_day

_SMALL: Final = (
    ("weigh", "weighing", "Weigh a diff", ("build", "mass_g", "mass_basis", "note")),
    ("idea", "idea", "An idea or a remark", ("text", "venue")),
)
"""Page, kind of record, heading, and the fields that are drawn."""


class PitsForm(NamedTuple):
    """A form of the page ``page`` with the inputs seen first alone; ``unseen`` is what it sends besides."""

    page: str
    title: str
    form: RecordForm
    unseen: tuple[tuple[str, str], ...]


def pits_forms(connection: sqlite3.Connection, person: str | None) -> tuple[PitsForm, ...]:
    """A weighing, and an idea."""
    return tuple(_pits_form(connection, person, *one) for one in _SMALL)


def _pits_form(
    connection: sqlite3.Connection, person: str | None, page: str, kind: str, title: str, fields: tuple[str, ...]
) -> PitsForm:
    form = new_record_form(connection, BY_NAME[kind], person, {}, seen_first=fields)
    unseen = ((KEY, new_id()), (VERSION, form.version), (SHOWN_DAY, shown_day(form)), (NOTED_BY, person or ""))
    return PitsForm(page, title, form.with_fields(lambda one: one._replace(id=f"{page}-{one.name}")), unseen)
