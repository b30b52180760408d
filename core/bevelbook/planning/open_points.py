"""What to try, to settle and to decide at an event: ideas, findings, comparisons that lack a few runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from bevelbook.display.format import wrapped
from bevelbook.facts.ideas import OpenIdea
from bevelbook.planning.plain_data import plain_data


class FindingToSettle(NamedTuple):
    """A finding about what is in use, by the name that people type for it, worst first."""

    severity: str
    name: str
    words: str
    remedy: str
    subject_label: str

    @property
    def said(self) -> str:
        """The finding in one line."""
        sign = self.severity.upper() if self.severity == "stop" else self.severity
        return f"{sign}: {self.name}: {self.words}. {self.remedy}"


class ComparisonToDecide(NamedTuple):
    """Two builds (by id) that ran in turn and are not decided: how many more runs of each would decide it, and in what
    order, such as ``a b b a``. ``runs_planned`` are those there are at the event."""

    a: str
    b: str
    label_a: str
    label_b: str
    more_runs: int
    order: str
    runs_planned: float | None
    words: str


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
