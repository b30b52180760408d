"""What is worth a look in a database: the findings of all plugins, grouped by diff, worst first."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import items_of
from bevelbook.display.format import wrapped
from bevelbook.facts.ideas import OpenIdea, ideas_by_venue, last_venue
from bevelbook.facts.renew import FACTS_VERSION, worked_out_again
from bevelbook.plugin.check import SEVERITIES, Finding, Reader
from bevelbook.plugin.registry import Failure, Registry
from bevelbook.records import BY_NAME, BY_TABLE
from bevelbook.reports.bottle_order import BottleOrder, bottle_order
from bevelbook.reports.build_not_in_use import out_of_time_findings
from bevelbook.reports.diff_twice_in_run import twice_in_a_run
from bevelbook.reports.impossible_values import impossible_values
from bevelbook.reports.oil_lost_findings import leak_findings
from bevelbook.reports.records_under_older_build import late_records
from bevelbook.reports.service import ServiceState, service_states
from bevelbook.reports.shelf_findings import shelf_findings
from bevelbook.reports.uncompared_findings import uncompared_findings
from bevelbook.store.about_table import CHANGED_ELSEWHERE, facts_version
from bevelbook.store.lookup import find_id
from bevelbook.store.schema import quoted
from bevelbook.store.soundness import faults

_WAYS_TO_DIFF = ("diff", "build", "run_diff")

OLDER_FACTS: Final = (
    "what follows from the records was worked out by the definitions of an older version; this report goes by those of "
    "today, pages still show the old ones: 'bevelbook check --rebuild' works all of it out again."
)


class DiffFindings(NamedTuple):
    """A diff with its service state (None before its first build) and what was found about it, worst first."""

    diff: str
    label: str
    service: ServiceState | None
    findings: tuple[Finding, ...]


class Checked(NamedTuple):
    """The whole report. ``team`` are findings that are not about one diff; ``venue`` is that of the last run."""

    diffs: tuple[DiffFindings, ...]
    team: tuple[Finding, ...]
    venue: str | None
    ideas: dict[str | None, list[OpenIdea]]
    bottles: BottleOrder
    left_out: tuple[Failure, ...]
    faults: tuple[str, ...] = ()
    """What is wrong with the database itself, and what to do about it."""

    @property
    def findings(self) -> list[Finding]:
        return [one for group in self.diffs for one in group.findings] + list(self.team)

    def counts(self) -> dict[str, int]:
        """How many findings of each severity, worst first."""
        return _counts(self.findings)

    def as_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return {
            "counts": self.counts(),
            "diffs": [
                {
                    "diff": one.label,
                    **(one.service.as_dict() if one.service else {}),
                    "findings": [dict(items_of(finding)) for finding in one.findings],
                }
                for one in self.diffs
            ],
            "team": [dict(items_of(finding)) for finding in self.team],
            "ideas": {
                "venue": self.venue,
                "open": [one._asdict() for ideas in self.ideas.values() for one in ideas],
            },
            "bottles": self.bottles.as_dict(),
            "left_out": [str(one) for one in self.left_out],
            "faults": list(self.faults),
        }

    def lines(self) -> Iterator[str]:
        """The report for people."""
        for group in self.diffs:
            yield _heading(group)
            yield from _finding_lines(group.findings)
            if group.service:
                for line in group.service.lines():
                    yield from wrapped(line, indent="  ")
            yield ""
        if self.team:
            yield "The whole team"
            yield from _finding_lines(self.team)
            yield ""
        if self.bottles.chains or self.bottles.cycles:
            yield "Bottles, thickest first"
            for line in self.bottles.lines():
                yield from wrapped(line, indent="  ")
            yield ""
        for venue, ideas in self.ideas.items():
            yield f"Still to try {f'at {venue}' if venue else 'anywhere'}"
            for idea in ideas:
                by = f" ({idea.person})" if idea.person else ""
                yield from wrapped(f"{idea.text}{by}", indent="  ")
            yield ""
        if self.faults:
            yield "The database itself"
            for fault in self.faults:
                yield from wrapped(fault, indent="  ")
            yield ""
        yield self.summary()

    def summary(self) -> str:
        """How much was found, in one line."""
        count = len(self.findings)
        plugins = len({one.origin for one in self.left_out})
        failed = f"the checks of {counted(plugins, 'plugin')} failed" if plugins else ""
        if not count:
            return f"Nothing found, but {failed}: there may be something." if failed else "Nothing found."
        parts = ", ".join(f"{number} {severity}" for severity, number in self.counts().items() if number)
        more = f" There may be more: {failed}." if failed else ""
        return f"{counted(count, 'finding')}: {parts}.{more}"


def check(
    connection: sqlite3.Connection, registry: Registry, diff: str | None = None, *, recheck_facts: bool = False
) -> Checked:
    """Core's findings and those of every plugin's checks, by diff; for one diff only, where one is named.

    ``recheck_facts`` works all facts out again in temporary tables, reports where the kept ones differ, and bases the
    findings on the new ones. Raises UnknownNameError for an unknown diff.
    """
    with worked_out_again(connection) if recheck_facts else nullcontext() as differing:
        return _check(connection, registry, diff, differing)


def _check(
    connection: sqlite3.Connection, registry: Registry, diff: str | None, differing: dict[str, int] | None
) -> Checked:
    only = find_id(connection, BY_NAME["diff"], diff) if diff else None
    by_diff: dict[str | None, list[Finding]] = {}
    findings = [
        *leak_findings(connection),
        *shelf_findings(connection),
        *uncompared_findings(connection),
        *late_records(connection),
        *out_of_time_findings(connection),
        *twice_in_a_run(connection),
        *impossible_values(connection),
        *registry.findings(Reader(connection)),
    ]
    diffs = diffs_of(connection, findings)
    for finding in findings:
        by_diff.setdefault(diffs[finding.subject_table, finding.subject_id], []).append(finding)
    service = {one.since.diff: one for one in service_states(connection)}
    groups = [
        DiffFindings(row[0], row[1], service.get(row[0]), worst_first(by_diff.get(row[0], [])))
        for row in connection.execute("SELECT id, label FROM diffs ORDER BY label").fetchall()
        if only in (None, row[0])
    ]
    groups.sort(key=lambda one: ([-number for number in _counts(one.findings).values()], one.label))
    venue = last_venue(connection)
    return Checked(
        tuple(groups),
        worst_first(by_diff.get(None, [])) if only is None else (),
        venue[1] if venue else None,
        ideas_by_venue(connection, venue[1] if venue else None) if only is None else {},
        bottle_order(connection) if only is None else BottleOrder((), (), (), ()),
        tuple(one for one in registry.failures if one.reason.startswith("bevelbook_checks")),
        () if differing is None else (*_stale_facts(differing, facts_version(connection)), *faults(connection)),
    )


def _stale_facts(differing: dict[str, int], version: str | None) -> Iterator[str]:
    if version not in (FACTS_VERSION, CHANGED_ELSEWHERE):
        if any(differing.values()):
            yield OLDER_FACTS
        return
    for table, count in differing.items():
        if count:
            yield (
                f"{counted(count, 'row')} of {table} {'are' if count > 1 else 'is'} not what the records "
                "say; this report goes by the records. Either another program changed the file, or that is a "
                "fault of this program: run 'bevelbook check --rebuild', and report it if no other program did."
            )


def _counts(findings: Sequence[Finding]) -> dict[str, int]:
    found = [one.severity for one in findings]
    return {severity: found.count(severity) for severity in SEVERITIES}


def worst_first(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings by severity; within a severity the order is kept."""
    return tuple(sorted(findings, key=lambda one: SEVERITIES.index(one.severity)))


def diffs_of(connection: sqlite3.Connection, findings: Sequence[Finding]) -> dict[tuple[str, str], str | None]:
    """The ids of the diffs that findings are about, by table and id of their subjects, found through their builds.

    None where a finding is not about one diff.
    """
    found: dict[tuple[str, str], str | None] = {}
    ahead: dict[str, dict[str, list[tuple[str, str]]]] = {}
    for one in findings:
        subject = (one.subject_table, one.subject_id)
        if subject not in found:
            found[subject] = None
            ahead.setdefault(one.subject_table, {}).setdefault(one.subject_id, []).append(subject)
    while ahead:
        table, subjects = ahead.popitem()
        if table == "diffs":
            found |= {subject: row_id for row_id, those in subjects.items() for subject in those}
            continue
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


def _heading(group: DiffFindings) -> str:
    if group.service is None:
        return f"{group.label}: not built"
    since = group.service.since
    return f"{group.label}: {since.build_label}, {since.words}"


def _finding_lines(findings: Sequence[Finding]) -> Iterator[str]:
    for one in findings:
        sign = one.severity.upper() if one.severity == "stop" else one.severity
        yield from wrapped(f"{sign}: {one.subject_label}: {one.words}.", indent="  ")
        yield from wrapped(f"-> {one.remedy}", indent="    ")
