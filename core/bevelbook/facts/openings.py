"""Openings: how long ago each diff was open, what was found on which part, and after how many runs."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import REBUILD
from bevelbook.facts.builds import newest_first, place_sql
from bevelbook.facts.parts import PartCount, parts_of_all
from bevelbook.facts.runs import count_of, since_opened_words

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


_WAS_OPENED: Final = f"""(b.kind IS '{REBUILD}' OR (
    SELECT q.opened_on FROM builds e JOIN build_facts q ON q.build = e.id
    WHERE e.diff = b.diff AND {place_sql("e")} < {place_sql("b")} ORDER BY {newest_first("e")} LIMIT 1) IS NOT NULL)"""
"""Whether records say that the diff was opened for the build ``b``: it is a rebuild, or an opening ended the build
before. A first build was put together, and a top-up went in by its hole."""


class SinceOpened(NamedTuple):
    """A diff's last build with its runs: the case was open when it was filled. ``opened``: it is open now."""

    diff: str
    label: str
    build: str
    build_label: str
    runs: float
    opened: bool
    built_on: str
    was_opened: bool = False
    """Whether it was in use before and was opened for this build."""

    @property
    def words(self) -> str:
        """Added to every conclusion about the diff."""
        if self.opened:
            return "open now"
        return since_opened_words(self.runs, was_opened=self.was_opened)


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
        "SELECT d.id, d.label, b.id, b.label, f.runs, f.opened_on IS NOT NULL, b.built_on, "
        f"{_WAS_OPENED} FROM diff_facts s "
        "JOIN diffs d ON d.id = s.diff JOIN builds b ON b.id = s.current_build JOIN build_facts f ON f.build = b.id "
        "ORDER BY d.label, d.id"
    ).fetchall()
    return [SinceOpened(row[0], row[1], row[2], row[3], row[4], bool(row[5]), row[6], bool(row[7])) for row in rows]


def opened_words(connection: sqlite3.Connection, build: str) -> str:
    """Added to a conclusion about one build: its runs since the case was open, or until it was opened."""
    opened_on, runs, was_opened = connection.execute(
        f"SELECT f.opened_on, f.runs, {_WAS_OPENED} FROM builds b JOIN build_facts f ON f.build = b.id WHERE b.id = ?",
        (build,),
    ).fetchone()
    if opened_on:
        return f"opened {opened_on}, after {count_of(runs)}"
    return since_opened_words(runs, was_opened=bool(was_opened))


def opened_for(connection: sqlite3.Connection, builds: Iterable[str]) -> frozenset[str]:
    """Those of these builds (by id) for which the diff was opened, as far as records say so."""
    rows = connection.execute(
        f"SELECT b.id FROM builds b WHERE b.id IN (SELECT value FROM json_each(?)) AND {_WAS_OPENED}",
        (json.dumps(list(builds)),),
    )
    return frozenset(row[0] for row in rows)


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
