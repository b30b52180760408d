"""An oil by its label, and its viscosity beside it where the label does not say it."""

from __future__ import annotations


def with_cst(label: str, viscosity_cst: float, shown: str) -> str:
    """A label with the viscosity as it is ``shown``; without it where the label says it in figures.

    >>> with_cst("7,000", 7000.0, "7,000 cSt"), with_cst("club 5000 cSt", 5000.0, "5,000 cSt")
    ('7,000 cSt', 'club 5000 cSt')
    >>> with_cst("second 7k", 6150.0, "6,150 cSt")
    'second 7k (6,150 cSt)'
    """
    if f"{viscosity_cst:.0f}" not in label.replace(",", "").replace("\N{NARROW NO-BREAK SPACE}", "").split():
        return f"{label} ({shown})"
    return label if "cst" in label.lower() else f"{label} cSt"
