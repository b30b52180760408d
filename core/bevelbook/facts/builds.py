"""The order of a diff's builds, and the last one: by day, place in the day, time of writing, then line of the notes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    import sqlite3


_ORDER: Final = ("built_on", "day_order", "created_at", "note_line", "id")


class BuildName(NamedTuple):
    """A build: its id and label."""

    id: str
    label: str


def oldest_first(builds: str = "builds") -> str:
    """ORDER BY terms for the builds of a diff, oldest first; ``builds`` is the table's name in the query.

    >>> oldest_first("b")
    'b.built_on, b.day_order, b.created_at, b.note_line, b.id'
    """
    return ", ".join(f"{builds}.{column}" for column in _ORDER)


def newest_first(builds: str = "builds") -> str:
    """ORDER BY terms for the builds of a diff, newest first; ``builds`` is the table's name in the query."""
    return ", ".join(f"{builds}.{column} DESC" for column in _ORDER)


def last_build_sql(diff: str) -> str:
    """A subquery for the id of the last build of the diff whose id ``diff`` names in the query around."""
    return f"(SELECT last.id FROM builds last WHERE last.diff = {diff} ORDER BY {newest_first('last')} LIMIT 1)"


def place_sql(builds: str) -> str:
    """A row value that compares two builds of a diff in the same order."""
    day = f"{builds}.built_on, coalesce({builds}.day_order, -1)"
    return f"({day}, {builds}.created_at, coalesce({builds}.note_line, -1), {builds}.id)"


def was_later_sql(one: str, other: str) -> str:
    """Whether the build ``one`` is known to have been built after ``other``, of whichever diff: on a later day, or of
    one diff on one day by their places in it, or where neither has one by which was written first."""
    place = (
        f"CASE WHEN {one}.day_order IS NULL AND {other}.day_order IS NULL THEN {one}.created_at > {other}.created_at "
        f"ELSE coalesce({one}.day_order > {other}.day_order, 0) END"
    )
    return (
        f"({one}.built_on > {other}.built_on OR ({one}.diff = {other}.diff AND {one}.built_on = {other}.built_on "
        f"AND {place}))"
    )


def build_before(connection: sqlite3.Connection, build: str) -> BuildName | None:
    """The build of the same diff before this one, which this one replaced."""
    return _neighbour(connection, build, "<", newest_first("b"))


def build_after(connection: sqlite3.Connection, build: str) -> BuildName | None:
    """The build of the same diff that replaced this one."""
    return _neighbour(connection, build, ">", oldest_first("b"))


def _neighbour(connection: sqlite3.Connection, build: str, sign: str, order: str) -> BuildName | None:
    row = connection.execute(
        f"SELECT b.id, b.label FROM builds this JOIN builds b ON b.diff = this.diff AND {place_sql('b')} {sign} "
        f"{place_sql('this')} WHERE this.id = ? ORDER BY {order} LIMIT 1",
        (build,),
    ).fetchone()
    return None if row is None else BuildName(row[0], row[1])
