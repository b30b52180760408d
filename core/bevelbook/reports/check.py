"""What is worth a look in a database: findings by diff, worst first; those about the past and those put by apart."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import UnknownNameError
from bevelbook.display.days import built_in_words
from bevelbook.display.format import wrapped
from bevelbook.facts.ideas import OpenIdea, ideas_by_venue, last_venue
from bevelbook.facts.newest_builds import MOST, NEWEST, builds_in_all
from bevelbook.facts.once import worked_out_once
from bevelbook.facts.renew import FACTS_VERSION, worked_out_again
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.plugin.check import SEVERITIES
from bevelbook.plugin.registry import Failure, Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.before_next_time_out import HEADING, Job, ToDo, to_do
from bevelbook.reports.bottle_order import BottleOrder, bottle_order
from bevelbook.reports.clashes_there import clashes_of_diff
from bevelbook.reports.every_finding import CheckedFinding, every_finding
from bevelbook.reports.service import ServiceState, service_states
from bevelbook.store.about_table import CHANGED_ELSEWHERE, facts_version
from bevelbook.store.as_written import out_of_step
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.files_elsewhere import said_elsewhere
from bevelbook.store.lookup import find_id
from bevelbook.store.soundness import faults

if TYPE_CHECKING:
    from bevelbook.reports.clashes import ClashSaid

CHANGED_IN_TWO_PLACES: Final = "Changed in two places: say which holds"
OLDER_FACTS: Final = (
    "what follows from the records was worked out by the definitions of an older version; this report goes by those of "
    "today, pages still show the old ones: 'bevelbook check --rebuild' works all of it out again."
)
OF_EDITION: Final = (
    "what follows from the records of this edition, or its search, is not what they say; this report goes by the "
    "records. Get it again from where it came, or start a database of your own with it, which works all of it out."
)
MOST_CLASHES: Final = 20
"""Clashes that are printed in full; more are counted."""


class DiffFindings(NamedTuple):
    """A diff with its service state (None before its first build) and what was found about it, worst first."""

    diff: str
    label: str
    service: ServiceState | None
    every: tuple[CheckedFinding, ...]

    @property
    def findings(self) -> list[CheckedFinding]:
        """Those that do not rest."""
        return [one for one in self.every if not one.is_resting]

    @property
    def due(self) -> list[CheckedFinding]:
        """Those to see to before the next time out."""
        return [one for one in self.findings if not one.is_past]


class Checked(NamedTuple):
    """The whole report. ``team`` are findings that are not about one diff; ``venue`` is that of the last run.

    What is about the past and what was put by is in it too; people see those apart from what is to be done now.
    """

    diffs: tuple[DiffFindings, ...]
    every_of_team: tuple[CheckedFinding, ...]
    venue: str | None
    ideas: dict[str | None, list[OpenIdea]]
    bottles: BottleOrder
    left_out: tuple[Failure, ...]
    faults: tuple[str, ...] = ()
    """What is wrong with the database itself, and what to do about it."""
    is_of_one: bool = False
    """Whether it is about one diff that was named."""
    to_do: ToDo = ToDo((), (), ())
    """What is due before the next time out, the most urgent first."""
    clashes: tuple[ClashSaid, ...] = ()
    """Records that were changed in two places, of which a person says what holds."""
    elsewhere: tuple[str, ...] = ()
    """Pictures and files that did not come along, and with whom they are: nothing is wrong with these."""
    passed_over: int = 0
    """How many builds there are, where only the newest of each diff were looked at; 0 where all were."""

    @property
    def jobs(self) -> tuple[Job, ...]:
        """What is to be done, the most urgent first."""
        return self.to_do.jobs

    @property
    def every(self) -> list[CheckedFinding]:
        """All findings, those that rest as well."""
        return [one for group in self.diffs for one in group.every] + list(self.every_of_team)

    @property
    def team(self) -> list[CheckedFinding]:
        """What is not about one diff and does not rest."""
        return [one for one in self.every_of_team if not one.is_resting]

    @property
    def findings(self) -> list[CheckedFinding]:
        """All that do not rest."""
        return [one for one in self.every if not one.is_resting]

    @property
    def due(self) -> list[CheckedFinding]:
        """What is to be seen to before the next time out."""
        return [one for one in self.findings if not one.is_past]

    @property
    def past(self) -> list[CheckedFinding]:
        """What is about builds that have ended and about old notes."""
        return list(worst_first([one for one in self.findings if one.is_past]))

    @property
    def resting(self) -> list[CheckedFinding]:
        """What was put by."""
        return [one for one in self.every if one.is_resting]

    def named(self, name: str) -> CheckedFinding:
        """The finding that has this name; capitals, spaces and underscores do not matter. Raises UnknownNameError."""
        wanted = _as_typed(name)
        for one in self.every:
            if _as_typed(one.name) == wanted:
                return one
        raise UnknownNameError("finding", name, [one.name for one in self.every])

    def counts(self) -> dict[str, int]:
        """How many findings of each severity, worst first; those that rest are not counted."""
        return _counts(self.findings)

    def as_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return {
            "before_next_time_out": [one.as_dict() for one in self.jobs],
            "left_as_they_are": [one.as_dict() for one in self.to_do.left],
            "apart": [one.as_dict() for one in self.to_do.apart],
            "counts": self.counts(),
            "counts_before_next": _counts(self.due),
            "counts_past": _counts(self.past),
            "put_by": len(self.resting),
            "diffs": [
                {
                    "diff": one.label,
                    **(one.service.as_dict() if one.service else {}),
                    "findings": [finding.as_dict() for finding in one.every],
                }
                for one in self.diffs
            ],
            "team": [finding.as_dict() for finding in self.every_of_team],
            "ideas": {
                "venue": self.venue,
                "open": [one._asdict() for ideas in self.ideas.values() for one in ideas],
            },
            "bottles": self.bottles.as_dict(),
            "left_out": [str(one) for one in self.left_out],
            "faults": list(self.faults),
            "clashes": [one.as_dict() for one in self.clashes],
            "elsewhere": list(self.elsewhere),
            **({"looked_at_newest_of": self.passed_over} if self.passed_over else {}),
        }

    def lines(self) -> Iterator[str]:
        """What to do before the next time out, for people, then the findings behind it and what helps to see to them.

        The runs of parts and what earlier openings found are listed for a diff that was named.
        """
        due = list(self.to_do.lines())
        if due:
            yield HEADING
            for line in due:
                yield from wrapped(line, indent="  ")
            yield ""
        if self.clashes:
            yield CHANGED_IN_TWO_PLACES
            for clash in self.clashes[:MOST_CLASHES]:
                yield from clash.lines()
            if len(self.clashes) > MOST_CLASHES:
                yield from wrapped(
                    f"{len(self.clashes) - MOST_CLASHES:,} more are in clash: they come as these are settled.",
                    indent="  ",
                )
            yield ""
        for group in self.diffs:
            yield _heading(group)
            for finding in group.due:
                yield from finding.lines()
            if group.service:
                for line in group.service.lines() if self.is_of_one else group.service.lines_of_runs_left():
                    yield from wrapped(line, indent="  ")
            yield ""
        due_of_team = [one for one in self.team if not one.is_past]
        if due_of_team:
            yield "The whole team"
            for finding in due_of_team:
                yield from finding.lines()
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
        if self.elsewhere:
            yield "Not here"
            for line in self.elsewhere:
                yield from wrapped(line, indent="  ")
            yield ""

    def lines_of_past(self) -> Iterator[str]:
        """What is about the past, for people."""
        yield from _listed("About the past", self.past)

    def lines_of_resting(self) -> Iterator[str]:
        """What was put by, for people, each with its reason."""
        yield from _listed("Put by", self.resting)

    def summary(self) -> str:
        """How much is to be seen to, in one line."""
        plugins = len({one.origin for one in self.left_out})
        failed = f"the checks of {counted(plugins, 'plugin')} failed" if plugins else ""
        in_clash = f"{counted(len(self.clashes), 'clash')} to settle" if self.clashes else ""
        if not self.due and in_clash:
            return f"{in_clash}.{f' There may be more: {failed}.' if failed else ''}"
        if not self.due:
            found = self._nothing_found()
            return f"{found}, but {failed}: there may be something." if failed else f"{found}."
        when = " before the next time out" if self.past else ""
        more = f" There may be more: {failed}." if failed else ""
        settle = f" {in_clash}." if in_clash else ""
        return f"{_counted_in_words(self.due, when)}.{settle}{more}"

    def _nothing_found(self) -> str:
        """That no finding is due; not that nothing is to be done where something is, which stands above."""
        if self.jobs:
            return (
                f"{counted(len(self.jobs), 'thing')} to do before the next time out, listed above; no finding besides"
            )
        return "Nothing to do before the next time out" if self.past else "Nothing found"

    def past_in_words(self) -> str:
        """How much is about the past; empty where nothing is."""
        return f"About the past: {_counted_in_words(self.past)}" if self.past else ""

    def passed_over_in_words(self) -> str:
        """That only the newest builds were looked at, and what looks at all; empty where all were."""
        if not self.passed_over:
            return ""
        return (
            f"Of {self.passed_over:,} builds the newest {NEWEST} of each diff were looked at. 'bevelbook check --past' "
            "looks at all, and compares what is kept of each diff with the records; it takes longer."
        )

    def resting_in_words(self) -> str:
        """How much was put by; empty where nothing was."""
        return f"{len(self.resting)} put by" if self.resting else ""


def check(
    connection: sqlite3.Connection,
    registry: Registry,
    diff: str | None = None,
    *,
    recheck_facts: bool = False,
    past: bool = False,
) -> Checked:
    """Core's findings and those of every plugin's checks, by diff; for one diff only, where one is named.

    ``recheck_facts`` works all facts out again in temporary tables, reports where the kept ones differ, and bases the
    findings on the new ones. Where there are more builds than ``newest_builds.MOST`` the newest of each diff are looked
    at, and no fact is worked out again, unless ``past`` asks for all. Raises UnknownNameError for an unknown diff.
    """
    count = 0 if past else builds_in_all(connection)
    passed_over = count if count > MOST else 0
    recheck_facts = recheck_facts and not passed_over
    with worked_out_again(connection) if recheck_facts else nullcontext() as differing, worked_out_once(connection):
        return _check(connection, registry, diff, differing, passed_over)


def _check(
    connection: sqlite3.Connection,
    registry: Registry,
    diff: str | None,
    differing: dict[str, int] | None,
    passed_over: int,
) -> Checked:
    only = find_id(connection, BY_NAME["diff"], diff) if diff else None
    by_diff = every_finding(connection, registry, newest_only=bool(passed_over))
    service = {one.since.diff: one for one in service_states(connection)}
    groups = [
        DiffFindings(row[0], row[1], service.get(row[0]), worst_first(by_diff.get(row[0], [])))
        for row in connection.execute(
            f"SELECT id, label FROM diffs WHERE {stands_alone_sql('diff')} ORDER BY label, id"
        ).fetchall()
        if only in (None, row[0])
    ]
    groups.sort(key=lambda one: ([-number for number in _counts(one.due).values()], one.label))
    venue = last_venue(connection)
    return Checked(
        tuple(groups),
        worst_first(by_diff.get(None, [])) if only is None else (),
        venue[1] if venue else None,
        ideas_by_venue(connection, venue[1] if venue else None) if only is None else {},
        bottle_order(connection) if only is None else BottleOrder((), (), (), ()),
        tuple(one for one in registry.failures if one.reason.startswith("bevelbook_checks")),
        () if differing is None else tuple(_faults(connection, differing)),
        only is not None,
        to_do(connection).of(only),
        tuple(clashes_of_diff(connection, only)),
        () if differing is None else tuple(said_elsewhere(connection)),
        passed_over,
    )


def _faults(connection: sqlite3.Connection, differing: dict[str, int]) -> Iterator[str]:
    """What is wrong with the database itself. In an edition nothing is put right, and names stand as they were set
    apart where it was made."""
    if edition_of(connection) is None:
        yield from stale_facts(differing, facts_version(connection))
        yield from _stale_joins(connection)
        yield from faults(connection)
    elif any(differing.values()) or any(faults(connection)):
        yield OF_EDITION


def stale_facts(differing: dict[str, int], version: str | None) -> Iterator[str]:
    """What to say of facts that are not what the records say, by table."""
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


def _stale_joins(connection: sqlite3.Connection) -> Iterator[str]:
    count = out_of_step(connection) if facts_version(connection) == FACTS_VERSION else 0
    if count:
        yield (
            f"{counted(count, 'record')} {'do' if count > 1 else 'does'} not show what stands for what was written: "
            "run 'bevelbook check --rebuild', and report it if no other program changed the file."
        )


def _counts(findings: Sequence[CheckedFinding]) -> dict[str, int]:
    found = [one.severity for one in findings]
    return {severity: found.count(severity) for severity in SEVERITIES}


def worst_first(findings: Sequence[CheckedFinding]) -> tuple[CheckedFinding, ...]:
    """Findings by severity; within a severity the order is kept."""
    return tuple(sorted(findings, key=lambda one: SEVERITIES.index(one.severity)))


def _heading(group: DiffFindings) -> str:
    if group.service is None:
        return f"{group.label}: not built"
    since = group.service.since
    built = f", {built_in_words(since.built_on)}" if since.is_closed else ""
    return f"{group.label}: {since.build_label}, {since.words}{built}"


def _as_typed(name: str) -> str:
    return " ".join(name.replace("_", " ").casefold().split())


def _counted_in_words(findings: Sequence[CheckedFinding], when: str = "") -> str:
    parts = ", ".join(f"{number} {severity}" for severity, number in _counts(findings).items() if number)
    return f"{counted(len(findings), 'finding')}{when}: {parts}"


def _listed(title: str, findings: Sequence[CheckedFinding]) -> Iterator[str]:
    if findings:
        yield title
        for finding in findings:
            yield from finding.lines()
        yield ""
