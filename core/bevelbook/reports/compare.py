"""Two builds side by side: what was changed, what came of each, and their runs in turn."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.format import wrapped
from bevelbook.display.table import lines_of_rows
from bevelbook.facts.in_turn import InTurn, in_turn
from bevelbook.formulas.lap_standing import ASK
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.build_difference import Difference, differing
from bevelbook.reports.build_outcome import BuildOutcome, outcome_of
from bevelbook.reports.changed_lines import ChangedLine, ChangedLines, changed_lines
from bevelbook.reports.noted_of_build import noted_of_build
from bevelbook.reports.runs_in_turn import OnTrack, on_track
from bevelbook.store.lookup import find_id, label_of

CHANGED: Final = "What was changed"
MORE: Final = "Also noted, or noted of one only"
CAME_OF_IT: Final = "What came of it"
CALCULATED: Final = "What calculators say"
"""Headings, the same on the page and in the terminal."""


class ComparedBuilds(NamedTuple):
    """What differs between two builds, and what came of each."""

    differences: tuple[Difference, ...]
    outcomes: tuple[BuildOutcome, ...]


class Comparison(NamedTuple):
    """Two builds by label and id, what differs between them, what came of each, and what their runs say."""

    a: str
    b: str
    build_a: str
    build_b: str
    differences: tuple[Difference, ...]
    outcomes: tuple[BuildOutcome, ...]
    on_track: OnTrack | None

    @property
    def same(self) -> bool:
        """Whether both names mean the same build."""
        return self.build_a == self.build_b

    @property
    def changed(self) -> ChangedLines:
        """What differs, as lines to read."""
        return changed_lines(self.differences)

    @property
    def came_of_it(self) -> list[tuple[str, BuildOutcome]]:
        """What came of each build, with its label."""
        return list(zip((self.a, self.b), self.outcomes, strict=False))

    def as_dict(self) -> dict[str, Any]:
        """The comparison for programs."""
        return {
            "a": self.a,
            "b": self.b,
            "same_build": self.same,
            "differences": [
                {name: value for name, value in one._asdict().items() if name != "thing"} for one in self.differences
            ],
            "came_of_it": [{"build": label} | outcome.as_dict() for label, outcome in self.came_of_it],
            "on_track": self.on_track.as_dict() if self.on_track else None,
        }

    @property
    def calculated_too(self) -> str:
        """How many outputs of calculators differ; empty if none does."""
        count = 0 if self.same else len(self.changed.calculated)
        return f"{counted(count, 'number')} of calculators {'differs' if count == 1 else 'differ'} too" if count else ""

    def lines(self, *, everything: bool = False) -> Iterator[str]:
        """The comparison for people; ``everything`` adds what calculators say of the builds."""
        if self.same:
            yield f"{self.a} is one build: nothing to compare."
            return
        changed = self.changed
        parts = [(CHANGED, changed.first), (MORE, changed.more)]
        parts += [(CALCULATED, changed.calculated)] if everything else []
        if any(lines for _, lines in parts):
            yield from self._changed_table(parts)
            yield ""
            yield f"Change: {self.b} minus {self.a}. What is the same in both, or noted in neither, is left out."
        else:
            yield f"{self.a} and {self.b}: no differences noted."
        yield ""
        yield CAME_OF_IT
        for label, outcome in self.came_of_it:
            yield f"  {label}{f', {outcome.oil_lost_words}' if outcome.oil_lost_words else ''}"
            for line in outcome.lines():
                yield from wrapped(line, indent="    ")
        if self.on_track:
            yield ""
            yield "Run in turn"
            yield from self.on_track.lines()

    def _changed_table(self, parts: Sequence[tuple[str, Sequence[ChangedLine]]]) -> Iterator[str]:
        rows = [line for _, lines in parts for line in lines]
        headings, *printed = lines_of_rows([("", self.a, self.b, "change"), *rows], has_headings=True, indent="  ")
        yield from headings
        place = 0
        for heading, lines in parts:
            if lines:
                yield heading
                yield from (line for row in printed[place : place + len(lines)] for line in row)
            place += len(lines)


def compare(
    connection: sqlite3.Connection, a: str, b: str, registry: Registry | None = None, odd_times: str = ASK
) -> Comparison:
    """Compare two builds, named by label or id; a diff's name means its last build. Raises UnknownNameError.

    ``odd_times`` says whether a time far off the others is asked about, counted or left out. The registry gives the
    units of calculator outputs that do not have them in their names.
    """
    comparison, runs = side_by_side(connection, a, b, registry)
    return comparison._replace(on_track=on_track(runs, odd_times)) if runs else comparison


def side_by_side(
    connection: sqlite3.Connection, a: str, b: str, registry: Registry | None = None
) -> tuple[Comparison, InTurn | None]:
    """What the database has on both: what differs, and the runs in turn, not yet compared."""
    kind = BY_NAME["build"]
    build_a, build_b = (find_id(connection, kind, one) for one in (a, b))
    label_a, label_b = (label_of(connection, kind, one) for one in (build_a, build_b))
    found = compared_builds(connection, build_a, build_b, registry)
    runs = None if build_a == build_b else in_turn(connection, build_a, build_b)
    return Comparison(label_a, label_b, build_a, build_b, found.differences, found.outcomes, None), runs


def differences(
    connection: sqlite3.Connection, a: str, b: str, registry: Registry | None = None
) -> tuple[Difference, ...]:
    """What differs between two builds, given by their ids."""
    return compared_builds(connection, a, b, registry).differences


def compared_builds(connection: sqlite3.Connection, a: str, b: str, registry: Registry | None = None) -> ComparedBuilds:
    """What differs between two builds, given by their ids, and what came of each."""
    outcomes = tuple(outcome_of(connection, build) for build in (a, b))
    groups = [
        noted_of_build(connection, registry, build, outcome) for build, outcome in zip((a, b), outcomes, strict=True)
    ]
    found = tuple(one for name in groups[0] for one in differing(name, groups[0][name], groups[1][name]))
    return ComparedBuilds(found, outcomes)
