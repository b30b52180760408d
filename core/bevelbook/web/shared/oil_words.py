"""An oil in words: its label and its viscosity."""

from __future__ import annotations

from bevelbook.display.oil_names import with_cst
from bevelbook.facts.sql import Row
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.short_text import short


def oil_words(label: str | None, viscosity_cst: float | None) -> str:
    """An oil by its label, and its cSt where the label does not say them.

    >>> oil_words("7,000", 7000.0), oil_words("club 5000", 5000.0)
    ('7,000 cSt', 'club 5000 cSt')
    >>> oil_words("second 7k", 6150.0), oil_words("60 wt", None), oil_words(None, 7000.0)
    ('second 7k (6,150 cSt)', '60 wt', '7,000 cSt')
    """
    cst = figure("viscosity_cst", viscosity_cst, unit=True)
    if not label:
        return cst or "oil not recorded"
    name = short(label, 40)
    if viscosity_cst is None:
        return name
    return with_cst(name, viscosity_cst, cst)


def oil(row: Row) -> str:
    """The oil of a build."""
    return oil_words(row.get("fluid_label"), row.get("viscosity_cst"))
