"""What a plan says alike of several diffs, cars and steps of the work: said once, with all of them named.

What lacks a part, takes oil or was done stands by itself: each is a piece of work of its own. What counts as alike is
this project's own proposal.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Final, NamedTuple, TypeVar

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.vocabulary import LEAVE_IT, PLAN_ACTS, POSITIONS
from bevelbook.display.format import wrapped
from bevelbook.planning.plan_lines import CarInPlan, OilHint, PlanLine
from bevelbook.planning.work_order import WorkStep

ALIKE_FROM: Final = 4
"""From so many on, what says the same is said once."""
_AGE: Final = late_pattern(r"built (\d+) days ago")
"""The reason that differs from diff to diff although nothing else does."""
_AT_A_PLACE: Final = late_pattern(rf"in the ({'|'.join(POSITIONS)}) (.+)")
"""What is said of one place of a car, and the rest of it."""

_One = TypeVar("_One")


class LinesAlike(NamedTuple):
    """Lines that say the same but for the diff and the day it was built; a single one where none is like it."""

    lines: tuple[PlanLine, ...]

    @property
    def called(self) -> str:
        """All diffs as people know them."""
        return ", ".join(one.called for one in self.lines)

    @property
    def line(self) -> PlanLine:
        """The line that stands for all: the first, with the ages of all."""
        first = self.lines[0]
        days = [int(found[1]) for line in self.lines for one in line.reasons if (found := _AGE.fullmatch(one))]
        if len(set(days)) < 2:
            return first
        ages = f"built {min(days)} to {max(days)} days ago"
        return first._replace(reasons=tuple(ages if _AGE.fullmatch(one) else one for one in first.reasons))

    def said(self, *, in_full: bool = False, said_once: Collection[str] = ()) -> Iterator[str]:
        """The lines for people, without what is ``said_once`` elsewhere."""
        of_all = self.called if len(self.lines) > 1 else ""
        yield from self.line.lines(in_full=in_full, of_all=of_all, said_once=said_once)


class CarsAlike(NamedTuple):
    """Cars of which the same is said at every place; a single one where none is like it."""

    cars: tuple[CarInPlan, ...]

    @property
    def title(self) -> str:
        """The cars, with the runs planned."""
        if len(self.cars) == 1:
            return self.cars[0].title
        runs = self.cars[0].title.removeprefix(self.cars[0].name)
        return f"{self.in_short}{f'{runs} each' if runs else ''}: {', '.join(one.name for one in self.cars)}"

    @property
    def in_short(self) -> str:
        """The car by its name, several by their number."""
        return self.cars[0].name if len(self.cars) == 1 else f"{len(self.cars)} cars"

    @property
    def lines(self) -> tuple[LinesAlike, ...]:
        """The lines front to rear, each of the diffs at that place of all cars."""
        return tuple(map(LinesAlike, zip(*(one.lines_of_diffs for one in self.cars), strict=True)))

    def said(self, *, in_full: bool = False, said_once: Collection[str] = ()) -> Iterator[str]:
        """The cars for people, without what is ``said_once`` elsewhere."""
        yield from wrapped(self.title) if len(self.cars) > 1 else (self.title,)
        for line in self.lines:
            yield from line.said(in_full=in_full, said_once=said_once)
        for place in self.cars[0].without:
            yield from place.lines()


class StepsAlike(NamedTuple):
    """Steps of the work that follow each other and say the same; a single one where its neighbours say something
    else."""

    steps: tuple[WorkStep, ...]

    @property
    def places(self) -> str:
        """Their places in the order of work: ``5 to 29``."""
        first, last = self.steps[0].place, self.steps[-1].place
        return str(first) if first == last else f"{first} to {last}"

    @property
    def where(self) -> str:
        """Where all of them are; empty where that differs."""
        found = {one.where for one in self.steps}
        return self.steps[0].where if len(found) == 1 else ""

    def said(self) -> Iterator[str]:
        """The steps for people, numbered."""
        if len(self.steps) == 1:
            yield from self.steps[0].lines()
            return
        first, where = self.steps[0], self.where
        names = ", ".join(one.label if where else f"{one.label} ({one.where})" for one in self.steps)
        there = f"{where}: " if where else ""
        yield from wrapped(f"{self.places}. {first.what}; {first.why_here}: {there}{names}", "  ")


def lines_alike(lines: Sequence[PlanLine], *, in_full: bool = False) -> list[LinesAlike]:
    """The lines, those that say the same together. Where any are, the heaviest act stands first.

    ``in_full`` where all that speaks for an oil is said.
    """
    groups: dict[Hashable, list[PlanLine]] = {}
    for line in lines:
        groups.setdefault(_said_of(line, in_full=in_full), []).append(line)
    found = [LinesAlike(one) for group in groups.values() for one in _together(tuple(group))]
    if any(len(one.lines) > 1 for one in found):
        found.sort(key=lambda one: -PLAN_ACTS.index(one.lines[0].act))
    return found


def cars_alike(cars: Sequence[CarInPlan], *, in_full: bool = False) -> list[CarsAlike]:
    """The cars, those together of which the same is said at every place; several with nothing to do stand last."""
    groups: dict[Hashable, list[CarInPlan]] = {}
    for car in cars:
        at_each = tuple((one.position, _said_of(one, in_full=in_full)) for one in car.lines_of_diffs)
        is_alone = bool(car.without) or not at_each
        groups.setdefault(car.car if is_alone else (car.runs, at_each), []).append(car)
    found = [CarsAlike(one) for group in groups.values() for one in _together(tuple(group))]
    found.sort(key=_is_left_together)
    return found


def steps_alike(steps: Sequence[WorkStep]) -> list[StepsAlike]:
    """The steps in their order, those together that follow each other and say the same; what was done stands alone."""
    found = groupby(steps, key=lambda one: (one.what, one.why_here, one.place if one.done else 0))
    return [StepsAlike(one) for _, group in found for one in _together(tuple(group))]


def oil_hints(lines: Iterable[PlanLine], settles: Mapping[str, Collection[str]]) -> tuple[OilHint, ...]:
    """What the oils of at least two lines have alike in what would make them clear; ``settles`` has that for each diff
    by its id."""
    diffs: dict[str, list[str]] = {}
    for line in lines:
        for hint in line.settle:
            if hint in settles.get(line.diff, ()):
                diffs.setdefault(hint, []).append(line.called)
    return tuple(OilHint(hint, tuple(called)) for hint, called in diffs.items() if len(called) > 1)


def hints_alike(hints: Iterable[str]) -> list[str]:
    """What to write down, where it begins alike up to a colon said once, with what follows each; and what follows once
    for all places of a car of which it says the same.

    >>> hints_alike(["note grip: in the front 3 runs ('x')", "note grip: in the rear 3 runs ('x')", "go: far"])
    ["note grip: in the front and the rear 3 runs ('x')", 'go: far']
    >>> hints_alike(["note grip: in the front 2 runs", "note grip: in the rear 3 runs", "note grip"])
    ['note grip: in the front 2 runs; in the rear 3 runs']
    """
    begun: dict[str, dict[str, None]] = {}
    for hint in hints:
        begins, _, follows = hint.partition(": ")
        begun.setdefault(begins, {}).update({follows: None} if follows else {})
    return [
        ": ".join((begins, *(["; ".join(_at_places(follow))] if follow else []))) for begins, follow in begun.items()
    ]


def _at_places(hints: Iterable[str]) -> Iterator[str]:
    at: dict[str, list[str]] = {}
    for hint in hints:
        found = _AT_A_PLACE.fullmatch(hint)
        at.setdefault(found[2] if found else hint, []).extend([found[1]] if found else [])
    for hint, places in at.items():
        yield f"in the {' and the '.join(places)} {hint}" if places else hint


def _is_left_together(cars: CarsAlike) -> bool:
    return len(cars.cars) > 1 and all(one.act == LEAVE_IT for one in cars.cars[0].lines_of_diffs)


def _together(group: tuple[_One, ...]) -> list[tuple[_One, ...]]:
    return [group] if len(group) >= ALIKE_FROM else [(one,) for one in group]


def _said_of(line: PlanLine, *, in_full: bool) -> Hashable:
    """What a line says but for its diff and the day that was built; its diff where it stands by itself."""
    if line.done or line.oils or line.shared_with or any(one.pieces for one in line.parts):
        return line.diff
    reasons = tuple("" if _AGE.fullmatch(one) else one for one in line.reasons)
    oil = line.about_oil(in_full=in_full)
    minutes = line.minutes.words if line.minutes else ""
    return (line.is_spare, line.act, reasons, line.settle, line.oil_what, oil, line.parts, minutes)
