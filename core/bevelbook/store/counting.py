"""Runs counted: of each build, of each part since it was noted as new, and of the case since it was last open."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

_RUNS_OF: Final = """max(coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs d JOIN runs r ON r.id = d.run
                     WHERE d.build = {build}), 0.0),
           coalesce((SELECT max(w.runs) FROM weighings w WHERE w.build = {build}), 0.0))"""
"""A weighing may know of more runs than are written down one by one; the larger count holds."""
BUILD_COUNTS_SQL: Final = f"""
SELECT b.id AS build, b.diff, b.built_on,
       row_number() OVER (PARTITION BY b.diff ORDER BY b.built_on, b.note_line, b.created_at, b.id) AS nth,
       {_RUNS_OF.format(build="b.id")} AS runs
FROM builds b
"""

_WITH_PARTS: Final = """SELECT n.diff FROM builds n WHERE n.id IN (
        SELECT build FROM seal_fittings UNION SELECT build FROM build_parts)"""
_PART_RUNS: Final = f"""
WITH counts AS ({BUILD_COUNTS_SQL.strip()}
    WHERE b.diff IN ({{diffs}})
),
noted AS (
    SELECT build, 'seal' AS part, place, condition, seal AS sort, NULL AS mark FROM seal_fittings
    UNION ALL
    SELECT p.build, p.part, coalesce(s.side, p.place, 'not said'), p.condition, NULL,
           p.mark || CASE WHEN s.side IS NULL THEN '' ELSE ', ' || s.side END
    FROM build_parts p
    LEFT JOIN (SELECT 'case side' AS side UNION ALL SELECT 'lid side') s ON p.place = 'both'
),
slots AS (
    SELECT c.diff, c.nth, n.build, n.part, n.place,
           min(coalesce(n.condition = 'new', 0)) AS new, max(n.sort) AS sort, max(n.mark) AS mark
    FROM noted n JOIN counts c ON c.build = n.build
    GROUP BY n.build, n.part, n.place
),
lives AS (
    SELECT *, lead(nth) OVER (PARTITION BY diff, part, place ORDER BY nth) AS next
    FROM (
        SELECT *, new OR lag(nth) OVER slot IS NULL OR coalesce(mark <> lag(mark) OVER slot, 0)
                   OR coalesce(sort <> lag(sort) OVER slot, 0) AS starts
        FROM slots WINDOW slot AS (PARTITION BY diff, part, place ORDER BY nth)
    ) WHERE starts
),
fitted AS (
    SELECT c.build, c.built_on, l.diff, l.part, l.place, l.mark, l.new, l.build AS since_build, l.nth AS first,
           count(*) OVER life AS uses, sum(c.runs) OVER life AS runs
    FROM lives l JOIN counts c ON c.diff = l.diff AND c.nth >= l.nth AND (l.next IS NULL OR c.nth < l.next)
    WINDOW life AS (PARTITION BY l.diff, l.part, l.place, l.nth ORDER BY c.nth)
),
pieces AS (
    SELECT *, sum(new) OVER (PARTITION BY part, mark ORDER BY start, diff, first) AS generation
    FROM (
        SELECT part, mark, diff, place, first, new, min(built_on) AS start, max(uses) AS uses, max(runs) AS runs
        FROM fitted WHERE mark IS NOT NULL GROUP BY diff, part, place, first
    )
),
before AS (
    SELECT part, diff, place, first, generation > 0 AS new,
           coalesce(sum(uses) OVER earlier, 0) AS uses, coalesce(sum(runs) OVER earlier, 0.0) AS runs
    FROM pieces
    WINDOW earlier AS (PARTITION BY part, mark, generation ORDER BY start, diff, first
                       ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
)
SELECT f.build, f.diff, f.part, f.place, f.mark, f.since_build,
       CASE WHEN coalesce(e.new, f.new) THEN 'yes' ELSE 'no' END AS from_new,
       f.uses + coalesce(e.uses, 0) AS uses, f.runs + coalesce(e.runs, 0.0) AS runs
FROM fitted f
LEFT JOIN before e ON e.diff = f.diff AND e.part = f.part AND e.place = f.place AND e.first = f.first
"""
PART_RUNS_SQL: Final = _PART_RUNS.format(diffs=_WITH_PARTS)
"""A piece stays in its place until a new one, another mark or another kind of seal is noted there. A marked piece
takes its count along into another place or diff; several pieces in one place are counted as one."""

_OPENED: Final = {
    "side_gears": "side gear",
    "small_gears": "small gear",
    "shafts": "outdrive",
    "cross_pin": "cross pin",
    "bores": "bore",
    "seals": "seal",
    "screws": "screw",
}
"""What an opening looks at, and the part whose runs stand beside it."""


class SinceOpened(NamedTuple):
    """A diff's last build with its runs: the case was open when that was filled. ``opened``: it stands open now."""

    diff: str
    label: str
    build: str
    build_label: str
    runs: float
    opened: bool

    @property
    def words(self) -> str:
        """What stands beside every conclusion about the diff."""
        if self.opened:
            return "open now"
        return _since_opened_words(self.runs)


class PartCount(NamedTuple):
    """A part of a build with its uses (how often it was closed in) and runs, since new where that was noted."""

    part: str
    place: str
    mark: str | None
    from_new: bool
    uses: int
    runs: float

    @property
    def words(self) -> str:
        """Which part, and its runs."""
        named = [self.part, *([self.place] if self.place != "not said" else ()), *([self.mark] if self.mark else ())]
        return f"{' '.join(named)} {count_of(self.runs)}, {self.uses} build{'' if self.uses == 1 else 's'}"


class Seen(NamedTuple):
    """What an opening found on one part, and the runs of that part then (None where the part was never noted)."""

    opening: str
    opened_on: str
    diff: str
    build_label: str
    build_runs: float
    part: str
    state: str
    part_runs: float | None


def runs_of_build(connection: sqlite3.Connection, build: str) -> float:
    """Runs of one build: those written down, or those that a weighing of it tells, whichever is more."""
    row = connection.execute(f"SELECT {_RUNS_OF.format(build=':build')}", {"build": build}).fetchone()
    return float(row[0])


def since_opened(connection: sqlite3.Connection) -> list[SinceOpened]:
    """Each diff's last build with the runs since the case was open, by the diff's label."""
    rows = connection.execute(
        "SELECT d.id, d.label, b.id, b.label, c.runs, EXISTS (SELECT 1 FROM openings o WHERE o.build = b.id) "
        "FROM diffs d JOIN current_builds b ON b.diff = d.id JOIN build_counts c ON c.build = b.id ORDER BY d.label"
    ).fetchall()
    return [SinceOpened(row[0], row[1], row[2], row[3], row[4], bool(row[5])) for row in rows]


def opened_words(connection: sqlite3.Connection, build: str) -> str:
    """What stands beside a conclusion about one build: its runs since the case was open, or until it was opened."""
    runs = runs_of_build(connection, build)
    row = connection.execute(
        "SELECT opened_on FROM openings WHERE build = ? ORDER BY opened_on, id LIMIT 1", (build,)
    ).fetchone()
    if row:
        return f"opened {row[0]}, after {count_of(runs)}"
    return _since_opened_words(runs)


def _since_opened_words(runs: float) -> str:
    return "never run since it was opened" if runs == 0 else f"last opened {count_of(runs)} ago"


def parts_of_build(connection: sqlite3.Connection, build: str) -> list[PartCount]:
    """The parts noted in a build or carried on from earlier ones, each with its uses and runs."""
    diffs = _sharing_pieces(connection, build)
    counted = f"({_PART_RUNS.format(diffs=', '.join('?' * len(diffs)))})"
    return _parts(connection, counted, "build = ?", (*diffs, build)).get(build, [])


def parts_in_use(connection: sqlite3.Connection) -> dict[str, list[PartCount]]:
    """The same for the last build of every diff, by the build's id."""
    return _parts(connection, "part_runs", "build IN (SELECT id FROM current_builds)", ())


def _sharing_pieces(connection: sqlite3.Connection, build: str) -> list[str]:
    """The diff of a build, and every diff that a marked piece of it was in, and so on: all that its counts rest on."""
    rows = connection.execute(
        """
        WITH RECURSIVE reached(diff) AS (
            SELECT diff FROM builds WHERE id = ?
            UNION
            SELECT there.diff FROM reached
            JOIN builds here ON here.diff = reached.diff
            JOIN build_parts p ON p.build = here.id AND p.mark IS NOT NULL
            JOIN build_parts q ON q.part = p.part AND q.mark = p.mark
            JOIN builds there ON there.id = q.build
        )
        SELECT diff FROM reached
        """,
        (build,),
    )
    return [row[0] for row in rows]


def _parts(
    connection: sqlite3.Connection, counted: str, where: str, given: tuple[str, ...]
) -> dict[str, list[PartCount]]:
    found: dict[str, list[PartCount]] = {}
    for build, part, place, mark, from_new, uses, runs in connection.execute(
        f"SELECT build, part, place, mark, from_new, uses, runs FROM {counted} WHERE {where} "
        "ORDER BY build, part, place, mark",
        given,
    ):
        found.setdefault(build, []).append(PartCount(part, place, mark, from_new == "yes", uses, runs))
    return found


def found_at_openings(connection: sqlite3.Connection) -> list[Seen]:
    """What openings found, part by part with its runs, in the order of the days."""
    rows = connection.execute(
        f"SELECT o.id, o.opened_on, b.diff, b.label, c.runs, o.build, {', '.join(f'o.{name}' for name in _OPENED)} "
        "FROM openings o JOIN builds b ON b.id = o.build JOIN build_counts c ON c.build = b.id "
        "ORDER BY o.opened_on, o.id"
    ).fetchall()
    if not rows:
        return []
    runs: dict[tuple[Any, Any], float] = {
        (row[0], row[1]): row[2]
        for row in connection.execute("SELECT build, part, max(runs) FROM part_runs GROUP BY build, part")
    }
    return [
        Seen(row[0], row[1], row[2], row[3], row[4], part, state, runs.get((row[5], part)))
        for row in rows
        for state, part in zip(tuple(row)[6:], _OPENED.values(), strict=True)
        if state is not None
    ]


def runs_when_notchy(connection: sqlite3.Connection) -> list[tuple[str, float]]:
    """Diff and runs of the builds that were opened because they had become notchy, fewest runs first."""
    rows = connection.execute(
        "SELECT c.diff, c.runs FROM openings o JOIN build_counts c ON c.build = o.build "
        "WHERE o.reason = 'notchy' AND c.runs > 0 ORDER BY c.runs, c.build"
    )
    return [(row[0], float(row[1])) for row in rows]


def count_of(runs: float) -> str:
    """``1 run``, ``41 runs``, ``2.5 runs``."""
    return f"{runs:g} run{'' if runs == 1 else 's'}"
