"""What ``record weighing`` asks: what was on the scale, and whether something else was."""

from __future__ import annotations

import sqlite3
import sys
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli.asking import choose
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.vocabulary import MASS_BASES

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord
    from bevelbook.entering.weighing_basis import WeighedNow

_NOT_SAID: Final = "none of these, or not known: it is compared with nothing until that is said"


def settle_weighing(connection: sqlite3.Connection, entry: PreparedRecord, yes: bool) -> PreparedRecord:
    """The weighing with its basis; any other record as it is. Raises InputError where a script has to say more."""
    from bevelbook.entering.weighing_basis import is_left_open, same_amount, weighed_now

    weighed = weighed_now(connection, entry)
    if weighed is None:
        return entry
    alike = None if yes else same_amount(connection, weighed)
    if alike is not None:
        _ask_about_both(alike.words)
    return _with_basis(weighed, entry) if is_left_open(connection, entry) else entry


def _ask_about_both(words: str) -> None:
    question = f"{words[0].upper()}{words[1:]}. Is that so?"
    answer = choose(
        question,
        {"again": "yes, or not sure: write nothing, and weigh both again", "keep": "no: keep the reading"},
        in_a_script=InputError(
            words,
            code="same_amount_off",
            place=Place(field="mass_g"),
            remedy="Weigh both again with nothing else on the scale. Give --yes to keep the reading. Nothing was "
            "changed.",
        ),
    )
    if answer == "again":
        raise click.Abort


def _with_basis(weighed: WeighedNow, entry: PreparedRecord) -> PreparedRecord:
    from bevelbook.entering.weighing_basis import off_known, open_question, possible, taken, with_basis

    near = possible(weighed)
    if len(near) == 1:
        return taken(entry, near[0])
    if near:
        answers = {str(place): one.words for place, one in enumerate(near, 1)}
        fault = open_question(weighed, near)
        answer = choose(f"{weighed.mass_g:.2f} g: what was on the scale?", answers, in_a_script=fault)
        return taken(entry, near[int(answer) - 1])
    off = off_known(weighed)
    if off is None:
        return entry
    said = f"{weighed.mass_g:.2f} g is {off.words}, more than the scale or lost oil explains"
    if not sys.stdin.isatty():
        return entry._replace(remarks=(*entry.remarks, f"{said}; it is not taken as a loss or a gain."))
    answers = {**{str(place): basis for place, basis in enumerate(MASS_BASES, 1)}, "-": _NOT_SAID}
    answer = choose(f"{said}. What was on the scale?", answers, in_a_script=InputError(said, code="mass_basis_open"))
    return entry if answer == "-" else with_basis(entry, MASS_BASES[int(answer) - 1], "asked for")
