"""Which diff a finding is about, and whether it is about what is in use or about the past."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from bevelbook.plugin.check import Finding
from bevelbook.records import BY_NAME, BY_TABLE
from bevelbook.store.schema import quoted

_WAYS_TO_DIFF: Final = ("diff", "build", "run_diff")
_OF_THE_PAST: Final = frozenset({"runs", "note_files", "note_rejects"})
"""Tables whose rows are about the past where they lead to no diff."""


class FindingSubject(NamedTuple):
    """What a finding is about: a diff (None if not one diff), and whether that is past.

    Past is a build that was opened or replaced, with all that belongs to it, and a run or a file of notes. What is
    about a diff itself, the build in it now, an oil or a bottle is not.
    """

    diff: str | None
    is_past: bool


def subjects_of(connection: sqlite3.Connection, findings: Sequence[Finding]) -> dict[tuple[str, str], FindingSubject]:
    """What findings are about, by table and id of their subjects, found through their builds."""
    found: dict[tuple[str, str], FindingSubject] = {}
    ahead: dict[str, dict[str, list[tuple[str, str]]]] = {}
    past: set[tuple[str, str]] = set()
    for one in findings:
        subject = (one.subject_table, one.subject_id)
        if subject not in found:
            found[subject] = FindingSubject(None, one.subject_table in _OF_THE_PAST)
            ahead.setdefault(one.subject_table, {}).setdefault(one.subject_id, []).append(subject)
    while ahead:
        table, subjects = ahead.popitem()
        if table == "diffs":
            found |= {
                subject: FindingSubject(row_id, subject in past)
                for row_id, those in subjects.items()
                for subject in those
            }
            continue
        if table == "builds":
            ended = _ended_builds(connection, subjects)
            past |= {subject for row_id, those in subjects.items() if row_id in ended for subject in those}
        kind = BY_TABLE[table]
        way = next((name for name in _WAYS_TO_DIFF if name in kind.columns), None)
        if way is None:
            continue
        onward = ahead.setdefault(BY_NAME[way].table, {})
        for row_id, there in connection.execute(
            f"SELECT t.id, t.{quoted(way)} FROM json_each(?) j CROSS JOIN main.{table} t ON t.id = j.value",
            (json.dumps(list(subjects)),),
        ):
            if there is not None:
                onward.setdefault(there, []).extend(subjects[row_id])
    return found


def _ended_builds(connection: sqlite3.Connection, builds: Iterable[str]) -> set[str]:
    """Those of the builds that are open or replaced by now."""
    return {
        row[0]
        for row in connection.execute(
            "SELECT k.build FROM json_each(?) j CROSS JOIN build_facts k ON k.build = j.value "
            "LEFT JOIN diff_facts s ON s.diff = k.diff "
            "WHERE k.opened_on IS NOT NULL OR s.current_build IS NOT k.build",
            (json.dumps([*builds]),),
        )
    }
