"""The team's bottles from thick to thin, as far as comparisons show, and the comparisons that contradict each other."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, NamedTuple

from bevelbook.stats.ordering import Chain, ThicknessComparison, ThicknessOrder, thickness_order


class Ordered(NamedTuple):
    """A bottle in the order: how many times as thick as the chain's reference, and its cSt from a measured one."""

    bottle: str
    name: str
    level: int
    ratio: float | None
    viscosity_cst: float | None
    origin: str | None


class BottleOrder(NamedTuple):
    """Chains of bottles, thickest first, each with the pairs it leaves open; and contradictions by name."""

    chains: tuple[tuple[Ordered, ...], ...]
    undecided: tuple[tuple[str, str], ...]
    cycles: tuple[tuple[str, ...], ...]
    disagreements: tuple[tuple[str, str, float, float], ...]

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "thickest_first": [[one._asdict() for one in chain] for chain in self.chains],
            "cannot_tell_apart": [list(pair) for pair in self.undecided],
            "contradictions": [list(circle) for circle in self.cycles],
            "ratios_that_disagree": [
                {"thicker": a, "thinner": b, "ratio": ratio, "by_way_of_others": other}
                for a, b, ratio, other in self.disagreements
            ],
        }

    def lines(self) -> Iterator[str]:
        """The same for people."""
        for chain in self.chains:
            levels: dict[int, list[str]] = {}
            for one in chain:
                levels.setdefault(one.level, []).append(_in_words(one))
            yield " > ".join(" | ".join(names) for names in levels.values())
        if self.undecided:
            yield "order unclear: " + "; ".join(f"{a} and {b}" for a, b in self.undecided)
        for circle in self.cycles:
            yield "contradiction: " + " > ".join(circle)
        for a, b, ratio, other in self.disagreements:
            yield f"contradiction: {a} over {b} is {ratio:.2f} by its own test, {other:.2f} through the others"


def bottle_order(connection: sqlite3.Connection) -> BottleOrder:
    """One order that agrees with all fluid comparisons; ratios are multiplied where they were measured.

    A cSt is given only through a bottle that was measured itself, never from a label.
    """
    names = {}
    measured = {}
    for bottle, lot, fluid, viscosity in connection.execute(
        "SELECT bo.id, bo.lot, coalesce(f.label, 'an oil that is gone'), bo.viscosity_cst "
        "FROM bottles bo LEFT JOIN fluids f ON f.id = bo.fluid"
    ):
        names[bottle] = f"{fluid} ({lot})" if lot else fluid
        if viscosity is not None:
            measured[bottle] = viscosity
    rows = connection.execute("SELECT thicker, thinner, ratio FROM fluid_comparisons ORDER BY id")
    order: ThicknessOrder = thickness_order(
        ThicknessComparison(row[0], row[1], row[2]) for row in rows if row[0] in names and row[1] in names
    )
    return BottleOrder(
        tuple(sorted((tuple(_ordered(chain, names, measured)) for chain in order.chains), key=_thickest_known)),
        tuple((names[a], names[b]) for chain in order.chains for a, b in chain.undecided),
        tuple(tuple(names[one] for one in circle) for circle in order.cycles),
        tuple((names[one.thicker], names[one.thinner], one.ratio, one.by_way_of_others) for one in order.disagreements),
    )


def _thickest_known(chain: tuple[Ordered, ...]) -> tuple[float, tuple[str, ...], tuple[str, ...]]:
    """Sorts chains that nothing connects: by the thickest that is known, those of which nothing is known last."""
    known = [one.viscosity_cst for one in chain if one.viscosity_cst is not None]
    return -max(known, default=0.0), tuple(one.name for one in chain), tuple(one.bottle for one in chain)


def _ordered(chain: Chain, names: dict[str, str], measured: dict[str, float]) -> Iterator[Ordered]:
    known = next((one for level in chain.levels for one in level if one in measured and one in chain.ratios), None)
    for level, bottles in enumerate(chain.levels, start=1):
        for one in bottles:
            ratio = chain.ratios.get(one)
            viscosity, origin = measured.get(one), "own measurement" if one in measured else None
            if viscosity is None and known is not None and ratio is not None:
                viscosity = measured[known] * ratio / chain.ratios[known]
                origin = f"by ratio to {names[known]}"
            yield Ordered(one, names[one], level, ratio, viscosity, origin)


def _in_words(one: Ordered) -> str:
    return one.name if one.viscosity_cst is None else f"{one.name}, {one.viscosity_cst:,.0f} cSt {one.origin}"
