"""Builds that lost oil, and what was decided on them: a change of oil on a diff that was not full decides little."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator
from json import dumps
from typing import Final, NamedTuple

from bevelbook.facts.builds import newest_first
from bevelbook.facts.leak import leaks_of, weighed_builds
from bevelbook.facts.runs import RUN_ORDER, count_of
from bevelbook.formulas.oil_limits import share_in_words
from bevelbook.formulas.oil_lost_words import lost_in_words

BUILDS_LISTED: Final = "(SELECT value AS build FROM json_each(:builds))"


class Lost(NamedTuple):
    """A build whose weighings say caution or stop: the grams, the oil put in, the runs, and how it was opened.

    ``runs`` are those from its first mass to its last, on the mass basis that is used for it.
    """

    build: str
    label: str
    verdict: str
    loss_g: float
    oil_in_g: float | None
    runs: float
    opened_on: str | None
    leak_place: str | None
    is_last: bool
    """Whether it is the last build of its diff."""
    disagreeing: str | None = None
    """Weighings after the same runs that disagree."""

    @property
    def words(self) -> str:
        """What was lost in how many runs."""
        said = f"lost {lost_in_words(self.loss_g, self.oil_in_g)} in {count_of(self.runs)}"
        return said if self.disagreeing is None else f"{said}; {self.disagreeing}"

    @property
    def opened_words(self) -> str:
        """When it was opened, and where it leaked; empty while it is closed."""
        if not self.opened_on:
            return ""
        return f"opened {self.opened_on}" + (f" ({self.leak_place})" if self.leak_place else "")


def lost_builds(connection: sqlite3.Connection, most: int = -1) -> list[Lost]:
    """Builds that certainly lost oil over a limit, the newest first; all of them, or so many."""
    found = connection.execute(
        f"""
        SELECT k.build, b.label, k.leak, k.loss_g, k.oil_in_g, k.opened_on, k.leak_place, s.current_build = k.build,
               k.weighings_apart
        FROM (SELECT b.id FROM build_facts k CROSS JOIN builds b ON b.id = k.build
              WHERE k.leak IN ('caution', 'stop') ORDER BY {newest_first("b")} LIMIT ?) t
        CROSS JOIN build_facts k ON k.build = t.id JOIN builds b ON b.id = k.build JOIN diff_facts s ON s.diff = k.diff
        ORDER BY {newest_first("b")}
        """,
        (most,),
    ).fetchall()
    runs = {
        one.build: loss.last_runs - loss.first_runs
        for one in weighed_builds(connection, BUILDS_LISTED, {"builds": dumps([row[0] for row in found])})
        for loss in [one.loss()]
    }
    return [
        Lost(build, label, verdict, loss_g, oil_in_g, runs[build], opened_on, leak_place, bool(is_last), apart)
        for build, label, verdict, loss_g, oil_in_g, opened_on, leak_place, is_last, apart in found
        if build in runs
    ]


class DecidedOnLoss(NamedTuple):
    """A run that ended in a change while the diff had lost oil, with what was missing at the next weighing."""

    run_on: str
    venue: str | None
    build_label: str
    runs_before: float
    note: str | None
    loss_g: float
    oil_in_g: float | None


def decided_on_lost_oil(connection: sqlite3.Connection) -> list[DecidedOnLoss]:
    """Runs that ended in a change while the diff had lost oil, in the order of the days."""
    found = connection.execute(
        f"""
        SELECT w.run_on, w.venue, w.build_label, w.runs_before, w.note, w.build, k.oil_in_g
        FROM what_worked w JOIN build_facts k ON k.build = w.build JOIN runs r ON r.id = w.run
        WHERE w.fill_state = 'lost oil' AND w.call = 'change' ORDER BY {RUN_ORDER}, w.run_diff
        """
    ).fetchall()
    points = {build: leak.weighed.counting() for build, leak in leaks_of(connection, {row[5] for row in found}).items()}
    decided = []
    for run_on, venue, label, runs_before, note, build, oil_in_g in found:
        series = points[build]
        later = next((one for one in series if one.runs > runs_before), series[-1])
        loss_g = round(series[0].mass_g - later.mass_g, 4)
        decided.append(DecidedOnLoss(run_on, venue, label, runs_before, note, loss_g, oil_in_g))
    return decided


def decided_lines(decided: Iterable[DecidedOnLoss]) -> Iterator[str]:
    """Such runs in words; runs with the same words share a line that gives their number."""
    counts = Counter(map(decided_line, decided))
    yield from (line if count == 1 else f"{line}: {count} runs" for line, count in counts.items())


def decided_line(one: DecidedOnLoss) -> str:
    """One such run in words."""
    start = f"{one.run_on}{f', {one.venue}' if one.venue else ''}: change"
    said = f' ("{one.note}")' if one.note else ""
    share = share_in_words(one.loss_g / one.oil_in_g) if one.oil_in_g else None
    lost = f"{share} of its oil" if share else f"{one.loss_g:.2f} g"
    return f"{start}{said}, on a diff that had lost {lost} ({one.build_label})"
