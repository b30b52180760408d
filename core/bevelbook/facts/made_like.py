"""Which build another one may be made like: one built before it, so never itself, nor one that was made like it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.facts.builds import was_later_sql
from bevelbook.facts.newest_builds import Among, all_builds

_LIKE: Final = f"""
SELECT b.id, b.diff, d.label, b.label, l.id, l.label, l.built_on, {was_later_sql("l", "b")}
FROM builds b CROSS JOIN main.builds l ON l.id = b.like CROSS JOIN main.diffs d ON d.id = b.diff
WHERE b.like IS NOT NULL AND l.built_on >= b.built_on {{more}} ORDER BY b.label, b.id
"""
"""Builds with the one that they are like, where that was not built on a day before."""


class LikeFault(NamedTuple):
    """A build that cannot have been made like the one that it names, and why, in words; ``diff`` is its diff by id.

    ``circle`` are the labels on the way from the build that it names back to the build, empty where none leads back.
    """

    diff: str
    diff_label: str
    label: str
    like_label: str
    like_built_on: str
    is_later: bool
    circle: tuple[str, ...]

    @property
    def words(self) -> str:
        """What is wrong, as follows the label of the build.

        >>> circle = ("rear-a/2", "rear-a/1")
        >>> LikeFault("1", "rear-a", "rear-a/1", "rear-a/2", "2026-05-10", True, circle).words
        'is said to be like rear-a/2, which was built later, on 2026-05-10, and is like rear-a/1 itself'
        """
        said = f"is said to be like {self.like_label}"
        if self.circle == (self.label,):
            return "is said to be like itself"
        *between, _ = self.circle or ("",)
        back = [f"is like {one}" for one in self.circle[1:]]
        chain = ", which ".join((*back[:-1], f"{back[-1]} itself")) if between else ""
        if self.is_later:
            return f"{said}, which was built later, on {self.like_built_on}{f', and {chain}' if chain else ''}"
        return f"{said}, which {chain}"


def like_fault(connection: sqlite3.Connection, build: str) -> LikeFault | None:
    """Why a build (by id) cannot have been made like the one that it names; None where it can."""
    return next(_faults(connection, _LIKE.format(more="AND b.id = :build"), {"build": build}), None)


def like_faults(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[LikeFault]:
    """The same for all builds, by label: each that names itself or a later one, and of a circle of one day each."""
    return _faults(connection, among(_LIKE.format(more="")), {})


def may_be_like_sql(build: str, of: str) -> str:
    """Whether the build with the id ``of`` may be made like ``build``, a table in the query around: it was not built
    later, is not itself, and neither it nor any that it is like is like it."""
    return (
        f"({build}.id NOT IN (WITH RECURSIVE made_like(id) AS (SELECT {of} UNION SELECT m.id FROM made_like f "
        f"CROSS JOIN builds m ON m.like = f.id) SELECT id FROM made_like) AND NOT EXISTS ("
        f"SELECT 1 FROM builds own WHERE own.id = {of} AND {was_later_sql(build, 'own')}))"
    )


def _faults(connection: sqlite3.Connection, sql: str, given: dict[str, str]) -> Iterator[LikeFault]:
    for build, diff, diff_label, label, like, like_label, built_on, is_later in connection.execute(
        sql, given
    ).fetchall():
        circle = _way_back(connection, like, build)
        if is_later or circle:
            yield LikeFault(diff, diff_label, label, like_label, built_on, bool(is_later), circle)


def _way_back(connection: sqlite3.Connection, like: str, build: str) -> tuple[str, ...]:
    """The labels from the build ``like`` to ``build``, each like the next; empty where none leads there."""
    labels: list[str] = []
    seen: set[str] = set()
    at: str | None = like
    while at is not None and at not in seen:
        seen.add(at)
        row = connection.execute("SELECT label, builds.like FROM builds WHERE id = ?", (at,)).fetchone()
        if row is None:
            break
        labels.append(row[0])
        if at == build:
            return tuple(labels)
        at = row[1]
    return ()
