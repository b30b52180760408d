"""Findings that somebody put by with a reason: they rest until what they say changes."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.sql import rows
from bevelbook.plugin.check import Finding
from bevelbook.records import BY_TABLE
from bevelbook.reports.oil_lost_findings import OIL_LOST, leak_findings
from bevelbook.store.one_with import stands_for_it

FindingKey = tuple[str, str, str]
"""A finding's code, and the table and id of the record that it is about."""

_PUT_BY: Final = """
SELECT f.id, f.code, f.subject_table, f.subject_id, f.words, f.reason, f.put_by_on, p.name AS person
FROM findings_put_by f LEFT JOIN people p ON p.id = f.person ORDER BY f.created_at, f.id
"""


class Rest(NamedTuple):
    """Why a finding was put by, on which day, and by whom."""

    id: str
    reason: str
    put_by_on: str | None
    person: str | None

    @property
    def words(self) -> str:
        """The same in one line.

        >>> Rest("1", "a new driver built it", "2026-05-03", "ana").words
        'put by 2026-05-03 by ana: a new driver built it'
        """
        by = f" by {self.person}" if self.person else ""
        return f"put by{f' {self.put_by_on}' if self.put_by_on else ''}{by}: {self.reason}"


def builds_with_lost_oil_put_by(connection: sqlite3.Connection) -> set[str]:
    """The builds whose finding of lost oil was put by and rests. Nothing is worked out where none was ever put by."""
    if connection.execute("SELECT 1 FROM findings_put_by WHERE code = ? LIMIT 1", (OIL_LOST,)).fetchone() is None:
        return set()
    put_by = PutByFindings(connection)
    found = (one for one in leak_findings(connection) if one.code == OIL_LOST)
    return {one.subject_id for one in found if put_by.of(one) is not None}


class PutByFindings:
    """The findings that were put by, as they are in the database."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._by_key: dict[FindingKey, dict[str, Rest]] = {}
        for row in rows(connection, _PUT_BY):
            rest = Rest(row["id"], row["reason"], row["put_by_on"], row["person"])
            subject = BY_TABLE.get(row["subject_table"])
            about = stands_for_it(connection, subject, row["subject_id"]) if subject else row["subject_id"]
            key = (row["code"], row["subject_table"], about)
            self._by_key.setdefault(key, {})[row["words"]] = rest

    def of(self, finding: Finding) -> Rest | None:
        """Why a finding was put by; None if it was not, or if it says something else by now."""
        key = (finding.code, finding.subject_table, finding.subject_id)
        return self._by_key.get(key, {}).get(finding.words)
