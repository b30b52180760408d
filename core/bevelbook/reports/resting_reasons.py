"""Which reasons for what is due for a diff rest, since somebody put the finding by that says them."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Final

from bevelbook.facts import diffs
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row
from bevelbook.reports.due_reasons import LIMIT_PASSED, OF_OIL_AHEAD
from bevelbook.reports.put_by import PutByFindings, builds_with_lost_oil_put_by
from bevelbook.reports.shelf import reasons_in_words, with_advice
from bevelbook.reports.shelf_findings import shelf_findings

_LIMIT_NEAR_PUT_BY: Final = """
SELECT f.subject_id, f.words, k.runs FROM findings_put_by f JOIN build_facts k ON k.build = f.subject_id
WHERE f.code = 'limit_near'
"""


class RestingReasons:
    """What was put by of the shelf and of the limits, by build. A stop for a diff in use never rests."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._resting = _resting(connection)
        self._builds = {build for build, _ in self._resting}

    def of_rows(self, shelf: Sequence[Row]) -> dict[str, frozenset[str]]:
        """By diff (id) the reasons that rest, for those rows of the shelf of which any does."""
        in_part = [row for row in shelf if row["build"] in self._builds]
        found = {row["diff"]: self._of(row) for row in with_advice(self._connection, in_part)}
        return {diff: reasons for diff, reasons in found.items() if reasons}

    def _of(self, row: Row) -> frozenset[str]:
        build, words = row["build"], dict(reasons_in_words(row))
        keys = (*words, LIMIT_PASSED, *OF_OIL_AHEAD)
        return frozenset(one for one in keys if self._resting & {(build, one), (build, words.get(one, one))})


def _resting(connection: sqlite3.Connection) -> frozenset[tuple[str, str]]:
    """Builds, each with the words of a finding or with a reason."""
    if connection.execute("SELECT 1 FROM findings_put_by LIMIT 1").fetchone() is None:
        return frozenset()
    put_by = PutByFindings(connection)
    said = {
        (one.subject_id, one.words)
        for one in shelf_findings(connection)
        if one.severity != "stop" and put_by.of(one) is not None
    }
    lost = builds_with_lost_oil_put_by(connection)
    of_oil = (diffs.LOST_SOME, diffs.CANNOT_TELL, *OF_OIL_AHEAD)
    resting = {(build, reason) for build in lost for reason in of_oil}
    near = {
        (build, LIMIT_PASSED)
        for build, words, runs in connection.execute(_LIMIT_NEAR_PUT_BY)
        if words.startswith(f"{count_of(runs)} since it was filled")
    }
    return frozenset(said | resting | near)
