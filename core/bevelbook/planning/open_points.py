"""What to try, to settle and to decide at an event: ideas, findings, comparisons that lack a few runs."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import LEAVE_IT, UNCLEAR_WHAT
from bevelbook.display.format import wrapped
from bevelbook.facts.ideas import OpenIdea, open_ideas
from bevelbook.planning.comparisons_to_decide import ComparisonToDecide, comparisons_to_decide
from bevelbook.planning.event_to_come import CarToGo
from bevelbook.planning.findings_to_settle import FindingToSettle, findings_to_settle
from bevelbook.planning.parts_wanted import OPENING_ACTS
from bevelbook.planning.plain_data import plain_data
from bevelbook.planning.plan_lines import PlanLine
from bevelbook.plugin.registry import Registry

_NO_WORK: Final = frozenset({LEAVE_IT, UNCLEAR_WHAT})


class OpenPoints(NamedTuple):
    """Ideas for the venue and for any, findings to settle, comparisons that could be decided.

    ``left_out`` are plugins whose checks failed: what they would have found is not there.
    """

    ideas: tuple[OpenIdea, ...] = ()
    findings: tuple[FindingToSettle, ...] = ()
    comparisons: tuple[ComparisonToDecide, ...] = ()
    left_out: tuple[str, ...] = ()

    def lines(self) -> Iterator[str]:
        """All of them for people, each kind under its heading."""
        if self.findings:
            yield "To settle"
            for finding in self.findings:
                yield from wrapped(finding.said, "  ")
        if self.comparisons:
            yield "To decide there"
            for comparison in self.comparisons:
                yield from wrapped(comparison.words, "  ")
        if self.ideas:
            yield "To try"
            for idea in self.ideas:
                where = f" (at {idea.venue})" if idea.venue else ""
                yield from wrapped(f"{' '.join(idea.text.split())}{where}", "  ")

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        found: dict[str, Any] = plain_data(self)
        return found


def open_points(
    connection: sqlite3.Connection,
    registry: Registry,
    venue: str | None,
    cars: Sequence[CarToGo],
    lines: Sequence[PlanLine],
) -> OpenPoints:
    """What is open where the diffs of these lines and these cars go to a venue (by id), None where that is not known.

    Builds that the plan opens are compared no further.
    """
    ideas = open_ideas(connection, venue)
    with_work = {one.diff for one in lines if one.act not in _NO_WORK}
    stay = [one.build for one in lines if one.build is not None and one.act not in OPENING_ACTS]
    failed = [one for one in registry.failures if one.reason.startswith("bevelbook_checks")]
    return OpenPoints(
        tuple(one for one in ideas if venue is not None or one.venue is None),
        findings_to_settle(connection, registry, {one.diff for one in lines}, with_work),
        comparisons_to_decide(connection, stay, cars),
        tuple(map(str, failed)),
    )
