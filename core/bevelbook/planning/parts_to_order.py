"""Parts to order before an event: what the plan takes and what shall stay in the box, against what is there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from bevelbook.facts.stock import StockLeft
from bevelbook.planning.plan_lines import PlanLine


class PartToOrder(NamedTuple):
    """A part of which there is too little: what the plan takes and what shall stay in the box, against what is there.

    ``pieces`` are those to order, ``wanted`` what the plan takes.
    """

    what: str
    stock_part: str
    pieces: int
    wanted: int
    least: int | None
    have: int
    words: str


def parts_to_order(lines: Sequence[PlanLine], stock: Sequence[StockLeft]) -> tuple[PartToOrder, ...]:
    """Parts that were counted of which there are too few. What has to be counted again is not ordered: nobody knows how
    many there are."""
    return tuple(_to_order(lines, stock))


def _to_order(lines: Sequence[PlanLine], stock: Sequence[StockLeft]) -> Iterator[PartToOrder]:
    wanted: dict[str, int] = {}
    for line in lines:
        for part in line.parts:
            if part.stock_part is not None:
                wanted[part.stock_part] = wanted.get(part.stock_part, 0) + part.pieces
    for one in stock:
        takes = wanted.get(one.stock_part, 0)
        pieces = takes + (one.least or 0) - one.pieces
        if one.is_below_none or pieces <= 0:
            continue
        why = [f"the plan takes {takes}"] if takes else []
        why += [f"you keep {one.least} in the box"] if one.least else []
        yield PartToOrder(
            one.label,
            one.stock_part,
            pieces,
            takes,
            one.least,
            one.pieces,
            f"{pieces} x {one.label}: {', '.join(why)}, {one.left_words}",
        )
