"""Diffs that are in one run twice, so that its runs count double for them, and places of a run with two diffs."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

from bevelbook.declare.in_command import command_of
from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.plugin.check import Finding
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of

_TWICE: Final = """
SELECT b.diff, d.label, r.label, max(x.id), group_concat(coalesce(x.position, 'no place'), ', ')
FROM run_diffs x CROSS JOIN builds b ON b.id = x.build CROSS JOIN diffs d ON d.id = b.diff
CROSS JOIN runs r ON r.id = x.run
GROUP BY x.run, b.diff HAVING count(*) > 1 ORDER BY d.label, r.label, 4
"""
_SHARED: Final = """
SELECT max(b.diff), max(d.label), r.label, x.position, group_concat(d.label, ' and ')
FROM run_diffs x CROSS JOIN builds b ON b.id = x.build CROSS JOIN diffs d ON d.id = b.diff
CROSS JOIN runs r ON r.id = x.run
WHERE x.position IS NOT NULL GROUP BY x.run, x.position HAVING count(DISTINCT b.diff) > 1
ORDER BY 2, 3, x.run, x.position
"""


def twice_in_a_run(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[Finding]:
    """A finding for each diff that is in a run twice, and for each place of a run that two diffs share."""
    for diff, label, run, last, positions in connection.execute(among(_TWICE)):
        name = label_of(connection, BY_NAME["run_diff"], last)
        yield Finding(
            code="twice_in_a_run",
            severity="worth a look",
            words=f"it is in the run {run} twice ({positions}), so that its runs count double",
            remedy="Name the build that was in the other place: "
            f"'{command_of('record', 'run-diff', name, 'build=...')}'.",
            subject_table="diffs",
            subject_id=diff,
            subject_label=label,
        )
    for diff, label, run, position, diffs in connection.execute(among(_SHARED)):
        yield Finding(
            code="place_shared_in_a_run",
            severity="worth a look",
            words=f"{diffs} are both written down at the {position} of the run {run}, so that it counts for both",
            remedy=f"Empty that place and name who was there: '{command_of('record', 'run', run, f'{position}=')}', "
            f"then '{command_of('record', 'run', run, f'{position}=DIFF')}'.",
            subject_table="diffs",
            subject_id=diff,
            subject_label=label,
        )
