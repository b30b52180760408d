"""Parts counted: the uses and runs of each part in each build, since it was noted as new or first noted."""

from __future__ import annotations

import json
import sqlite3
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.facts.builds import oldest_first, place_sql
from bevelbook.facts.once import once
from bevelbook.facts.runs import count_of

_WITH_PARTS: Final = """SELECT n.diff FROM builds n WHERE n.id IN (
        SELECT build FROM seal_fittings UNION SELECT build FROM build_parts)"""
_SEALS_NOTED: Final = """    SELECT n.build, 'seal' AS part, n.place, n.condition, n.seal AS sort, NULL AS mark
    FROM counts c CROSS JOIN seal_fittings n ON n.build = c.build
"""
"""What is noted of seals in the builds of the table ``counts``: a seal is never marked."""
_NOTED: Final = f"""{_SEALS_NOTED}    UNION ALL
    SELECT p.build, p.part, coalesce(s.side, p.place, '{NOT_SAID}'), p.condition, NULL,
           p.mark || CASE WHEN s.side IS NULL THEN '' ELSE ', ' || s.side END
    FROM counts c CROSS JOIN build_parts p ON p.build = c.build
    LEFT JOIN (SELECT 'case side' AS side UNION ALL SELECT 'lid side') s ON p.place = 'both'
"""
"""What is noted of parts in the builds of the table ``counts``."""
_MOVES: Final = """
traced AS (
    SELECT *, count(*) OVER (PARTITION BY build, part, mark) AS alike,
           coalesce(max(iif(new, age, NULL)) OVER here, first_value(newest) OVER here, 0) AS origin
    FROM (
        SELECT *, max(iif(new, age, NULL)) OVER (PARTITION BY part, mark ORDER BY age) AS newest
        FROM slots
    ) WINDOW here AS (PARTITION BY part, mark, diff ORDER BY age)
),
stays AS (
    SELECT *, sum(moved) OVER (PARTITION BY part, mark, origin ORDER BY age, place) AS stay
    FROM (
        SELECT *, mark IS NOT NULL AND coalesce(
                   diff <> lag(diff) OVER piece
                   OR (place <> lag(place) OVER piece AND alike = 1 AND lag(alike) OVER piece = 1), 0) AS moved
        FROM traced WINDOW piece AS (PARTITION BY part, mark, origin ORDER BY age, place)
    )
),
moves AS (
    SELECT diff, nth, build, part, place, new, sort, mark, moved,
           min(iif(moved, age, NULL)) OVER (PARTITION BY part, mark, origin ORDER BY stay
                                            RANGE BETWEEN 1 FOLLOWING AND 1 FOLLOWING) AS left_at
    FROM stays
)"""
"""Where each marked piece was, and when it had left a place."""
_NO_MOVES: Final = """
moves AS (SELECT diff, nth, build, part, place, new, sort, mark, 0 AS moved, NULL AS left_at FROM slots)"""
"""The same where no piece is marked."""
_PART_RUNS: Final = f"""
WITH counts AS MATERIALIZED (
    SELECT b.id AS build, b.diff, b.built_on,
           row_number() OVER (PARTITION BY b.diff ORDER BY {oldest_first("b")}) AS nth,
           row_number() OVER (ORDER BY {oldest_first("b")}) AS age, f.runs
    FROM builds b JOIN build_facts f ON f.build = b.id
    WHERE b.diff IN ({{diffs}}) {{among}}
),
noted AS (
{{noted}}),
slots AS (
    SELECT c.diff, c.nth, c.age, n.build, n.part, n.place,
           min(coalesce(n.condition = 'new', 0)) AS new, max(n.sort) AS sort, max(n.mark) AS mark
    FROM noted n JOIN counts c ON c.build = n.build
    GROUP BY n.build, n.part, n.place
),
{{moves}},
lives AS (
    SELECT * FROM (
        SELECT *, new OR moved OR lag(nth) OVER slot IS NULL OR coalesce(mark <> lag(mark) OVER slot, 0)
                   OR coalesce(sort <> lag(sort) OVER slot, 0) AS starts
        FROM moves WINDOW slot AS (PARTITION BY diff, part, place ORDER BY nth)
    ) WHERE starts
),
held AS (
    SELECT *, max(life) OVER (PARTITION BY diff, part, place ORDER BY nth) AS first
    FROM (
        SELECT diff, part, place, nth, nth AS life, mark, new, build AS since_build, left_at,
               NULL AS build, NULL AS built_on, NULL AS age, NULL AS runs
        FROM lives
        UNION ALL
        SELECT c.diff, p.part, p.place, c.nth, NULL, NULL, NULL, NULL, NULL, c.build, c.built_on, c.age, c.runs
        FROM (SELECT DISTINCT diff, part, place FROM lives) p JOIN counts c ON c.diff = p.diff
    )
),
fitted AS (
    SELECT build, built_on, diff, part, place, mark, new, since_build, first,
           count(*) OVER life AS uses, sum(runs) OVER life AS runs
    FROM (
        SELECT build, built_on, diff, part, place, nth, age, runs, first, first_value(mark) OVER begun AS mark,
               first_value(new) OVER begun AS new, first_value(since_build) OVER begun AS since_build,
               first_value(left_at) OVER begun AS left_at
        FROM held WHERE first IS NOT NULL
        WINDOW begun AS (PARTITION BY diff, part, place, first ORDER BY nth, life IS NULL)
    ) WHERE build IS NOT NULL AND (left_at IS NULL OR age < left_at)
    WINDOW life AS (PARTITION BY diff, part, place, first ORDER BY nth)
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
PART_RUNS_SQL: Final = _PART_RUNS.format(diffs=_WITH_PARTS, among="", noted=_NOTED, moves=_MOVES)
"""Columns: build, diff, part, place, mark, since_build, from_new, uses, runs.

A piece stays in its place until a new one, another mark or another kind of seal is noted there. A marked piece keeps
its count in another place or diff, and has left its old place from the build on in which it is noted elsewhere. Several
pieces in one place are counted as one. A piece noted as new elsewhere is another one with the same mark."""


class PartCount(NamedTuple):
    """A part of a build with its uses (how often it was closed in) and runs, since new if that was noted."""

    part: str
    place: str
    mark: str | None
    from_new: bool
    uses: int
    runs: float

    @property
    def words(self) -> str:
        """Which part, and its runs."""
        named = [self.part, *([self.place] if self.place != NOT_SAID else ()), *([self.mark] if self.mark else ())]
        return f"{' '.join(named)} {count_of(self.runs)}, {counted(self.uses, 'build')}"


def parts_of_build(connection: sqlite3.Connection, build: str) -> list[PartCount]:
    """The parts noted in a build or carried on from earlier ones, each with its uses and runs."""
    diffs = _sharing_pieces(connection, build)
    if not _are_noted(connection, diffs):
        return []
    if len(diffs) > 1:
        return _parts(connection, f"({_counting(diffs, is_marked=True)})", "build = ?", (*diffs, build)).get(build, [])
    since = _since(connection, _UP_TO_ONE, (build,)).get(diffs[0])
    if since is None:
        return []
    among = f"AND {place_sql('b')} >= {_PLACE_OF} AND {place_sql('b')} <= {_PLACE_OF}"
    counted = f"({_counting(diffs, among, is_marked=since.is_marked)})"
    return _parts(connection, counted, "build = ?", (*diffs, since.build, build, build)).get(build, [])


_PLACE_OF: Final = f"(SELECT {place_sql('t')[1:-1]} FROM builds t WHERE t.id = ?)"
_UP_TO_ONE: Final = f"""
    SELECT b.id AS build
    FROM builds this JOIN builds b ON b.diff = this.diff AND {place_sql("b")} <= {place_sql("this")} WHERE this.id = ?
"""
_EVERY_ONE: Final = "SELECT build FROM seal_fittings UNION SELECT build FROM build_parts"
_NEW_OR_NOT: Final = f"""
WITH counts AS MATERIALIZED ({{counts}}),
noted AS ({_NOTED})
SELECT b.diff, n.part, n.place, min(n.condition IS 'new') AS new, max(n.mark), {place_sql("b")[1:-1]}
FROM noted n JOIN builds b ON b.id = n.build GROUP BY n.build, n.part, n.place
"""


class _Since(NamedTuple):
    """From which build of a diff on (by id) its builds matter for what is in it, and whether a part in it is marked."""

    build: str
    is_marked: bool


def _since(connection: sqlite3.Connection, counts: str, given: tuple[str, ...]) -> dict[str, _Since]:
    """The build of each diff (by id) before which nothing matters for the counts of the last of the builds in
    ``counts``: every part in it was noted as new there or later, or noted for the first time. A marked part may have
    come from another place, so that all builds matter from the first on that notes any part."""
    first: dict[str, dict[tuple[str, str], tuple[Any, ...]]] = {}
    newest: dict[str, dict[tuple[str, str], tuple[Any, ...]]] = {}
    marked = set()
    for diff, part, place, new, mark, *of_build in connection.execute(_NEW_OR_NOT.format(counts=counts), given):
        slot, here = (part, place), tuple(of_build)
        of_diff = first.setdefault(diff, {})
        of_diff[slot] = min(of_diff.get(slot, here), here)
        if new:
            of_diff = newest.setdefault(diff, {})
            of_diff[slot] = max(of_diff.get(slot, here), here)
        if mark is not None:
            marked.add(diff)
    return {
        diff: _Since(min((noted if diff in marked else noted | newest.get(diff, {})).values())[-1], diff in marked)
        for diff, noted in first.items()
    }


class PieceInDiff(NamedTuple):
    """A part as it was in one place of a diff: its builds there (id and label), the first one first.

    ``uses`` and ``runs`` are those up to the last of them, since it was new if ``from_new``; ``is_in`` is whether that
    is the diff's last build.
    """

    part: str
    place: str
    mark: str | None
    from_new: bool
    uses: int
    runs: float
    builds: tuple[tuple[str, str], ...]
    is_in: bool


def pieces_of_diff(connection: sqlite3.Connection, diff: str) -> list[PieceInDiff]:
    """Every part that was noted in a diff (by id): those in it, then those that were replaced, the last one first."""
    last = connection.execute("SELECT current_build FROM diff_facts WHERE diff = ?", (diff,)).fetchone()
    if last is None or last[0] is None:
        return []
    diffs = _sharing_pieces(connection, last[0])
    if not _are_noted(connection, diffs):
        return []
    lives: dict[tuple[str, str, str | None, str], list[tuple[Any, ...]]] = {}
    for part, place, mark, since_build, *at_build in connection.execute(
        "SELECT p.part, p.place, p.mark, p.since_build, p.from_new, p.uses, p.runs, b.id, b.label "
        f"FROM ({_counting(diffs, is_marked=_are_marked(connection, diffs))}) p JOIN builds b ON b.id = p.build "
        f"WHERE p.diff = ? ORDER BY {oldest_first('b')}",
        (*diffs, diff),
    ):
        lives.setdefault((part, place, mark, since_build), []).append(tuple(at_build))
    found = []
    for (part, place, mark, _), in_builds in lives.items():
        from_new, uses, runs, *_ = in_builds[-1]
        builds = tuple((build, label) for _, _, _, build, label in in_builds)
        found.append(PieceInDiff(part, place, mark, from_new == "yes", uses, runs, builds, builds[-1][0] == last[0]))
    return [one for one in found if one.is_in] + [one for one in reversed(found) if not one.is_in]


@once
def parts_of_all(connection: sqlite3.Connection) -> dict[str, list[PartCount]]:
    """The same for every build, by its id."""
    return _parts(connection, f"({PART_RUNS_SQL})", "true", ())


def parts_in_use(connection: sqlite3.Connection) -> dict[str, list[PartCount]]:
    """The same for the last build of every diff, by the build's id."""
    since = _since(connection, _EVERY_ONE, ())
    is_marked = any(one.is_marked for one in since.values())
    counted = _PART_RUNS.format(
        diffs="SELECT s.diff FROM json_each(?1) t CROSS JOIN builds s ON s.id = t.value",
        among=_AMONG_SINCE,
        noted=_NOTED,
        moves=_MOVES if is_marked else _NO_MOVES,
    )
    given = (json.dumps([one.build for one in since.values()]),)
    return _parts(connection, f"({counted})", "build IN (SELECT current_build FROM diff_facts)", given)


_AMONG_SINCE: Final = f"""AND b.id IN (
    SELECT n.id FROM json_each(?1) t CROSS JOIN builds s ON s.id = t.value
    CROSS JOIN builds n ON n.diff = s.diff AND {place_sql("n")} >= {place_sql("s")})"""
"""The builds of each diff from a listed one on."""


def seal_uses(connection: sqlite3.Connection, diffs: str) -> dict[str, int]:
    """The most uses of a seal in each build (by id) of the diffs in ``diffs``, a table with the column ``diff``."""
    fitted = f"FROM {diffs} t CROSS JOIN builds b ON b.diff = t.diff CROSS JOIN seal_fittings n ON n.build = b.id"
    if connection.execute(f"SELECT 1 {fitted} LIMIT 1").fetchone() is None:
        return {}
    counted = _PART_RUNS.format(diffs=f"SELECT b.diff {fitted}", among="", noted=_SEALS_NOTED, moves=_NO_MOVES)
    rows = connection.execute(f"SELECT build, max(uses) FROM ({counted}) GROUP BY build")
    return {row[0]: row[1] for row in rows}


def _sharing_pieces(connection: sqlite3.Connection, build: str) -> list[str]:
    """The diff of a build, and every diff that a marked piece of it was in, and so on: all that its counts depend
    on."""
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


def _are_noted(connection: sqlite3.Connection, diffs: list[str]) -> bool:
    """Whether any part was ever written down for these diffs."""
    marks = ", ".join("?" * len(diffs))
    return (
        connection.execute(
            f"SELECT 1 FROM builds b WHERE b.diff IN ({marks}) AND (EXISTS (SELECT 1 FROM seal_fittings n "
            "WHERE n.build = b.id) OR EXISTS (SELECT 1 FROM build_parts p WHERE p.build = b.id)) LIMIT 1",
            diffs,
        ).fetchone()
        is not None
    )


def _are_marked(connection: sqlite3.Connection, diffs: list[str]) -> bool:
    """Whether any part of these diffs was ever marked."""
    marks = ", ".join("?" * len(diffs))
    sql = (
        "SELECT 1 FROM builds b CROSS JOIN build_parts p ON p.build = b.id AND p.mark IS NOT NULL "
        f"WHERE b.diff IN ({marks}) LIMIT 1"
    )
    return connection.execute(sql, diffs).fetchone() is not None


def _counting(diffs: list[str], among: str = "", *, is_marked: bool) -> str:
    """The SQL that counts the parts of some diffs, and of the builds ``among`` them alone."""
    marks = ", ".join("?" * len(diffs))
    return _PART_RUNS.format(diffs=marks, among=among, noted=_NOTED, moves=_MOVES if is_marked else _NO_MOVES)


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
