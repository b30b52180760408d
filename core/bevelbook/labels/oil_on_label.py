"""An oil's viscosity on a label: with its temperature and where it comes from."""

from __future__ import annotations

from bevelbook.display.format import format_figure


def cst_words(viscosity_cst: float | None, origin: str | None) -> str:
    """The figure at 25 °C with its origin.

    >>> cst_words(6970.0, "own measurement of the bottle"), cst_words(None, None)
    ('6,970 cSt at 25 °C, own measurement of the bottle', 'cSt not known')
    """
    if viscosity_cst is None:
        return "cSt not known"
    return f"{format_figure(viscosity_cst, 'cSt')} cSt at 25 °C, {origin or 'origin not noted'}"
