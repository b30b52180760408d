"""Rubbers: whether one suits silicone oil, and how it grows with heat."""

from __future__ import annotations

from typing import Final

from bevelbook.reference import rows

_NOTHING_KNOWN: Final = {
    "unknown": "the rubber is unknown",
    "other": "nothing is known about this rubber",
    "paper": "no value for paper was found",
}


def rubber_caution(material: str) -> str | None:
    """Why a rubber in silicone oil needs care, with the status of that statement; None if it suits."""
    if material in _NOTHING_KNOWN:
        return f"{_NOTHING_KNOWN[material]}: soak a spare one in the oil for weeks and measure it before trusting it"
    row = _row(material)
    if row["in_silicone_oil"] == "suits":
        return None
    name = "silicone rubber" if material == "VMQ" else material
    return f"{name} in silicone oil: {row['in_silicone_oil']}, {row['note']} ({row['status']})"


def rubber_suits(material: str) -> str | None:
    """That a rubber suits silicone oil, with the status of that statement; None if it does not, or is not known."""
    if rubber_caution(material) is not None:
        return None
    row = _row(material)
    note = f"; {row['note']}" if row["note"] else ""
    return f"{material} suits silicone oil ({row['status']}){note}"


def largest_expansion_per_k(material: str) -> float | None:
    """The largest linear expansion that a source gives for a material, per K; None if none is known."""
    wanted = material.strip().lower()
    known = [
        float(row["linear_expansion_per_k"])
        for row in rows("thermal_expansion.csv")
        if row["material"].lower() == wanted
    ]
    return max(known) if known else None


def _row(material: str) -> dict[str, str]:
    return next(row for row in rows("rubber_in_silicone_oil.csv") if row["rubber"] == material)
