"""Every finding of core and of the plugins' checks about a book, each with the name that people type for it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from bevelbook.declare.fields import fields_of, items_of
from bevelbook.display.format import wrapped
from bevelbook.facts.newest_builds import all_builds, of_newest_builds
from bevelbook.plugin.check import SEVERITIES, Finding, Reader
from bevelbook.plugin.registry import Registry
from bevelbook.reports.finding_subjects import FindingSubject, subjects_of
from bevelbook.reports.impossible_values import impossible_values
from bevelbook.reports.leak_found import leak_found_findings
from bevelbook.reports.oil_lost_findings import leak_findings
from bevelbook.reports.other_formulas import other_formula_findings
from bevelbook.reports.put_by import PutByFindings, Rest
from bevelbook.reports.shelf_findings import shelf_findings
from bevelbook.reports.written_twice_findings import written_twice_findings


class CheckedFinding(NamedTuple):
    """A finding with the name that people type for it, whether it is about the past, and why it was put by; ``plugin``
    says whose it is, empty where it came with the program."""

    code: str
    severity: str
    words: str
    remedy: str
    subject_table: str
    subject_id: str
    subject_label: str
    name: str
    is_past: bool
    put_by: Rest | None
    plugin: str = ""

    @property
    def is_resting(self) -> bool:
        """Whether it was put by and may rest. A stop for what is in use is shown all the same."""
        return self.put_by is not None and (self.is_past or self.severity != "stop")

    @property
    def finding(self) -> Finding:
        """The finding alone."""
        return Finding(**{field.name: getattr(self, field.name) for field in fields_of(Finding)})

    def as_dict(self) -> dict[str, Any]:
        """The finding for programs."""
        return {
            **{name: value for name, value in self._asdict().items() if name not in ("is_past", "put_by")},
            "past": self.is_past,
            "resting": self.is_resting,
            "put_by": self.put_by._asdict() if self.put_by else None,
        }

    def lines(self) -> Iterator[str]:
        """The finding for people: its severity, its name, what was found, and what to do."""
        sign = self.severity.upper() if self.severity == "stop" else self.severity
        whose = f" ({self.plugin})" if self.plugin else ""
        yield from wrapped(f"{sign}: {self.name}: {self.words}{whose}.", indent="  ")
        yield from wrapped(
            f"-> {self.put_by.words}" if self.is_resting and self.put_by else f"-> {self.remedy}", "    "
        )
        if self.put_by and not self.is_resting:
            yield from wrapped(f"{self.put_by.words}; it is in use, so it is shown all the same", indent="    ")


def every_finding(
    connection: sqlite3.Connection, registry: Registry, *, newest_only: bool, cautions_only: bool = False
) -> dict[str | None, list[CheckedFinding]]:
    """Core's findings and those of every plugin's checks, each with its name, by diff (by id); those that are not about
    one diff under None. ``newest_only`` leaves the builds before the newest of each diff out, and records under a build
    that another one followed; ``cautions_only`` what is worth a look and no more, for which it then does not look where
    nothing worse can come of it."""
    reader = Reader(connection).through(of_newest_builds) if newest_only else Reader(connection)
    by_diff: dict[str | None, list[CheckedFinding]] = {}
    findings = [*(_cautions if cautions_only else _of_core)(connection, registry, newest_only)]
    of_plugins = registry.findings(reader)
    whose = [*([""] * len(findings)), *("" if origin.is_bundled else origin.in_words for _, origin in of_plugins)]
    findings += [finding for finding, _ in of_plugins]
    subjects = subjects_of(connection, findings)
    for finding in _named(findings, whose, subjects, PutByFindings(connection)):
        if cautions_only and finding.severity == SEVERITIES[-1]:
            continue
        by_diff.setdefault(subjects[finding.subject_table, finding.subject_id].diff, []).append(finding)
    return by_diff


def _cautions(connection: sqlite3.Connection, registry: Registry, newest_only: bool) -> Iterator[Finding]:
    """Core's findings of every kind that may be more than worth a look, or has the name of one that may."""
    among = of_newest_builds if newest_only else all_builds
    yield from leak_findings(connection, among)
    yield from leak_found_findings(connection, among)
    yield from shelf_findings(connection)
    yield from impossible_values(connection)
    yield from written_twice_findings(connection, among)
    yield from other_formula_findings(connection, registry)


def _of_core(connection: sqlite3.Connection, registry: Registry, newest_only: bool) -> Iterator[Finding]:
    """All of core's findings; a plan, which asks for cautions alone, does not load the rest."""
    from bevelbook.reports.bench_findings import bench_findings
    from bevelbook.reports.build_not_in_use import out_of_time_findings
    from bevelbook.reports.diff_twice_in_run import twice_in_a_run
    from bevelbook.reports.dry_mass_findings import dry_mass_findings
    from bevelbook.reports.lap_findings import lap_findings
    from bevelbook.reports.like_findings import like_findings
    from bevelbook.reports.look_alike_names import look_alike_findings
    from bevelbook.reports.records_under_older_build import late_records
    from bevelbook.reports.rows_to_turn_findings import rows_to_turn_findings
    from bevelbook.reports.stock import count_again_findings
    from bevelbook.reports.uncompared_findings import uncompared_findings
    from bevelbook.reports.weighings_off_alike import off_alike_findings

    among = of_newest_builds if newest_only else all_builds
    yield from _cautions(connection, registry, newest_only)
    yield from bench_findings(connection)
    yield from uncompared_findings(connection)
    yield from late_records(connection) if not newest_only else ()
    yield from out_of_time_findings(connection, among)
    yield from twice_in_a_run(connection, among)
    yield from like_findings(connection, among)
    yield from dry_mass_findings(connection, among)
    yield from off_alike_findings(connection)
    yield from rows_to_turn_findings(connection)
    yield from look_alike_findings(connection)
    yield from lap_findings(connection) if not newest_only else ()
    yield from count_again_findings(connection)


def _named(
    findings: Sequence[Finding],
    whose: Sequence[str],
    subjects: Mapping[tuple[str, str], FindingSubject],
    put_by: PutByFindings,
) -> Iterator[CheckedFinding]:
    """The findings, each with its name: what it is about, and its code in words, with a number from the second on."""
    seen: dict[str, int] = {}
    for one, plugin in zip(findings, whose, strict=True):
        name = f"{one.subject_label} {one.code.replace('_', ' ')}"
        seen[name] = seen.get(name, 0) + 1
        yield CheckedFinding(
            **dict(items_of(one)),
            name=f"{name} #{seen[name]}" if seen[name] > 1 else name,
            is_past=subjects[one.subject_table, one.subject_id].is_past,
            put_by=put_by.of(one),
            plugin=plugin,
        )
