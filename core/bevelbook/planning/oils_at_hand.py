"""The oils that a team has, and what of them goes into a diff: one of them, or a blend of two in grams.

As where an oil for another temperature is asked for, an oil without a bottle that was written down counts as at hand,
and one whose bottles are all used up does not.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from math import isclose
from typing import Final, NamedTuple

from bevelbook.display.oil_names import with_cst
from bevelbook.facts.bottles_left import BottleLeft, bottles_left
from bevelbook.facts.sql import rows
from bevelbook.formulas.oil_blend import BlendFound, BlendGiven, OilPart, blend, blend_between, judge_blend
from bevelbook.formulas.oil_off import is_near, nearest_cst, off_share, too_in_words
from bevelbook.formulas.percent import percent
from bevelbook.physics.viscosity import LABEL_TOLERANCE_SHARE, cst_in_words

_FLUIDS: Final = """
SELECT f.id AS fluid, f.label, f.viscosity_cst, EXISTS (SELECT 1 FROM bottles bo WHERE bo.fluid = f.id) AS has_bottle
FROM fluids f WHERE coalesce(f.medium, 'oil') = 'oil' ORDER BY f.label, f.id
"""


class PartOfBlend(NamedTuple):
    """An oil of a blend, by its label and id: its share of the blend by mass, and how much of it goes in, in g, where
    the mass of the whole is known."""

    label: str
    fluid: str
    viscosity_cst: float
    share: float
    mass_g: float | None


class OilToPour(NamedTuple):
    """An oil that goes into a diff, in words and by the fluid's id, None for a blend; cSt at 25 °C.

    ``parts`` are those of a blend. ``enough`` says whether there is as much at hand, less what other diffs of the plan
    take before; None where that is not known. ``short`` says what is missing and what is the next best.
    """

    words: str
    fluid: str | None
    viscosity_cst: float | None
    oil_mass_g: float | None
    parts: tuple[PartOfBlend, ...] = ()
    enough: bool | None = None
    short: str = ""


class OilInBottles(NamedTuple):
    """One oil with its bottles, and the least and the most that is left in them together, in g."""

    viscosity_cst: float
    fluid: str
    label: str
    bottles: tuple[BottleLeft, ...]
    low_g: float | None
    high_g: float | None

    @property
    def left(self) -> str:
        """How much is left, in words."""
        if len(self.bottles) == 1:
            return self.bottles[0].short
        return " and ".join(f"{one.label}: {one.short}" for one in self.bottles)


def oil_named(label: str | None, viscosity_cst: float | None) -> str:
    """An oil by its label, with its cSt where the label does not say them.

    >>> oil_named("7,000", 7000.0), oil_named("house 7k", 7000.0), oil_named(None, 8216.4), oil_named("60 wt", None)
    ('7,000 cSt', 'house 7k (7,000 cSt)', '8,216 cSt', '60 wt')
    """
    if viscosity_cst is None:
        return label or "an oil that is not recorded"
    cst = f"{cst_in_words(viscosity_cst, 4)} cSt"
    return with_cst(label, viscosity_cst, cst) if label else cst


class OilsAtHand:
    """The oils at hand. What one diff takes is missing for the next."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._oils = sorted(_at_hand(connection), key=lambda one: (one.viscosity_cst, one.label, one.fluid))
        self._taken_g: dict[tuple[str, float], float] = {}
        self.labels = {row["fluid"]: row["label"] for row in rows(connection, _FLUIDS)}

    @property
    def viscosities_cst(self) -> list[float]:
        """What they are at 25 °C, thin to thick."""
        return sorted({one.viscosity_cst for one in self._oils})

    def poured(
        self,
        wanted_cst: float,
        needed_cst: float,
        mass_g: float | None,
        *,
        is_same_again: bool = False,
        fluid: str | None = None,
    ) -> OilToPour:
        """What is poured where an oil is wanted: it, or the blend that hits what is needed where it does not.

        wanted_cst     one of the oils at hand, the oil that is in, or a blend
        needed_cst     what feels right
        mass_g         how much goes in, None where that is not known
        is_same_again  the oil that is in is wanted again, and no blend in its place
        fluid          of oils that are as thick take this one, by id
        """
        label = self._chosen(wanted_cst, mass_g, fluid)
        is_off = abs(off_share(wanted_cst, needed_cst)) > LABEL_TOLERANCE_SHARE
        if label is None or (is_off and not is_same_again):
            hits = blend_between(self.viscosities_cst, wanted_cst if label is None else needed_cst, mass_g or 1.0)
            if hits is not None:
                return self._blended(hits, mass_g, label)
        if label is None:
            words = oil_named(self.labels.get(fluid) if fluid else None, wanted_cst)
            short = f"none of {words} is at hand{self._next_best(needed_cst, mass_g, without=None)}"
            return OilToPour(_with_mass(words, mass_g), fluid, wanted_cst, mass_g, (), False, short)
        enough = self._is_enough(label, mass_g)
        short = self._short(label, mass_g, enough)
        if enough is False:
            short += self._next_best(needed_cst, mass_g, without=label)
        words = oil_named(label.label, label.viscosity_cst)
        return OilToPour(_with_mass(words, mass_g), label.fluid, label.viscosity_cst, mass_g, (), enough, short)

    def blend_that_hits(self, needed_cst: float, mass_g: float | None) -> OilToPour | None:
        """The blend of two oils at hand that makes one that is needed, if two are around it."""
        hits = blend_between(self.viscosities_cst, needed_cst, mass_g or 1.0)
        return None if hits is None else self._blended(hits, mass_g, None)

    def take(self, oil: OilToPour) -> None:
        """Have what goes into a diff missing for the next."""
        taken = [(one.fluid, one.viscosity_cst, one.mass_g) for one in oil.parts]
        if oil.fluid is not None and oil.viscosity_cst is not None:
            taken.append((oil.fluid, oil.viscosity_cst, oil.oil_mass_g))
        for fluid, viscosity_cst, mass_g in taken:
            key = (fluid, viscosity_cst)
            self._taken_g[key] = self._taken_g.get(key, 0.0) + (mass_g or 0.0)

    def _chosen(self, viscosity_cst: float, mass_g: float | None, fluid: str | None = None) -> OilInBottles | None:
        """Of the oils that are as thick one that is there in full, best the one asked for."""
        alike = [one for one in self._oils if isclose(one.viscosity_cst, viscosity_cst, rel_tol=1e-9)]
        order = (True, None, False)
        return min(alike, key=lambda one: (order.index(self._is_enough(one, mass_g)), one.fluid != fluid), default=None)

    def _taken(self, oil: OilInBottles) -> float:
        return self._taken_g.get((oil.fluid, oil.viscosity_cst), 0.0)

    def _is_enough(self, oil: OilInBottles, mass_g: float | None) -> bool | None:
        if mass_g is None:
            return None
        wanted = mass_g + self._taken(oil)
        if oil.low_g is not None and oil.low_g >= wanted:
            return True
        return False if oil.high_g is not None and oil.high_g < wanted else None

    def _short(self, oil: OilInBottles, mass_g: float | None, enough: bool | None) -> str:
        if enough is True or mass_g is None or not oil.bottles:
            return ""
        taken = self._taken(oil)
        before = f" and {taken:.2f} g for the diffs before" if taken else ""
        how_much = f"{oil.left}, {mass_g:.2f} g wanted{before}"
        return f"too little {oil.label}: {how_much}" if enough is False else f"enough {oil.label}? {how_much}"

    def _blended(self, hits: BlendFound, mass_g: float | None, label: OilInBottles | None) -> OilToPour:
        parts, is_enough, short = [], [], []
        for one in hits.used:
            part_g = one.mass_g if mass_g is not None else None
            oil = self._chosen(one.viscosity_cst, part_g)
            if oil is None:
                continue
            enough = self._is_enough(oil, part_g)
            parts.append(PartOfBlend(oil.label, oil.fluid, one.viscosity_cst, one.mass_fraction, part_g))
            is_enough.append(enough)
            short.append(self._short(oil, part_g, enough))
        all_there = False if False in is_enough else None if None in is_enough else True
        words = f"{_recipe(parts)}: {cst_in_words(hits.viscosity_blend_cst, 4)} cSt"
        if label is not None:
            miss = too_in_words(off_share(label.viscosity_cst, hits.viscosity_blend_cst))
            words += f" (the {oil_named(label.label, label.viscosity_cst)} alone is {miss})"
        if all_there is False:
            without = next(
                self._chosen(part.viscosity_cst, part.mass_g)
                for part, enough in zip(parts, is_enough, strict=True)
                if enough is False
            )
            short.append(self._next_best(hits.viscosity_blend_cst, mass_g, without=without).removeprefix("; "))
        said = "; ".join(filter(None, short))
        return OilToPour(words, None, hits.viscosity_blend_cst, mass_g, tuple(parts), all_there, said)

    def _next_best(self, needed_cst: float, mass_g: float | None, without: OilInBottles | None) -> str:
        """The best that is there without an oil of which there is too little; it begins with a semicolon."""
        left = [
            one.viscosity_cst
            for one in self._oils
            if one is not without
            and is_near(one.viscosity_cst, needed_cst)
            and self._is_enough(one, mass_g) is not False
        ]
        nearest = nearest_cst(left, needed_cst)
        if nearest is None:
            return "; nothing else at hand is near"
        miss = off_share(nearest, needed_cst)
        hits = blend_between(left, needed_cst, mass_g or 1.0)
        if hits is not None and abs(miss) > LABEL_TOLERANCE_SHARE:
            chosen = [(self._chosen(one.viscosity_cst, mass_g), one) for one in hits.used]
            recipe = [
                PartOfBlend(oil.label, oil.fluid, one.viscosity_cst, one.mass_fraction, one.mass_g if mass_g else None)
                for oil, one in chosen
                if oil is not None
            ]
            return f"; next best: {_recipe(recipe)}, which makes {cst_in_words(needed_cst, 4)} cSt"
        oil = self._chosen(nearest, mass_g)
        name = oil_named(oil.label if oil else None, nearest)
        return f"; next best: {name}, {too_in_words(miss) if abs(miss) >= 0.005 else 'as thick as needed'}"


def _at_hand(connection: sqlite3.Connection) -> Iterator[OilInBottles]:
    bottles: dict[str, dict[float, list[BottleLeft]]] = {}
    for bottle in bottles_left(connection):
        if bottle.viscosity_cst is not None:
            bottles.setdefault(bottle.fluid, {}).setdefault(bottle.viscosity_cst, []).append(bottle)
    for row in rows(connection, _FLUIDS):
        found = bottles.get(row["fluid"], {})
        for viscosity_cst, alike in found.items():
            low = [one.low_g for one in alike if one.low_g is not None]
            high = [one.high_g for one in alike if one.high_g is not None]
            yield OilInBottles(
                viscosity_cst,
                row["fluid"],
                row["label"],
                tuple(alike),
                sum(low) if low else None,
                sum(high) if len(high) == len(alike) else None,
            )
        if not row["has_bottle"] and row["viscosity_cst"] is not None:
            yield OilInBottles(row["viscosity_cst"], row["fluid"], row["label"], (), None, None)


def _recipe(parts: Sequence[PartOfBlend]) -> str:
    """``0.80 g of house 7k with 1.06 g of house 10k``; in shares where the mass is not known."""
    return " with ".join(
        f"{f'{one.mass_g:.2f} g' if one.mass_g is not None else percent(one.share)} of "
        f"{oil_named(one.label, one.viscosity_cst)}"
        for one in parts
    )


def blend_cautions(oil: OilToPour) -> tuple[str, ...]:
    """What is less certain about a blend: of oils that are far apart, or thick. Nothing of an oil alone."""
    if not oil.parts or oil.viscosity_cst is None:
        return ()
    parts = tuple(OilPart(viscosity_cst=one.viscosity_cst) for one in oil.parts)
    given = BlendGiven(parts=parts, target_viscosity_cst=oil.viscosity_cst)
    return judge_blend(given, blend(given)).reasons[1:-1]


def _with_mass(words: str, mass_g: float | None) -> str:
    return words if mass_g is None else f"{words}, {mass_g:.2f} g"
