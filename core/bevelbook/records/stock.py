"""What the team has in its boxes and bottles: parts counted, deliveries, kits, and bottles on the scale."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import choice, date, quantity, record, reference, text, whole
from bevelbook.declare.vocabulary import BOTTLE_LEVELS, PART_SIDES, STOCK_CHANGES, STOCKED_PARTS

ONE_BY_NAME: Final = frozenset({"stock_part"})
"""Kinds of which all records of one name are one thing: two laptops may each have written it down."""


@record
class StockPart:
    label: str = text("What the team calls it, such as shaft ring")
    part: str = choice(STOCKED_PARTS, "What part it is", facet=True)
    seal: str | None = reference("seal", "The kind of seal, for a seal", default=None, followed=False)
    side: str | None = choice(PART_SIDES, "Only for this side", default=None)
    thickness_mm: float | None = quantity("mm", "Thickness of a shim", default=None, above=0, maximum=5)
    bore_mm: float | None = quantity("mm", "Bore of a shim", default=None, above=0)
    outside_diameter_mm: float | None = quantity("mm", "Outside diameter of a shim", default=None, above=0)
    least: int | None = whole("Least wanted in the box", default=None, minimum=0)
    note: str | None = text("Anything else", default=None)


@record
class StockChange:
    stock_part: str = reference("stock_part", "The part")
    what: str = choice(STOCK_CHANGES, "Counted, delivered, or taken out other than into a build", facet=True)
    pieces: int = whole("How many", minimum=0, maximum=100_000)
    changed_on: str = date("Day")
    kit: str | None = text("The kit that it came in", default=None)
    person: str | None = reference("person", "Who", default=None, followed=False)
    note: str | None = text("Anything else", default=None)


@record
class KitPart:
    kit: str = text("What the kit is called", facet=True)
    stock_part: str = reference("stock_part", "A part in it")
    pieces: int = whole("How many of it", default=1, minimum=1, maximum=1_000)
    note: str | None = text("Anything else", default=None)


@record
class BottleCheck:
    bottle: str = reference("bottle", "The bottle")
    checked_on: str = date("Day")
    mass_g: float | None = quantity(
        "g", "Bottle on the scale, with its cap", default=None, above=0, plausible=(1, 2000)
    )
    level: str | None = choice(BOTTLE_LEVELS, "How full it looks, where it was not weighed", default=None)
    scale: str | None = reference("scale", "The scale", default=None)
    person: str | None = reference("person", "Who", default=None, followed=False)
    note: str | None = text("Anything else", default=None)
