"""Findings about what goes to an event that have to be settled before: beside what the lines of the plan say."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator
from typing import Final, NamedTuple

from bevelbook.facts.newest_builds import MOST, builds_in_all
from bevelbook.plugin.registry import Registry
from bevelbook.reports.every_finding import CheckedFinding, every_finding

SAID_BY_A_LINE: Final = frozenset(
    {
        "broke",
        "turns_badly",
        "limit_passed",
        "leak_found",
        "oil_lost",
        "oil_lost_share_unknown",
        "doubtful_runs",
        "not_weighed",
        "weighed_long_ago",
    }
)
"""Findings that are a reason for what a plan says of their diff."""


class FindingToSettle(NamedTuple):
    """A finding about what is in use, by the name that people type for it, worst first."""

    severity: str
    name: str
    words: str
    remedy: str
    subject_label: str

    @property
    def said(self) -> str:
        """The finding in one line.

        >>> FindingToSettle("stop", "rear-a/3 broke", "broke in its last run", "Open it.", "rear-a/3").said
        'STOP: rear-a/3 broke: broke in its last run. Open it.'
        """
        sign = self.severity.upper() if self.severity == "stop" else self.severity
        return f"{sign}: {self.name}: {self.words}. {self.remedy}"


def findings_to_settle(
    connection: sqlite3.Connection, registry: Registry, diffs: Collection[str], with_work: Collection[str]
) -> tuple[FindingToSettle, ...]:
    """What the check and the checks of plugins find about these diffs (by id) and about no diff at all, worst first.

    Of a diff in ``with_work`` those are left out that its line says already. What is past or put by is none of them.
    """
    is_large = builds_in_all(connection) > MOST
    by_diff = every_finding(connection, registry, newest_only=is_large, cautions_only=True)
    found = [
        one
        for diff in (*sorted(diffs), None)
        for one in by_diff.get(diff, ())
        if _is_open(one) and not (diff in with_work and one.code in SAID_BY_A_LINE)
    ]
    found.sort(key=lambda one: (one.severity != "stop", one.name))
    return tuple(_to_settle(found))


def _is_open(one: CheckedFinding) -> bool:
    return not one.is_past and not one.is_resting


def _to_settle(found: Collection[CheckedFinding]) -> Iterator[FindingToSettle]:
    for one in found:
        whose = f" ({one.plugin})" if one.plugin else ""
        yield FindingToSettle(one.severity, one.name, f"{one.words}{whose}", one.remedy, one.subject_label)
