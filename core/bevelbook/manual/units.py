"""The units that are taken, from the list that reads them."""

from __future__ import annotations

from typing import Final

from bevelbook.display.format import SHOWN_UNIT
from bevelbook.manual.contents import Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.reading.units import AMBIGUOUS, DYNAMIC_VISCOSITY, QUANTITIES, WEIGHT_NUMBERS, Quantity, Spelling

_MARKS: Final = frozenset('"″')
"""Spellings too small to head a list entry."""


def units_page() -> ManualPage:
    """Every quantity with the unit it is kept in and the spellings that are taken, and what is refused."""
    return ManualPage(
        "units",
        "Units",
        "Type any of these; the value is kept in the unit of the heading. A number without a unit is in that unit.",
        (*(_section(unit, quantity) for unit, quantity in QUANTITIES.items()), _refused()),
    )


def _section(unit: str, quantity: Quantity) -> Section:
    about = quantity.about.removeprefix("a ").removeprefix("an ")
    title = f"{about[:1].upper()}{about[1:]}"
    kept = SHOWN_UNIT.get(unit, unit)
    return Section(
        f"{title}, kept in {kept}" if kept else f"{title}, kept as a number",
        (Entries(tuple(_entry(unit, spellings(one)) for one in quantity.spellings), True),),
    )


def _entry(unit: str, words: list[str]) -> ManualEntry:
    """One unit under the spelling that it is kept in, else under the first that is more than a sign."""
    first = unit if unit in words else next(word for word in words if word not in _MARKS)
    others = [word for word in words if word != first]
    return ManualEntry(first, f"also {', '.join(others)}" if others else "no other spelling")


def spellings(one: Spelling) -> list[str]:
    """The ways to write a unit; where a sign joins two words, a blank does as well.

    >>> spellings(Spelling("cubic_inch", "", "cu·in"))
    ['cu in']
    """
    return [
        word.replace("·", " ") if word.startswith(("deg", "cu·")) else word
        for word in (*one.exact.split(), *one.any_case.split())
    ]


def _refused() -> Section:
    two_meanings = [
        ManualEntry(", ".join(words), f"For {QUANTITIES[unit].about}: it has two meanings, {meaning}.")
        for unit, listed in AMBIGUOUS.items()
        for meaning, words in _by_meaning(listed).items()
    ]
    return Section(
        "Never converted",
        (
            Entries(
                (
                    ManualEntry(
                        "dynamic viscosity",
                        "Divide mPa·s by the density in g/cm³ and give the result in cSt.",
                        f"spelt {', '.join(sorted(DYNAMIC_VISCOSITY))}",
                    ),
                    ManualEntry(
                        "number on a label",
                        "Give it as the name of the fluid; the viscosity stays empty until it is known in cSt.",
                        f"spelt {', '.join(sorted(WEIGHT_NUMBERS))}",
                    ),
                    *two_meanings,
                )
            ),
            Paragraph("Each of these is refused with its reason, in an option, a form and a file of notes alike."),
        ),
    )


def _by_meaning(listed: dict[str, str]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for word, meaning in listed.items():
        found.setdefault(meaning, []).append(word)
    return found
