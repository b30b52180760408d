"""The factor of a unit that a plugin adds, from the library pint: for whoever knows a unit by its name alone.

Core's own units, and those that come with it, are written out; the tests hold them to pint.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from bevelbook.declare.errors import DeclarationError, shown


def factor_by_pint(unit: str, base: str) -> float:
    """How many of one unit another is, by their names in the library pint; to 14 digits, since its steps round.

    Raises DeclarationError for a name that pint does not know, two that measure different things, and a scale with a
    zero of its own, such as °F: give factor and offset of that.

    >>> factor_by_pint("knot", "meter/second") * 3600
    1852.0
    """
    import pint

    try:
        pieces = [_library().Quantity(number, unit).to(base).magnitude for number in (0.0, 1.0)]
    except (pint.PintError, AssertionError, AttributeError, TypeError, ValueError) as fault:
        raise DeclarationError(
            f"pint does not turn {shown(unit)} into {shown(base)}: {' '.join(str(fault).split())}",
            code="no_factor_by_pint",
            remedy="Look its name up in the list of units of pint, or write the factor out.",
        ) from fault
    if pieces[0]:
        raise DeclarationError(
            f"{shown(unit)} has a zero of its own, {pieces[0]:.6g} {base}",
            code="no_factor_by_pint",
            remedy="Write out its factor and its offset.",
        )
    return float(f"{pieces[1]:.14g}")


@cache
def _library() -> Any:
    import pint

    return pint.UnitRegistry()
