"""Openings: how long ago each diff was open, what was found on which part, and after how many runs."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Final, NamedTuple

from bevelbook.facts.diffs import GIVEN_UP, ON_THE_BENCH
from bevelbook.facts.parts import PartCount, parts_of_all
from bevelbook.facts.runs import count_of, since_filled_words

FIRST_OPENING: Final = "(SELECT o.id FROM openings o WHERE o.build = b.id ORDER BY o.opened_on, o.id LIMIT 1)"
"""The opening that ended the build ``b``: the first, if several were written down."""
_OPENED: Final = {
    "side_gears": "side gear",
    "small_gears": "small gear",
    "shafts": "outdrive",
    "cross_pin": "cross pin",
    "bores": "bore",
    "seals": "seal",
    "screws": "screw",
}
"""What an opening looks at, and the part whose runs are shown with it."""
_NOT_CLOSED: Final = {ON_THE_BENCH: f"{ON_THE_BENCH}, not closed yet", GIVEN_UP: f"{GIVEN_UP}, never closed"}
"""The words for a build that a job began and did not close, by why its diff is apart."""


class SinceOpened(NamedTuple):
    """A diff's last build with its runs: the case was open when it was filled. ``opened``: it is open now.

    ``not_closed`` are the words for one that was begun on the bench and not closed so far, empty for any other.
    """

    diff: str
    label: str
    build: str
    build_label: str
    runs: float
    opened: bool
    built_on: str
    not_closed: str = ""

    @property
    def is_closed(self) -> bool:
        """Whether it was closed and not opened since."""
        return not self.opened and not self.not_closed

    @property
    def words(self) -> str:
        """Added to every conclusion about the diff."""
        if self.opened:
            return "open now"
        return self.not_closed or since_filled_words(self.runs)


class Seen(NamedTuple):
    """What an opening found on one part, and the runs of that part then (None if the part was never noted)."""

    opening: str
    opened_on: str
    diff: str
    build_label: str
    build_runs: float
    part: str
    state: str
    part_runs: float | None


def since_opened(connection: sqlite3.Connection) -> list[SinceOpened]:
    """Each diff's last build with the runs since the case was open, by the diff's label."""
    rows = connection.execute(
        "SELECT d.id, d.label, b.id, b.label, f.runs, f.opened_on IS NOT NULL, b.built_on, s.reasons "
        "FROM diff_facts s "
        "JOIN diffs d ON d.id = s.diff JOIN builds b ON b.id = s.current_build JOIN build_facts f ON f.build = b.id "
        "ORDER BY d.label, d.id"
    ).fetchall()
    return [
        SinceOpened(
            row[0], row[1], row[2], row[3], row[4], bool(row[5]), row[6], "" if row[5] else _not_closed(row["reasons"])
        )
        for row in rows
    ]


def opened_words(connection: sqlite3.Connection, build: str) -> str:
    """Added to a conclusion about one build: its runs since it was filled, or until it was opened."""
    opened_on, runs, reasons = connection.execute(
        "SELECT f.opened_on, f.runs, s.reasons FROM build_facts f LEFT JOIN diff_facts s ON s.current_build = f.build "
        "WHERE f.build = ?",
        (build,),
    ).fetchone()
    if opened_on:
        return f"opened {opened_on}, after {count_of(runs)}"
    return _not_closed(reasons) or since_filled_words(runs)


def _not_closed(reasons: str | None) -> str:
    """The words for the last build of a diff, not opened, that was never closed; ``reasons`` are those of its diff."""
    return _NOT_CLOSED.get(reasons or "", "")


def found_at_openings(connection: sqlite3.Connection) -> list[Seen]:
    """What openings found, part by part with its runs, by day."""
    rows = connection.execute(
        f"SELECT o.id, o.opened_on, b.diff, b.label, f.runs, o.build, {', '.join(f'o.{name}' for name in _OPENED)} "
        "FROM openings o JOIN builds b ON b.id = o.build JOIN build_facts f ON f.build = b.id "
        f"WHERE coalesce({', '.join(f'o.{name}' for name in _OPENED)}) IS NOT NULL ORDER BY o.opened_on, o.id"
    ).fetchall()
    if not rows:
        return []
    counted = parts_of_all(connection)
    return [
        Seen(row[0], row[1], row[2], row[3], row[4], part, state, _most_runs(counted.get(row[5], ()), part))
        for row in rows
        for state, part in zip(tuple(row)[6:], _OPENED.values(), strict=True)
        if state is not None
    ]


def _most_runs(parts: Sequence[PartCount], part: str) -> float | None:
    return max((one.runs for one in parts if one.part == part), default=None)


def runs_when_notchy(connection: sqlite3.Connection) -> list[tuple[str, float]]:
    """Diff and runs of the builds that were opened because they had become notchy, fewest runs first."""
    rows = connection.execute(
        "SELECT f.diff, f.runs FROM openings o JOIN build_facts f ON f.build = o.build "
        "WHERE o.reason = 'notchy' AND f.runs > 0 ORDER BY f.runs, f.build"
    )
    return [(row[0], float(row[1])) for row in rows]
