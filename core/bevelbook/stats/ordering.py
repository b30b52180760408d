"""Which oil is thicker than which: one order that agrees with every comparison, and the comparisons that contradict
it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from graphlib import TopologicalSorter

RATIO_AGREEMENT: Final = 0.10
"""Two ratios of the same pair that differ by more contradict each other (our own figure)."""


class ThicknessComparison(NamedTuple):
    """One test of two oils at one temperature; ``ratio`` is thicker over thinner, if measured."""

    thicker: str
    thinner: str
    ratio: float | None = None


class RatioDisagreement(NamedTuple):
    """A ratio measured directly, and the same through other oils."""

    thicker: str
    thinner: str
    ratio: float
    by_way_of_others: float


class Chain(NamedTuple):
    """Oils that comparisons connect.

    ``levels``: thickest first; each oil is below every oil that it was found thinner than. ``undecided``: pairs about
    which the comparisons say nothing, whatever their levels. ``ratios``: viscosity over that of
    ``reference``, for the oils that measured ratios connect to it.
    """

    levels: tuple[tuple[str, ...], ...]
    undecided: tuple[tuple[str, str], ...]
    reference: str
    ratios: Mapping[str, float]


class ThicknessOrder(NamedTuple):
    """What all comparisons say together. ``cycles``: oils of which each was found thicker than the next, the last
    being the first again; the comparisons of a circle are left out of the chains."""

    chains: tuple[Chain, ...]
    cycles: tuple[tuple[str, ...], ...]
    disagreements: tuple[RatioDisagreement, ...]


def thickness_order(comparisons: Iterable[ThicknessComparison]) -> ThicknessOrder:
    """An order of the oils that agrees with all comparisons, with contradicting comparisons left out and listed.

    Order: topological (each thicker oil before each thinner one). Ratios along a way are multiplied:
    r(a/c) = r(a/b) r(b/c). No viscosity is made from labels.

    >>> order = thickness_order([ThicknessComparison("a", "b", 1.5), ThicknessComparison("b", "c", 1.2)])
    >>> order.chains[0].levels, round(order.chains[0].ratios["a"], 2)
    ((('a',), ('b',), ('c',)), 1.8)
    >>> in_a_circle = [ThicknessComparison(*pair) for pair in ("ab", "bc", "ca")]
    >>> thickness_order(in_a_circle).cycles
    (('a', 'b', 'c', 'a'),)
    """
    kept = sorted(comparisons, key=lambda one: (one.thicker, one.thinner, one.ratio or 0.0))
    cycles = []
    while (circle := _circle(kept)) is not None:
        cycles.append(circle)
        steps = set(pairwise(circle))
        kept = [one for one in kept if (one.thicker, one.thinner) not in steps]
    chains = []
    disagreements: list[RatioDisagreement] = []
    for names in _connected(kept):
        own = [one for one in kept if one.thicker in names]
        levels = _levels(own)
        reference, ratios = _ratios(own, [name for level in reversed(levels) for name in level], disagreements)
        chains.append(Chain(levels, _undecided(own, names), reference, ratios))
    return ThicknessOrder(tuple(chains), tuple(cycles), tuple(disagreements))


def _circle(comparisons: Sequence[ThicknessComparison]) -> tuple[str, ...] | None:
    from graphlib import CycleError

    try:
        _sorter(comparisons).prepare()
    except CycleError as fault:
        found: list[str] = fault.args[1][:-1]
        start = found.index(min(found))
        turned = found[start:] + found[:start]
        return (*turned, turned[0])
    return None


def _sorter(comparisons: Sequence[ThicknessComparison]) -> TopologicalSorter[str]:
    from graphlib import TopologicalSorter

    sorter: TopologicalSorter[str] = TopologicalSorter()
    for one in comparisons:
        sorter.add(one.thinner, one.thicker)
    return sorter


def _levels(comparisons: Sequence[ThicknessComparison]) -> tuple[tuple[str, ...], ...]:
    sorter = _sorter(comparisons)
    sorter.prepare()
    levels = []
    while sorter.is_active():
        ready = tuple(sorted(sorter.get_ready()))
        sorter.done(*ready)
        levels.append(ready)
    return tuple(levels)


def _connected(comparisons: Sequence[ThicknessComparison]) -> list[set[str]]:
    groups: list[set[str]] = []
    for one in comparisons:
        pair = {one.thicker, one.thinner}
        touched = [group for group in groups if group & pair]
        groups = [group for group in groups if not group & pair]
        groups.append(pair.union(*touched))
    return sorted(groups, key=min)


def _undecided(comparisons: Sequence[ThicknessComparison], names: set[str]) -> tuple[tuple[str, str], ...]:
    below: dict[str, set[str]] = {}
    for name in _sorter(comparisons).static_order():
        below[name] = set()
    for name in reversed(below):
        for one in comparisons:
            if one.thicker == name:
                below[name] |= {one.thinner} | below[one.thinner]
    return tuple((a, b) for a, b in combinations(sorted(names), 2) if b not in below[a] and a not in below[b])


def _ratios(
    comparisons: Sequence[ThicknessComparison], thinnest_first: Sequence[str], disagreements: list[RatioDisagreement]
) -> tuple[str, dict[str, float]]:
    """Ratios to the thinnest oil that has one, the shortest way first; another way that gives a different ratio is
    noted."""
    measured = [(one, one.ratio) for one in comparisons if one.ratio is not None]
    linked = {name for one, _ in measured for name in (one.thicker, one.thinner)}
    reference = next((name for name in thinnest_first if name in linked), thinnest_first[0])
    by_start: dict[str, dict[str, float]] = {}
    for start in (reference, *thinnest_first):
        if start not in linked or any(start in found for found in by_start.values()):
            continue
        found = by_start[start] = _by_way(start, measured)
        for one, ratio in measured:
            if one.thicker in found:
                by_way = found[one.thicker] / found[one.thinner]
                if not (1.0 - RATIO_AGREEMENT) <= ratio / by_way <= 1.0 + RATIO_AGREEMENT:
                    disagreements.append(RatioDisagreement(one.thicker, one.thinner, ratio, by_way))
    return reference, by_start.get(reference, {})


def _by_way(start: str, measured: Sequence[tuple[ThicknessComparison, float]]) -> dict[str, float]:
    found = {start: 1.0}
    queue = deque([start])
    while queue:
        here = queue.popleft()
        for one, ratio in measured:
            other, factor = (one.thicker, ratio) if one.thinner == here else (one.thinner, 1.0 / ratio)
            if here in (one.thicker, one.thinner) and other not in found:
                found[other] = found[here] * factor
                queue.append(other)
    return found
