"""The units that are taken, from the list that reads them."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.known_units import A_SHARE, KNOWN
from bevelbook.declare.units import Unit
from bevelbook.display.begun import begun
from bevelbook.display.format import SHOWN_UNIT
from bevelbook.manual.contents import Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.reading.units import AMBIGUOUS, DYNAMIC_VISCOSITY, WEIGHT_NUMBERS

_MARKS: Final = frozenset('"″')
"""Spellings too small to head a list entry."""


def units_page() -> ManualPage:
    """Everything that is measured with the units it is kept in and the spellings that are taken, and what is refused.

    Those of plugins are there too, as far as a registry was loaded.
    """
    return ManualPage(
        "units",
        "Units",
        "Type any of these; the value is kept in the unit of the heading. A number without a unit is in that unit.",
        (*(_section(units) for units in KNOWN.by_about.values()), _refused()),
    )


def _section(units: tuple[Unit, ...]) -> Section:
    words = units[0].quantity
    kept = [SHOWN_UNIT.get(unit.name, unit.name) for unit in _kept(units)]
    where = f"in {_joined(kept)}{', as its field says' if len(kept) > 1 else ''}" if any(kept) else "as a number"
    entries = tuple(_entry(unit, spellings(unit, units)) for unit in _once(units))
    return Section(f"{begun(words)}, kept {where}", (*_what(units), Entries(entries, True)))


def _what(units: tuple[Unit, ...]) -> tuple[Paragraph, ...]:
    if units[0].about == A_SHARE:
        return (
            Paragraph(
                "Only a field that is a share takes a percent sign: one whose name ends in fraction or share, or that "
                "is at most 1. Any other number without a unit is typed alone."
            ),
        )
    origins = dict.fromkeys(origin for unit in units if (origin := KNOWN.origin_of(unit)))
    return (Paragraph(f"From {_joined(list(origins), 'and')}."),) if origins else ()


def _once(units: tuple[Unit, ...]) -> list[Unit]:
    """The units without those that mean the same as one that fields are kept in."""
    return [unit for unit in units if unit.suffix is not None or not any(map(unit.is_same, _kept(units)))]


def _kept(units: tuple[Unit, ...]) -> list[Unit]:
    return [unit for unit in units if unit.suffix is not None]


def _joined(words: list[str], last: str = "or") -> str:
    return f" {last} ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)


def _entry(unit: Unit, words: list[str]) -> ManualEntry:
    """One unit under its name, else under the first spelling that is more than a sign; with how names end in it."""
    first = next(word for word in words if word not in _MARKS)
    others = [word for word in words if word != first]
    ends = f"its fields end in {unit.suffix}" if unit.suffix else ""
    return ManualEntry(first, f"also {', '.join(others)}" if others else "no other spelling", ends)


def spellings(unit: Unit, units: tuple[Unit, ...]) -> list[str]:
    """The ways to write a unit, its name first; where a sign joins two words, a blank does as well. A unit that fields
    are kept in has those of others that mean the same.

    >>> spellings(Unit("mph", "a speed", 0.44704, any_case="miles·per·hour"), ())
    ['mph', 'miles per hour']
    """
    same = [one for one in units if unit.suffix is not None and one.is_same(unit)]
    words = dict.fromkeys(word for one in (unit, *same) for word in (one.name, *one.spellings))
    return [word.replace("·", " ") if word.startswith(("deg", "cu·")) or "·per·" in word else word for word in words]


def _refused() -> Section:
    two_meanings = [
        ManualEntry(", ".join(words), f"For {KNOWN.by_name[unit].about}: it has two meanings, {meaning}.")
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
