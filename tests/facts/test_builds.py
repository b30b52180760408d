"""The order of a diff's builds and the last one. All data are constructed."""

from __future__ import annotations

import sqlite3
from itertools import pairwise, permutations
from typing import NamedTuple

import pytest
from constructed import adding

from bevelbook.facts.builds import BuildName, build_after, build_before, last_build_sql, newest_first, oldest_first
from bevelbook.facts.renew import renew_touched, stale
from bevelbook.store.writing import Writer


class Place(NamedTuple):
    """What the order of a build goes by."""

    day: str
    line: int | None
    written: str
    id: str


IN_ORDER = (
    Place("2026-05-01", 9, "T3", "d"),
    Place("2026-05-02", None, "T1", "z"),
    Place("2026-05-02", 0, "T1", "c"),
    Place("2026-05-02", 10, "T1", "e"),
    Place("2026-05-02", None, "T2", "a"),
    Place("2026-05-02", None, "T2", "b"),
    Place("2026-05-02", 10, "T2", "f"),
    Place("2026-05-02", 2, "T9", "h"),
    Place("2026-05-03", None, "T0", "g"),
)
"""By day, by when they were written down, those written by hand before those of notes, by line, by id."""


@pytest.fixture(params=[0, 1, 2], ids=["as they came", "backwards", "mixed"])
def builds(request: pytest.FixtureRequest, connection: sqlite3.Connection, writer: Writer) -> list[str]:
    """Builds of one diff, written in some order; their ids in the order in which they were built."""
    add = adding(writer)
    diff, other = add("diff", label="rear-a"), add("diff", label="rear-b")
    mixed = [IN_ORDER[place] for place in (4, 8, 1, 6, 0, 3, 7, 2, 5)]
    for place in (IN_ORDER, IN_ORDER[::-1], mixed)[request.param]:
        by_hand = Writer(connection, "ana", lambda stamp=place.written: stamp)  # type: ignore[misc]
        values = {"label": f"build {place.id}", "built_on": place.day, "note_line": place.line}
        adding(by_hand)("build", diff=diff, **values)
        connection.execute("UPDATE builds SET id = ? WHERE label = ?", (place.id, values["label"]))
        adding(by_hand)("build", diff=other, **values)
    renew_touched(connection)
    return [place.id for place in IN_ORDER]


def test_builds_stand_by_day_time_of_writing_line_and_id(connection: sqlite3.Connection, builds: list[str]) -> None:
    asked = "SELECT b.id FROM builds b WHERE b.diff = (SELECT id FROM diffs WHERE label = 'rear-a') ORDER BY "
    assert [row[0] for row in connection.execute(asked + oldest_first("b"))] == builds
    assert [row[0] for row in connection.execute(asked + newest_first("b"))] == builds[::-1]
    last = connection.execute(f"SELECT {last_build_sql('d.id')} FROM diffs d WHERE label = 'rear-a'").fetchone()[0]
    assert last == builds[-1]


def test_each_build_has_the_one_before_and_the_one_after(connection: sqlite3.Connection, builds: list[str]) -> None:
    for before, after in pairwise(builds):
        assert build_before(connection, after) == BuildName(before, f"build {before}")
        assert build_after(connection, before) == BuildName(after, f"build {after}")
    assert build_before(connection, builds[0]) is None
    assert build_after(connection, builds[-1]) is None
    assert build_before(connection, "nobody") is None


def test_the_last_build_is_that_of_every_view(connection: sqlite3.Connection, builds: list[str]) -> None:
    where = "(SELECT id FROM diffs WHERE label = 'rear-a')"
    for sql in (
        f"SELECT current_build FROM diff_facts WHERE diff = {where}",
        f"SELECT build FROM shelf WHERE diff = {where}",
        f"SELECT id FROM current_builds WHERE diff = {where}",
    ):
        assert connection.execute(sql).fetchall()[0][0] == builds[-1], sql
    assert set(stale(connection).values()) == {0}


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_parts_are_counted_in_the_same_order(
    connection: sqlite3.Connection, writer: Writer, order: tuple[int, ...]
) -> None:
    """Three builds of one day, by hand, on line 3 and on line 12, each with one run more than the one before."""
    add = adding(writer)
    diff = add("diff", label="rear-a")
    made: dict[int, str] = {}
    for place in order:
        values = {"label": f"rear-a/{place}", "built_on": "2026-05-02", "note_line": (None, 3, 12)[place]}
        made[place] = add("build", diff=diff, **values)
        run = add("run", label=str(place), run_on="2026-05-03", runs=float(place + 1))
        add("run_diff", run=run, build=made[place])
    add("seal_fitting", build=made[0], place="joint", condition="new")
    found = dict(connection.execute("SELECT build, uses FROM part_runs").fetchall())
    assert found == {made[place]: place + 1 for place in range(3)}
    runs = dict(connection.execute("SELECT build, runs FROM part_runs").fetchall())
    assert runs == {made[0]: 1.0, made[1]: 3.0, made[2]: 6.0}
