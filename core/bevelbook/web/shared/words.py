"""Words in a page: figures with their unit, the beginning of a note, a fault beside its input, an oil."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.declare.fields import UNIT_OF_SUFFIX, Field, suffix_of
from bevelbook.display.format import SHOWN_UNIT, format_number
from bevelbook.facts.sql import Row

NOTE_LENGTH: Final = 160


def figure(name: str, value: float | None, *, unit: bool = False) -> str:
    """A number as its column's name says: digits by its unit, and the unit where asked for.

    >>> figure("viscosity_cst", 7000.0, unit=True), figure("oil_mass_g", None)
    ('7,000 cSt', '')
    """
    if value is None:
        return ""
    suffix = suffix_of(name)
    field = Field(name, "quantity", "", unit=UNIT_OF_SUFFIX[suffix] if suffix else "1")
    text = format_number(value, field) if suffix else f"{value:g}"
    shown = SHOWN_UNIT.get(field.unit or "", field.unit or "") if unit else ""
    return f"{text} {shown}".strip()


def short(text: str | None, length: int = NOTE_LENGTH) -> str:
    """The beginning of a note, on one line."""
    line = " ".join((text or "")[: length * 4].split())
    return line if len(line) <= length else line[:length].rstrip() + "…"


def fault_words(fault: BevelbookError | None) -> str:
    """A fault for a form: its place is seen, so file and field are left out; a plugin's fault keeps its line."""
    if fault is None:
        return ""
    words = fault.in_words() if isinstance(fault, PluginFault) else fault.without_place()
    return words[:1].upper() + words[1:]


def oil_words(label: str | None, viscosity_cst: float | None) -> str:
    """An oil by its label, and its cSt where the label does not say them.

    >>> oil_words("7,000", 7000.0), oil_words("club 5000", 5000.0)
    ('7,000 cSt', 'club 5000 cSt')
    >>> oil_words("second 7k", 6150.0), oil_words("60 wt", None), oil_words(None, 7000.0)
    ('second 7k (6,150 cSt)', '60 wt', '7,000 cSt')
    """
    cst = figure("viscosity_cst", viscosity_cst, unit=True)
    if not label:
        return cst or "oil not said"
    name = short(label, 40)
    if viscosity_cst is None:
        return name
    says_it = f"{viscosity_cst:.0f}" in name.replace(",", "").replace("\N{NARROW NO-BREAK SPACE}", "").split()
    return name if says_it and "cst" in name.lower() else f"{name} cSt" if says_it else f"{name} ({cst})"


def oil(row: Row) -> str:
    """The oil of a build."""
    return oil_words(row.get("fluid_label"), row.get("viscosity_cst"))
