"""Figures in a page, with their unit."""

from __future__ import annotations

from bevelbook.declare.fields import Field
from bevelbook.declare.known_units import unit_said_by
from bevelbook.display.format import SHOWN_UNIT, format_number


def figure(name: str, value: float | None, *, unit: bool = False) -> str:
    """A number as its column's name says: digits by its unit, and the unit where asked for.

    >>> figure("viscosity_cst", 7000.0, unit=True), figure("oil_mass_g", None)
    ('7,000 cSt', '')
    >>> figure("runs_to_limit", 30.3238), figure("runs", 3.0)
    ('30.3', '3')
    """
    if value is None:
        return ""
    field = Field(name, "quantity", "", unit=unit_said_by(name) or "1")
    text = format_number(value, field)
    shown = SHOWN_UNIT.get(field.unit or "", field.unit or "") if unit else ""
    return f"{text} {shown}".strip()
