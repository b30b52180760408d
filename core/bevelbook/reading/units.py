"""Units of measurement as they are read: which spellings are taken for a unit, and how each converts to it.

What a person typed is looked up among the spellings of the known units (:mod:`bevelbook.declare.known_units`) and
nowhere else. ``canonical`` is the unit that a field is declared in (:attr:`bevelbook.declare.fields.Field.read_in`).
"""

from __future__ import annotations

from functools import cache
from typing import Final, NamedTuple

from bevelbook.declare.core_units import CORE_UNITS
from bevelbook.declare.errors import InputError, near_misses, shown
from bevelbook.declare.known_units import A_SHARE, KNOWN, OF_CORE
from bevelbook.declare.units import Unit, tidy


class UnitError(InputError):
    """A unit that is not accepted. ``code`` is unit_unknown, unit_not_allowed, unit_ambiguous,
    viscosity_unit_unknown, viscosity_unit_wt or dynamic_viscosity_needs_density."""


class UnitScale(NamedTuple):
    """Converts a value to the canonical unit: ``(value - zero) * factor``."""

    factor: float
    zero: float = 0.0


SAME: Final = UnitScale(1.0)
_PLAIN: Final = "1"
"""The unit of a number that has none."""

DYNAMIC_VISCOSITY: Final = frozenset(
    [
        "cp",
        "cps",
        "p",
        "mpa·s",
        "mpas",
        "pa·s",
        "pas",
        "dpa·s",
        "dpas",
        "ns/m2",
        "n·s/m2",
        "poise",
        "centipoise",
        "centipoises",
        "mpa·sec",
        "pa·sec",
    ]
)
WEIGHT_NUMBERS: Final = frozenset(["wt", "w", "weight"])

_DEGREES: Final = dict.fromkeys(("°", "deg", "degs", "degree", "degrees"), "degrees Celsius (°C) or Fahrenheit (°F)")
AMBIGUOUS: Final[dict[str, dict[str, str]]] = {
    "g": dict.fromkeys(("gr", "grs"), "grams (g) or grains (0.0648 g)"),
    "°C": _DEGREES,
    "Δ°C": _DEGREES,
    "mm": dict.fromkeys(("mil", "mils"), "thousandths of an inch (thou) or millimetres (mm)"),
    "cm3": dict.fromkeys(("fl·oz", "floz", "oz", "ounce", "ounces"), "American or British fluid ounces"),
    "kPa": dict.fromkeys(
        ("psig", "psia", "barg", "bara"),
        "a unit and a zero in one word; write the unit alone, the input says which zero it uses",
    ),
}


def names_unit(canonical: str, text: str) -> bool:
    """Whether the text is an accepted spelling of a unit for that canonical unit."""
    return _found(canonical, tidy(text)) is not None


def ucum_of(unit: str | None) -> str | None:
    """The code of a canonical unit in The Unified Code for Units of Measure; None without a unit, or for one that
    nobody declares any more.

    >>> ucum_of("cSt"), ucum_of("°C"), ucum_of("g/run"), ucum_of(None)
    ('cSt', 'Cel', 'g/{run}', None)
    """
    known = KNOWN.by_name.get(unit or "")
    return known.ucum if known else None


def quantities_named(text: str) -> tuple[str, ...]:
    """The canonical units of which the text is an accepted spelling.

    >>> quantities_named("mg")
    ('g',)
    """
    word = tidy(text)
    return tuple(canonical for canonical in KNOWN.by_name if _found(canonical, word) is not None)


def looks_like_unit(text: str) -> bool:
    """Whether the text is a unit of core at all, even a refused one.

    Those of plugins are left out: no column of notes is kept in one, and a letter such as A names a build there.
    """
    exact, any_case = _words_of_core()
    word = tidy(text)
    low = word.lower()
    return (
        word in exact
        or low in any_case
        or low.replace("-", "·") in any_case
        or low in DYNAMIC_VISCOSITY
        or low in WEIGHT_NUMBERS
        or any(low in words for words in AMBIGUOUS.values())
    )


def refused_spellings(unit: Unit) -> list[str]:
    """The spellings of a unit that are refused for what it measures, whoever brings it."""
    refused = {word for canonical, words in AMBIGUOUS.items() if unit.about == _about(canonical) for word in words}
    if unit.about == _about("cSt"):
        refused |= DYNAMIC_VISCOSITY | WEIGHT_NUMBERS
    return sorted({_folded(word) for word in unit.spellings} & refused)


def _about(canonical: str) -> str:
    return OF_CORE.by_name[canonical].about


def accepted(canonical: str) -> tuple[str, ...]:
    """All accepted spellings for a canonical unit, its own first, for help and documentation."""
    own = KNOWN.meant(canonical)
    words = list(own.spellings) if own else []
    for unit in KNOWN.like(canonical):
        words += unit.spellings
    return tuple(dict.fromkeys(words))


def may_begin_with_one(canonical: str) -> bool:
    """Whether units for a canonical one are written as 1/min or /min, so that a 1 or a stroke behind a number may be
    the beginning of its unit."""
    return canonical in _beginning_with_one()


@cache
def scale_of(canonical: str, text: str) -> UnitScale:
    """How a value in the unit ``text`` converts to the canonical unit. Raises UnitError.

    >>> scale_of("g", "mg").factor
    0.001
    >>> scale_of("°C", "°F")
    UnitScale(factor=0.55555555555556, zero=32.0)
    >>> scale_of("Δ°C", "°F")
    UnitScale(factor=0.55555555555556, zero=0.0)
    """
    word = tidy(text)
    if word in ("", canonical):
        return SAME
    unit, to = _found(canonical, word), KNOWN.meant(canonical)
    if unit is None or to is None:
        raise _refused(canonical, word, text)
    if unit.is_same(to):
        return SAME
    return UnitScale(_clean(unit.factor / to.factor), _clean((to.offset - unit.offset) / unit.factor))


def converted(value: float, scale: UnitScale) -> float:
    """The value in the canonical unit, rounded to 12 significant digits so that 0.0213 kg is 21.3 g.

    >>> converted(0.0213, scale_of("g", "kg"))
    21.3
    """
    if scale is SAME or scale == SAME:
        return value
    return float(f"{(value - scale.zero) * scale.factor:.12g}")


def _folded(word: str) -> str:
    return tidy(word).lower()


@cache
def _lists(canonical: str) -> tuple[dict[str, Unit], dict[str, Unit]]:
    exact: dict[str, Unit] = {}
    any_case: dict[str, Unit] = {}
    for unit in reversed(KNOWN.like(canonical)):
        folded = [_folded(word) for word in unit.any_case.split()]
        any_case.update(dict.fromkeys(folded, unit))
        exact.update(dict.fromkeys(map(tidy, unit.exact.split()), unit))
        if _folded(unit.name) not in folded:
            exact[tidy(unit.name)] = unit
    return exact, any_case


@cache
def _words_of_core() -> tuple[frozenset[str], frozenset[str]]:
    exact = {tidy(word) for unit in CORE_UNITS for word in (unit.name, *unit.exact.split())}
    any_case = {_folded(word) for unit in CORE_UNITS for word in unit.any_case.split()}
    return frozenset(exact), frozenset(any_case)


@cache
def _beginning_with_one() -> frozenset[str]:
    return frozenset(
        canonical
        for canonical in KNOWN.by_name
        if any(word.startswith(("1/", "/")) for unit in KNOWN.like(canonical) for word in unit.spellings)
    )


def _found(canonical: str, word: str) -> Unit | None:
    exact, any_case = _lists(canonical)
    variants = (word, word.replace("-", "·")) if canonical == "N·m" else (word,)
    for one in variants:
        found = exact.get(one) or any_case.get(one.lower())
        if found:
            return found
    return None


def _forget() -> None:
    for kept in (scale_of, _lists, _beginning_with_one):
        kept.cache_clear()


KNOWN.when_changed(_forget)


def _clean(number: float) -> float:
    """Rounded by two digits, since a quotient leaves 999999.9999999999 for a million."""
    return float(f"{number:.14g}") + 0.0


def _refused(canonical: str, word: str, text: str) -> UnitError:
    low = word.lower()
    meanings = AMBIGUOUS.get(canonical, {}).get(low)
    if meanings:
        return UnitError(f"the unit {shown(text)} has two meanings: {meanings}", code="unit_ambiguous")
    if canonical == "cSt" and low in DYNAMIC_VISCOSITY:
        return UnitError(
            f"{shown(text)} is a unit of dynamic viscosity, and cSt is kinematic: they differ by the density",
            code="dynamic_viscosity_needs_density",
            remedy="Divide mPa·s by the density in g/cm3 and give the result in cSt.",
        )
    if canonical == "cSt" and low in WEIGHT_NUMBERS:
        return UnitError(
            f"{shown(text)} is a number on a label and not a unit of viscosity",
            code="viscosity_unit_wt",
            remedy="Give a number in cSt, from the data sheet of the bottle.",
        )
    unit = KNOWN.meant(canonical)
    about = unit.about if unit else f"a number in {canonical}"
    wanted = unit.name if unit else canonical
    if wanted == _PLAIN:
        return _refused_for_plain(about, text)
    others = [KNOWN.by_name[other].about for other in quantities_named(text) if other != canonical]
    if others or low in DYNAMIC_VISCOSITY:
        other = others[0] if others else "a dynamic viscosity"
        return UnitError(
            f"{shown(text)} is a unit of {other}, and {about} is needed", code="unit_not_allowed", wanted=wanted
        )
    return UnitError(
        f"there is no unit {shown(text)}",
        code="viscosity_unit_unknown" if canonical == "cSt" else "unit_unknown",
        wanted=wanted,
        remedy=near_misses(word, accepted(canonical))
        or f"Accepted are {', '.join(accepted(canonical)[:6])} and others.",
    )


def _refused_for_plain(about: str, text: str) -> UnitError:
    """The refusal of a unit behind a number that has none."""
    if about != A_SHARE and names_unit(A_SHARE, text):
        return UnitError(
            f"{shown(text)} is for shares, and {about} is needed",
            code="unit_not_allowed",
            wanted="the number alone",
            remedy="Leave the sign out, or write the share as a number: 0.05 for 5 %.",
        )
    others = [KNOWN.by_name[other].about for other in quantities_named(text)]
    said = f"{shown(text)} is a unit of {others[0]}" if others else f"there is no unit {shown(text)}"
    return UnitError(
        f"{said}, and {about} {'' if about == A_SHARE else 'without a unit '}is needed",
        code="unit_not_allowed" if others else "unit_unknown",
        wanted="a number alone, such as 0.85, or 85 %" if about == A_SHARE else "the number alone",
        remedy="Leave the unit out.",
    )
