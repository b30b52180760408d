"""The order in which screws on a circle are tightened, and a drawing of it."""

from __future__ import annotations

from math import cos, pi, sin
from typing import Final

from bevelbook import InputError, Place, Source

FEWEST_SCREWS: Final = 2
MOST_SCREWS: Final = 32
PAIR_RULE: Final = Source(
    "handbook",
    "How to bolt flanges, citing the Fluid Sealing Association",
    "Hennig Gasket",
    year="undated",
    where="opposite pairs, each new pair halves the largest free angle",
    seen="read",
)
ANGLE_RULE: Final = Source(
    "handbook",
    "Heater manual",
    "Cemline",
    year="undated",
    where="p. 41: 0-180, 90-270, 45-225, 135-315 degrees for eight holes",
    seen="read",
)
TWO_CONVENTIONS: Final = Source(
    "handbook",
    "Bolt tightening: why the sequence matters, on ASME PCC-1-2019",
    "KNM Hydraulikk",
    year="undated",
    seen="read; the standard was not opened",
)


def tightening_order(screw_count: int) -> tuple[int, ...]:
    """The screws, numbered clockwise from 1, in the order in which they are turned.

    Divisible by four: groups s, s + N/2, s + N/4, s + 3N/4 with s in the order of N/4 screws. Otherwise even: pairs
    s, s + N/2 with s in the order of N/2 screws. Odd: steps of (N - 1)/2. For 4, 8, 12, 16, 20 and 24 this gives the
    listed orders; the others are constructed from the same rule. From 2 to 32 screws. Raises InputError outside.

    Source: Hennig Gasket, How to bolt flanges (pair rule); the status of each list is in the table of sequences.

    >>> tightening_order(8)
    (1, 5, 3, 7, 2, 6, 4, 8)
    >>> tightening_order(5)
    (1, 3, 5, 2, 4)
    """
    if not FEWEST_SCREWS <= screw_count <= MOST_SCREWS:
        raise InputError(
            "there is no order for that many screws",
            code="outside_valid_range",
            place=Place(field="screw_count"),
            found=str(screw_count),
            wanted=f"{FEWEST_SCREWS} to {MOST_SCREWS}",
            remedy="Count the screws that hold the lid.",
        )
    return tuple(_order(screw_count))


def _order(count: int) -> list[int]:
    if count % 2:
        return [1 + place * ((count - 1) // 2) % count for place in range(count)]
    half = count // 2
    if half % 2:
        return [screw for start in _order(half) for screw in (start, start + half)]
    quarter = half // 2
    return [screw for s in _order(quarter) for screw in (s, s + half, s + quarter, s + half + quarter)]


def number_at_each_screw(order: tuple[int, ...]) -> tuple[int, ...]:
    """The other way to print an order: the turn written at each screw, clockwise; the inverse permutation.

    Equal to the order itself at 4, 8 and 16 screws, different at 6, 12, 20 and 24.

    Source: KNM Hydraulikk, Bolt tightening: why the sequence matters, on ASME PCC-1-2019 (two conventions).

    >>> number_at_each_screw(tightening_order(6))
    (1, 3, 5, 2, 4, 6)
    """
    turn_of = {screw: turn for turn, screw in enumerate(order, start=1)}
    return tuple(turn_of[screw] for screw in range(1, len(order) + 1))


_SIZE: Final = 400
_RING: Final = 160.0
_LETTERS: Final = 19
"""Size of the words in the drawing, which a phone shows nine tenths as large."""


def pattern_svg(screw_count: int, is_crossing: bool = True) -> str:
    """The lid seen from above as SVG: at each screw, in a circle, the turn at which it is tightened.

    In a crossing pass the turns follow the order; in a pass that is not, they go once round. No other figure is in it:
    numbers of the screws beside their turns would be taken for them. Strokes and figures in the colour of the text
    around them, so that it reads without colour, in print and on a dark page. Raises InputError outside 2 to 32 screws.

    >>> pattern_svg(4).count("<circle")
    5
    """
    order = tightening_order(screw_count)
    if not is_crossing:
        order = tuple(range(1, screw_count + 1))
    listed = "-".join(str(screw) for screw in order)
    middle = _SIZE / 2
    hole = min(26.0, 0.42 * 2 * _RING * sin(pi / screw_count))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_SIZE} {_SIZE}" role="img" '
        f'aria-label="{screw_count} screws, numbered clockwise from the top, tightened in the order {listed}" '
        'font-family="sans-serif" text-anchor="middle" fill="currentColor">',
        "<title>The figure at each screw is its turn</title>",
        f'<circle cx="{middle:g}" cy="{middle:g}" r="{_RING + hole + 6:.1f}" fill="none" stroke="currentColor"/>',
    ]
    for screw, turn in enumerate(number_at_each_screw(order), start=1):
        angle = 2 * pi * (screw - 1) / screw_count
        x, y = middle + _RING * sin(angle), middle - _RING * cos(angle)
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{hole:.1f}" fill="none" stroke="currentColor" stroke-width="2"/>'
            f'<text x="{x:.1f}" y="{y + 0.36 * 1.15 * hole:.1f}" font-size="{1.15 * hole:.1f}" font-weight="bold">'
            f"{turn}</text>"
        )
    below = "crossing" if is_crossing else "once round"
    for line, text in enumerate(("tighten 1, 2, 3 ...", f"as written: {below}")):
        y = middle - 4 + 1.4 * _LETTERS * line
        parts.append(f'<text x="{middle:g}" y="{y:g}" font-size="{_LETTERS}">{text}</text>')
    parts.append("</svg>")
    return "".join(parts)
