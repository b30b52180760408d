"""What differs between two builds as lines to read: what a person changed first, each thing on one line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Final, NamedTuple

from bevelbook.reports.build_difference import (
    BLEND,
    BUILD,
    CALCULATIONS,
    CAR,
    FEEL,
    MASSES,
    OIL,
    PARTS,
    SEALS,
    SHIMS,
    Difference,
)
from bevelbook.reports.noted_of_build import FITTED, OIL_FROM, PART_RUNS

MOST_FIRST: Final = 8
"""Lines shown at first; more than these do not fit a phone beside what came of it."""
_CHANGED: Final = (OIL, BLEND, MASSES, SHIMS, SEALS, PARTS, FEEL, CAR)
_WEIGHED: Final = {"dry mass": "dry", "filled mass": "filled", "closed mass": "closed"}
_REMARK: Final = "note"
_FROM: Final = "viscosity from"
_ASIDE: Final = (_FROM, OIL_FROM, "target oil mass", "sister mass")
"""What is noted beside a change: where a figure is from, what was planned."""
_KEPT_FIRST: Final = (OIL, MASSES, FEEL)
"""Groups whose changes are read first, however many others there are."""
NOT_NOTED: Final = "not noted"
"""In place of a value that one of the builds lacks."""


class ChangedLine(NamedTuple):
    """A line: what, its value in the one build and in the other, and the change of a number."""

    what: str
    a: str
    b: str
    change: str = ""


class ChangedLines(NamedTuple):
    """What differs: what a person changed, what else is noted, and the outputs of calculators."""

    first: tuple[ChangedLine, ...]
    more: tuple[ChangedLine, ...]
    calculated: tuple[ChangedLine, ...]

    @property
    def any_noted(self) -> bool:
        """Whether anything differs that was written down."""
        return bool(self.first or self.more)


def changed_lines(differences: Iterable[Difference]) -> ChangedLines:
    """The lines of some differences. What came of the builds is left out: each tells its own."""
    groups: dict[str, list[Difference]] = {}
    for one in differences:
        groups.setdefault(one.group, []).append(one)
    first: list[tuple[str, ChangedLine]] = []
    more: list[ChangedLine] = []
    for group in _CHANGED:
        of_group = groups.get(group, [])
        for line, is_first in _in_places(group, of_group) if group in (SEALS, SHIMS) else _in_order(group, of_group):
            if is_first:
                first.append((group, line))
            else:
                more.append(line)
    shown, too_many = _most_first(first)
    more = [_says_not_noted(line) for line in (*too_many, *more)]
    more += [_says_not_noted(_line(BUILD, [one])) for one in groups.get(BUILD, [])]
    if not shown:
        shown, more = more[:MOST_FIRST], more[MOST_FIRST:]
    calculated = tuple(_line(CALCULATIONS, [one]) for one in groups.get(CALCULATIONS, []))
    return ChangedLines(tuple(shown), tuple(more), calculated)


def _most_first(lines: Sequence[tuple[str, ChangedLine]]) -> tuple[list[ChangedLine], list[ChangedLine]]:
    """The lines shown at first, and those too many, which are the last ones of other groups than oil, masses, feel."""
    last_of_others = [place for place, (group, _) in enumerate(lines) if group not in _KEPT_FIRST][::-1]
    last_of_all = [place for place in range(len(lines)) if place not in last_of_others][::-1]
    left_out = set([*last_of_others, *last_of_all][: max(0, len(lines) - MOST_FIRST)])
    shown = [line for place, (_, line) in enumerate(lines) if place not in left_out]
    return shown, [lines[place][1] for place in sorted(left_out)]


def _says_not_noted(line: ChangedLine) -> ChangedLine:
    a, b = (NOT_NOTED if value == "-" else value for value in (line.a, line.b))
    return line._replace(a=a, b=b)


def _in_order(group: str, differences: Sequence[Difference]) -> Iterator[tuple[ChangedLine, bool]]:
    """The lines of a group, each with whether it is one of those read first."""
    for things in _things(group, differences):
        yield _line(group, things), _is_first(things)


def _in_places(group: str, differences: Sequence[Difference]) -> Iterator[tuple[ChangedLine, bool]]:
    """The same for seals and shims: one line for each place, or for places with the same change."""
    places: dict[tuple[str, str, str, bool], list[str]] = {}
    for place, things in _by_place(differences):
        a, b = _stacks(things) if group == SHIMS else (_together(things, of_b=False), _together(things, of_b=True))
        change = things[0].shown_change if group == SHIMS or len(things) == 1 else ""
        places.setdefault((a, b, change, _is_first(things)), []).append(place)
    for (a, b, change, is_first), names in places.items():
        where = _together_named(names)
        yield ChangedLine(f"shims {where}" if group == SHIMS else f"{where} seal", a, b, change), is_first


def _together_named(names: Sequence[str]) -> str:
    """Places in one breath: what all begin or end with is said once.

    >>> _together_named(["case-side shaft", "lid-side shaft"]), _together_named(["joint"])
    ('case-side and lid-side shaft', 'joint')
    >>> _together_named(["behind case-side gear", "behind lid-side gear"])
    'behind case-side and lid-side gear'
    """
    words = [name.split() for name in names]
    first, last = ({one[place] for one in words} for place in (0, -1))
    if len(words) > 1 and len(last) == 1:
        words = [*(one[:-1] or one for one in words[:-1]), words[-1]]
    if len(words) > 1 and len(first) == 1:
        words = [words[0], *(one[1:] or one for one in words[1:])]
    return " and ".join(map(" ".join, words))


def _by_place(differences: Sequence[Difference]) -> Iterator[tuple[str, list[Difference]]]:
    """What is noted of both builds at each place, and apart from it what is noted of one of them only."""
    for place, found in groupby(differences, key=lambda one: one.thing):
        things = list(found)
        of_both = [one for one in things if not one.is_of_one]
        of_one = [one for one in things if one.is_of_one]
        yield from ((place, some) for some in (of_both, of_one) if some)


def _things(group: str, differences: Sequence[Difference]) -> Iterator[list[Difference]]:
    """What is one line together: the oil, the masses weighed."""
    together = [one for one in differences if (group == OIL and one.what != _FROM) or one.what in _WEIGHED]
    alone = [[one] for one in differences if one not in together]
    if group == OIL:
        parts = [together, *alone]
    else:
        of_both = [one for one in together if not one.is_of_one]
        parts = [*alone, of_both, [one for one in together if one.is_of_one and one.a is None]]
        parts.append([one for one in together if one.is_of_one and one.b is None])
    yield from (part for part in parts if part)


def _is_first(things: Sequence[Difference]) -> bool:
    """Whether it is a change for certain: both builds note it, or it is a part fitted or a remark."""
    if things[0].what in _ASIDE or things[0].thing == PART_RUNS:
        return False
    return things[0].thing == FITTED or things[0].what == _REMARK or not all(one.is_of_one for one in things)


def _line(group: str, things: Sequence[Difference]) -> ChangedLine:
    one = things[0]
    if group == OIL and one.what != _FROM:
        change = next((thing.shown_change for thing in things if thing.change is not None), "")
        return ChangedLine("oil", _together(things, of_b=False), _together(things, of_b=True), change)
    if len(things) > 1:
        names = ", ".join(_WEIGHED[thing.what] for thing in things)
        return ChangedLine(f"{names} mass", _together(things, of_b=False), _together(things, of_b=True))
    what = f"blend: {one.what}" if group == BLEND else one.what
    if group == CALCULATIONS:
        what = f"{one.thing}: {what.partition(': ')[2]}"
    return ChangedLine(what, one.shown_a, one.shown_b, one.shown_change)


def _together(things: Sequence[Difference], *, of_b: bool) -> str:
    values = [(thing, thing.b if of_b else thing.a, thing.shown_b if of_b else thing.shown_a) for thing in things]
    if all(value is None for _, value, _ in values):
        return "-"
    if things[0].group == MASSES:
        return ", ".join(shown for _, _, shown in values)
    return ", ".join(_named(thing, shown) for thing, value, shown in values if value is not None)


def _named(thing: Difference, shown: str) -> str:
    if thing.what == "bottle":
        return f"bottle {shown}"
    facet = thing.what.removeprefix(thing.thing).strip() if thing.thing else ""
    return f"{facet.removesuffix(' diameter')} {shown}" if thing.unit == "mm" else shown


def _stacks(things: Sequence[Difference]) -> tuple[str, str]:
    """The sum of each stack, and its pieces where they are more than one."""
    sums = next((thing for thing in things if thing.unit == "mm"), None)
    pieces = next((thing for thing in things if thing.unit != "mm"), None)
    if sums is None or pieces is None:
        return things[0].shown_a, things[0].shown_b
    return _stack(sums.shown_a, pieces.shown_a), _stack(sums.shown_b, pieces.shown_b)


def _stack(total: str, pieces: str) -> str:
    is_one = pieces == "-" or (pieces.startswith("1 x ") and "+" not in pieces)
    return total if is_one else f"{total} ({pieces})"
