"""Note rows that a change by hand would leave before their own build, with no other build to go to."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from typing import Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.records import BY_NAME
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store import entries
from bevelbook.store.lookup import label_of
from bevelbook.store.record_names import with_kind

_BEFORE: Final = f"""
SELECT 'run', r.id, r.run_on, b.label, b.built_on, d.label, {called_file_sql("f")}, x.note_line
FROM builds b CROSS JOIN run_diffs x ON x.build = b.id CROSS JOIN runs r ON r.id = x.run
JOIN diffs d ON d.id = b.diff JOIN note_files f ON f.id = x.note_file
WHERE b.diff IN (SELECT value FROM json_each(:diffs)) AND r.run_on < b.built_on AND :entry IN (b.version, r.version)
UNION ALL
SELECT 'weighing', w.id, w.weighed_on, b.label, b.built_on, d.label, {called_file_sql("f")}, w.note_line
FROM builds b CROSS JOIN weighings w ON w.build = b.id
JOIN diffs d ON d.id = b.diff JOIN note_files f ON f.id = w.note_file
WHERE b.diff IN (SELECT value FROM json_each(:diffs)) AND w.weighed_on < b.built_on
AND :entry IN (b.version, w.version)
ORDER BY 3, 2
"""


def refuse_before_any_build(connection: sqlite3.Connection, diffs: Iterable[str]) -> None:
    """Raise InputError if the entry being written leaves a note row of these diffs before its build.

    Asked after the rows were placed again: where another build was in use then, the row is on that.
    """
    of_entry = {"diffs": json.dumps(list(diffs)), "entry": entries.current(connection)}
    found = connection.execute(_BEFORE, of_entry).fetchone()
    if found is None:
        return
    kind, row_id, day, build, built_on, diff, file, line = found
    row = with_kind(BY_NAME[kind], label_of(connection, BY_NAME[kind], row_id))
    raise InputError(
        f"{row} of {file}, line {line}, is dated {day}, and {build} would be built later, on {built_on}",
        code="before_its_build",
        place=Place(field="built_on"),
        found=build,
        remedy=f"No other build of {diff} was in use then: correct the day, or write the build of that time first. "
        "Nothing was changed.",
    )
