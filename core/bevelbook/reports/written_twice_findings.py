"""Builds of one diff on one day, written by different people: is it one build that was written twice?

Builds are not joined as diffs are: each has masses of its own. So one is kept, and gets what is under the others.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from typing import Final, NamedTuple

from bevelbook.declare.in_command import in_command
from bevelbook.facts.builds import oldest_first
from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.plugin.check import Finding, about_build
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of
from bevelbook.store.told_apart import written_by_sql, written_name_sql

CODE: Final = "written_twice"
_MOVES: Final = 4
"""The most commands that move something which are written out."""
_BUILD: Final = BY_NAME["build"]
_UNDER: Final = {"weighing": "weighings", "run_diff": "run_diffs", "opening": "openings"}
_BUILDS: Final = f"""
SELECT b.diff, d.label, b.built_on, b.id, b.label, {written_name_sql(_BUILD, "b")}, {written_by_sql(_BUILD, "b")},
    EXISTS (SELECT 1 FROM main.openings o WHERE o.build = b.id)
    OR EXISTS (SELECT 1 FROM main.run_diffs x WHERE x.build = b.id),
    (SELECT count(*) FROM main.weighings w WHERE w.build = b.id)
    + (SELECT count(*) FROM main.run_diffs x WHERE x.build = b.id)
    + (SELECT count(*) FROM main.openings o WHERE o.build = b.id)
FROM (SELECT DISTINCT c.diff, c.built_on FROM builds c CROSS JOIN main.builds n
      ON n.diff = c.diff AND n.built_on = c.built_on AND n.id <> c.id) t
CROSS JOIN main.builds b ON b.diff = t.diff AND b.built_on = t.built_on CROSS JOIN diffs d ON d.id = b.diff
ORDER BY d.label, {oldest_first("b")}
"""
"""Builds of one diff and day, of the days of those builds that are looked at."""


class _BuildOfDay(NamedTuple):
    diff: str
    diff_label: str
    day: str
    build: str
    label: str
    name: str
    who: str | None
    was_used: bool
    under_it: int

    @property
    def named(self) -> str:
        end = f" of {self.who}"
        return self.label if self.label.endswith(end) else f"{self.label}{end}"


def written_twice_findings(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[Finding]:
    """For each diff and day with builds of several people: who wrote them, and the commands that leave one of them.

    Not where each but the last ran or was opened and no two were given the same name: then it was built again.
    """
    found = map(_BuildOfDay._make, connection.execute(among(_BUILDS)))
    for _, same in groupby(found, key=lambda one: (one.diff, one.day)):
        builds = list(same)
        if None in {one.who for one in builds} or len({one.who for one in builds}) < 2:
            continue
        written_apart = len({one.name.casefold() for one in builds}) < len(builds)
        if written_apart or not all(one.was_used for one in builds[:-1]):
            yield _finding(connection, builds)


def _finding(connection: sqlite3.Connection, builds: list[_BuildOfDay]) -> Finding:
    *others, last = builds
    named = f"{', '.join(one.named for one in others)} and {last.named}"
    return about_build(
        last._asdict(),
        CODE,
        "caution",
        f"{last.diff_label} has {len(builds)} builds on {last.day}, {named}: "
        f"it may be one build, written {'twice' if len(builds) == 2 else f'{len(builds)} times'}",
        _remedy(connection, builds),
    )


def _remedy(connection: sqlite3.Connection, builds: list[_BuildOfDay]) -> str:
    kept = max(reversed(builds), key=lambda one: one.under_it)
    others = [one for one in builds if one is not kept]
    to = in_command(f"build={kept.label}")
    moves = [
        f"'bevelbook record {kind.replace('_', '-')} {in_command(name)} {to}'"
        for one in others
        for kind, name in _under(connection, one.build)
    ]
    more = f" (and {len(moves) - _MOVES} more in the same way)" if len(moves) > _MOVES else ""
    moving = f" Move to it what is under the others: {'; '.join(moves[:_MOVES])}{more}." if moves else ""
    gone = "; ".join(f"'bevelbook record build {in_command(one.label)} --remove \"written twice\"'" for one in others)
    return f"If so, keep one, such as {kept.label}.{moving} Then remove the others: {gone}."


def _under(connection: sqlite3.Connection, build: str) -> Iterator[tuple[str, str]]:
    for kind, table in _UNDER.items():
        for (row_id,) in connection.execute(
            f"SELECT id FROM {table} WHERE build = ? ORDER BY created_at, id", (build,)
        ).fetchall():
            yield kind, label_of(connection, BY_NAME[kind], row_id)
