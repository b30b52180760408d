"""Runs whose laps do not agree, or cannot be read: what is odd, and the command that corrects it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import field_of
from bevelbook.declare.in_command import command_of
from bevelbook.facts.lap_times import BEST_LAP, LISTED, OddBestLap, UnreadLaps, odd_best_laps, unread_laps
from bevelbook.plugin.check import Finding
from bevelbook.reading import BY_HAND, ReadingError, read_laps
from bevelbook.reading.numbers import in_digits
from bevelbook.records.track import Run

_LISTED: Final = field_of(Run, LISTED)
_BEST: Final = field_of(Run, BEST_LAP)
_NAMED: Final = 3
"""Runs with laps that cannot be read which are named with their command."""
_LONGEST_COMMAND: Final = 600
"""Signs of laps up to which a command has them."""
_LONGEST: Final = 60
"""Signs of such a list that are shown."""


def lap_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """A finding for each best lap that is not the least of its laps, and one for all lists that cannot be read."""
    for one in odd_best_laps(connection):
        yield _odd(one)
    unread = unread_laps(connection)
    if unread:
        yield _unread(unread)


def _odd(one: OddBestLap) -> Finding:
    best, least = in_digits(one.best_s), in_digits(one.least_s)
    laps = f"'{command_of('record', 'run', one.label, f'{_LISTED.stem}=...')}'"
    if one.best_s < one.least_s:
        words = f"its best lap of {best} s is less than the least of the laps listed, {least} s: the list lacks it"
        remedy = f"Write the laps whole, {laps}, or correct the best lap if that is wrong, "
    else:
        words = f"its best lap of {best} s is more than the least of the laps listed, {least} s: one of them is wrong"
        remedy = f"Correct the laps, {laps}, or the best lap, "
    return _about(
        one.run,
        one.label,
        "best_lap_not_least",
        f"{words}; it counts as written",
        f"{remedy}'{command_of('record', 'run', one.label, f'{_BEST.stem}={least}')}'.",
    )


def _unread(unread: list[UnreadLaps]) -> Finding:
    first = unread[0]
    named = "; ".join(f"'{_shown(one.listed)}' of {one.label}" for one in unread[:_NAMED])
    more = f"; and {len(unread) - _NAMED:,} more" if len(unread) > _NAMED else ""
    typed = "; ".join(f"'{_command(one)}'" for one in unread[:_NAMED])
    return _about(
        first.run,
        first.label,
        "laps_not_read",
        f"the laps of {counted(len(unread), 'run')} are not seconds with blanks between, so that no time is worked out "
        f"of them: {named}{more}",
        f"Write them again, as what they mean, such as: {typed}."
        + (" The others are named as these are corrected." if more else ""),
    )


def _shown(listed: str) -> str:
    line = " ".join(listed.split())
    return line if len(line) <= _LONGEST else f"{line[:_LONGEST]}..."


def _command(one: UnreadLaps) -> str:
    """What writes the laps as they would be read if somebody typed them; where they cannot, with a gap for them."""
    try:
        laps = read_laps(_LISTED, one.listed, BY_HAND)
    except ReadingError:
        laps = None
    if not laps or len(laps) > _LONGEST_COMMAND:
        laps = "..."
    return command_of("record", "run", one.label, f"{_LISTED.stem}={laps}")


def _about(run: str, label: str, code: str, words: str, remedy: str) -> Finding:
    return Finding(
        code=code,
        severity="worth a look",
        words=words,
        remedy=remedy,
        subject_table="runs",
        subject_id=run,
        subject_label=label,
    )
