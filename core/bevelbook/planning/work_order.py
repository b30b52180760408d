"""In what order to work: first what may need a part that is not there, then what runs first, then the rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from bevelbook.declare.vocabulary import LEAVE_IT, LOOK_AT_IT, PLAN_ACTS, REBUILD_IT, UNCLEAR_WHAT
from bevelbook.display.format import wrapped
from bevelbook.planning.plain_data import plain_data
from bevelbook.planning.plan_lines import PlanLine


class WorkStep(NamedTuple):
    """A diff in the order of work: its place from 1, what to do with it, and why it stands there."""

    place: int
    diff: str
    label: str
    where: str
    what: str
    why_here: str
    done: str = ""

    @property
    def words(self) -> str:
        """The step in one line."""
        return f"{self.label} ({self.where}): {self.what}; {self.why_here}"

    def lines(self) -> Iterator[str]:
        """The step for people, numbered."""
        yield from wrapped(f"{self.place}. {self.words}{f'; {self.done}' if self.done else ''}", "  ")

    def as_dict(self) -> dict[str, Any]:
        """The step for programs."""
        return {**plain_data(self), "words": self.words}


class _Rank(NamedTuple):
    """How early something is done: the group, and in it the order of the cars and places of the plan."""

    group: int
    why: str


def in_order_of_work(lines: Sequence[PlanLine]) -> tuple[tuple[PlanLine, ...], tuple[WorkStep, ...]]:
    """The lines in the order they have, each with its place in the work, and the work step by step.

    First what lacks a part or its oil, then what may lack one (a part that was never counted, a rebuild of which it is
    not known what it takes, a look that may end in one), then the other diffs that run, then the spares, the heaviest
    act first. Within each the cars come by name, a car front to rear: which car runs first is not known. The order is
    this project's own proposal.
    """
    ranks = {one.diff: _rank(one) for one in lines if one.act != LEAVE_IT}
    ordered = sorted(
        (one for one in lines if one.diff in ranks),
        key=lambda one: (ranks[one.diff].group, -PLAN_ACTS.index(one.act) if one.is_spare else 0),
    )
    places = {one.diff: number for number, one in enumerate(ordered, start=1)}
    placed = tuple(one._replace(place=places.get(one.diff)) for one in lines)
    return placed, tuple(
        WorkStep(places[one.diff], one.diff, one.called, one.where, one.what, ranks[one.diff].why, one.done)
        for one in ordered
    )


def _rank(line: PlanLine) -> _Rank:
    short = [f"{one.short} x {one.what}" for one in line.parts if one.short > 0]
    if short:
        return _Rank(0, f"first: {' and '.join(short)} must be ordered")
    if any(one.enough is False for one in line.oils):
        return _Rank(0, "first: its oil must be ordered")
    if line.is_spare:
        return _Rank(3, "last, as it is spare")
    unknown = [one.what for one in line.parts if one.have is None]
    if unknown:
        return _Rank(1, f"early, as nobody counted: {', '.join(dict.fromkeys(unknown))}")
    if line.act == REBUILD_IT and not line.parts:
        return _Rank(1, "early, as it is not known which parts it takes")
    if line.act in (LOOK_AT_IT, UNCLEAR_WHAT):
        return _Rank(1, "early, as it may turn out to need a part")
    return _Rank(2, "it is in a car that goes")
