"""What ``record weighing`` asks: what was on the scale, and whether something else was."""

from __future__ import annotations

import sqlite3
import sys
from typing import TYPE_CHECKING

import click

from bevelbook.cli.asking import choose
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.display.begun import begun

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord
    from bevelbook.entering.weighing_basis import WeighingQuestion


def settle_weighing(connection: sqlite3.Connection, entry: PreparedRecord, yes: bool) -> PreparedRecord:
    """The weighing with its basis; any other record as it is. ``yes`` keeps a reading that is off like another of the
    day. Raises InputError where a script has to say more."""
    from bevelbook.entering.weighing_basis import BOTH, KEEP_READING, WEIGH_AGAIN, WeighingQuestion, settled

    answers = {BOTH: KEEP_READING} if yes else {}
    while True:
        try:
            return settled(connection, entry, answers)
        except WeighingQuestion as question:
            if question.said and not sys.stdin.isatty():
                return entry._replace(
                    remarks=(*entry.remarks, f"{question.said}; it is not taken as a loss or a gain.")
                )
            answers[question.field] = _answer(question)
            if answers[question.field] == WEIGH_AGAIN:
                raise click.Abort from None


def _answer(question: WeighingQuestion) -> str:
    """The key of the way that was chosen. Raises InputError in a script."""
    from bevelbook.entering.weighing_basis import BOTH

    if question.field == BOTH:
        keys = {way.key: way for way in question.answers}
        fault = InputError(
            str(question.what),
            code="same_amount_off",
            place=Place(field="mass_g"),
            remedy="Weigh both again with nothing else on the scale. Give --yes to keep the reading. Nothing was "
            "changed.",
        )
    else:
        keys = {"-" if way.key == NOT_SAID else str(place): way for place, way in enumerate(question.answers, start=1)}
        fault = question.in_a_script or question
    what = str(question.what)
    typed = choose(begun(what), {key: way.words for key, way in keys.items()}, in_a_script=fault)
    return keys[typed].key
