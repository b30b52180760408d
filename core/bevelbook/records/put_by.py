"""A finding that somebody looked at and put by, until its numbers change."""

from __future__ import annotations

from bevelbook.declare.fields import date, record, reference, text


@record
class PutBy:
    code: str = text("Stable name of the finding, such as oil_lost")
    subject_table: str = text("Table of the record that it is about")
    subject_id: str = text("Id of that record")
    words: str = text("What was found, with its numbers, when it was put by")
    reason: str = text("Why it may rest")
    put_by_on: str | None = date("Day", default=None)
    person: str | None = reference("person", "Who put it by", default=None, followed=False)
