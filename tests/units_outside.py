"""Units as two outsiders know them: pint, and the tables of The Unified Code for Units of Measure (UCUM)."""

from __future__ import annotations

import re
from functools import cache
from typing import Any, Final

import pint

from bevelbook.declare.known_units import A_SHARE, KNOWN
from bevelbook.declare.units import Unit

ATOMS: Final = {
    "g": "gram",
    "m": "meter",
    "s": "second",
    "K": "kelvin",
    "rad": "radian",
    "1": "dimensionless",
    "%": "percent",
    "N": "newton",
    "Pa": "pascal",
    "J": "joule",
    "W": "watt",
    "A": "ampere",
    "V": "volt",
    "St": "centimeter**2/second",
    "Cel": "delta_degC",
    "deg": "degree",
    "min": "minute",
    "h": "hour",
    "[mi_i]": "mile",
}
"""UCUM, version 2.1, 2017: its tables of units."""
PREFIXES: Final = {"": 1.0, "k": 1e3, "c": 1e-2, "m": 1e-3}
"""The same, table of prefixes."""


@cache
def registry() -> Any:
    """Made once: it takes half a second."""
    return pint.UnitRegistry()


def size_in_ucum(code: str) -> Any:
    """What a code of UCUM means, as a quantity of pint. An annotation in braces changes nothing (2.2)."""
    assert re.fullmatch(r"[!-~]+", code), "UCUM is written in ASCII, without blanks (2.1)"
    size, sign, inside = registry().Quantity(1.0, "dimensionless"), 1, 1
    for piece in re.findall(r"\{[a-z]+\}|\[[a-z_]+\]|[./()]|[^./{}()\[\]]+", code):
        if piece in "./":
            sign = -inside if piece == "/" else inside
        elif piece == "(":
            inside = sign
        elif piece == ")":
            inside = 1
        elif not piece.startswith("{"):
            found = re.fullmatch(r"(\[[a-z_]+\]|%|1|[A-Za-z]+?)(-?[0-9]*)", piece)
            assert found, code
            size *= _atom(found[1]) ** (sign * int(found[2] or 1))
    return size


def _atom(name: str) -> Any:
    if name in ATOMS:
        return registry().Quantity(1.0, ATOMS[name])
    return registry().Quantity(PREFIXES[name[0]], ATOMS[name[1:]])


PINT_NAMES: Final = {
    "K": "kelvin",
    "μm": "micrometer",
    "in": "inch",
    "ct": "carat",
    "cSt": "centistokes",
    "grain": "grain",
    "K^-1": "1/kelvin",
    "1/°F": "1/delta_degF",
    "%/K": "percent/kelvin",
    "ppm/K": "ppm/kelvin",
    "%": "percent",
    "1": "dimensionless",
    "runs": "dimensionless",
    "g/run": "gram",
    "mg/run": "milligram",
    "s/run": "second",
    "ms/run": "millisecond",
    "g/reading": "gram",
    "mg/reading": "milligram",
    "rpm": "revolution/minute",
    "rps": "revolution/second",
    "deg/s": "degree/second",
    "1/min": "revolution/minute",
    "mmHg": "millimeter_Hg",
    "inHg": "inch_Hg",
    "lbf·in": "pound_force*inch",
    "lbf·ft": "pound_force*foot",
    "ozf·in": "ounce_force*inch",
    "kgf·cm": "kilogram_force*centimeter",
    "gf·cm": "gram_force*centimeter",
    "kgf/cm2": "kilogram_force/centimeter**2",
    "kgf": "kilogram_force",
    "lbf": "pound_force",
    "mph": "mile/hour",
    "ft/s": "foot/second",
    "cal/(g·K)": "calorie/(gram*kelvin)",
}
"""How pint writes our units where it is not as we do; a run and a reading are counted, not measured."""


def pint_name(unit: Unit) -> str:
    """What pint calls a unit; a difference of temperature has no zero there."""
    if unit.about == "a difference of temperature":
        return {"Δ°C": "delta_degC", "°F": "delta_degF", "K": "kelvin"}[unit.name]
    if unit.about == "a temperature":
        return {"°C": "degC", "°F": "degF", "K": "kelvin"}[unit.name]
    if unit.about == "a percentage":
        return "percent"
    name = PINT_NAMES.get(unit.name, unit.name)
    return re.sub(r"(?<=[a-zA-Z])([23])", r"**\1", name.replace("·", "*"))


def kept_in(unit: Unit) -> str:
    """The canonical unit that values in it are converted to."""
    return A_SHARE if unit.about == A_SHARE else KNOWN.kept_in(unit).name
