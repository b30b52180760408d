"""A number with its uncertainty, as people write it: ``12.40 +/- 0.02 g (k = 2)``."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from bevelbook.declare.coverage import COVERAGE_K, EXAMPLE
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.reading.faults import fault

PLUS_MINUS: Final = ("+/-", "+-", "±")
_K: Final = late_pattern(r"(?<![\s,;(\[])[\s,;(\[]*\bk\s*=\s*([^\s)\]]{0,40})\s*(?:[)\]]\s*)?$", re.IGNORECASE)
_KNOWN_K: Final = {"1": 1.0, "1.0": 1.0, "2": 2.0, "2.0": 2.0}


class Measured(NamedTuple):
    """A number with its standard uncertainty (k = 1), or None where none was typed.

    ``k_taken`` says that its ± was typed without a k and was taken as k = 2, as every ± is printed.
    """

    value: float | None
    uncertainty: float | None = None
    k_taken: bool = False


class SplitText(NamedTuple):
    """A text in its parts: the value, the uncertainty behind ± (None without one), and its k (None if not typed)."""

    value: str
    uncertainty: str | None
    k: float | None


def split_measured(field: Field, text: str) -> SplitText:
    """Split a text at its ±. Raises ReadingError for a k that is neither 1 nor 2, or that has no ± before it.

    >>> from bevelbook.declare.fields import quantity, record
    >>> @record
    ... class Mass:
    ...     dry_mass_g: float = quantity("g", "Dry", above=0)
    >>> split_measured(Mass.fields[0], "12.40 ± 0.02 g (k = 2)")
    SplitText(value='12.40 ', uncertainty=' 0.02 g', k=2.0)
    """
    sign = next((one for one in PLUS_MINUS if one in text), None)
    said = _K.search(text) if "=" in text else None
    if sign is None:
        if said is not None and field.kind == "quantity":
            raise fault(field, "number_unparseable", "a k without an uncertainty before it", text, wanted=EXAMPLE)
        return SplitText(text, None, None)
    k = None
    if said is not None:
        k = _KNOWN_K.get(said[1].replace(",", "."))
        if k is None:
            raise fault(
                field,
                "number_unparseable",
                f"the k of an uncertainty is 1 or {COVERAGE_K:g}",
                text,
                wanted=EXAMPLE,
                remedy="Bring the uncertainty to one of the two.",
            )
        text = text[: said.start()]
    before, _, after = text.partition(sign)
    return SplitText(before, after, k)
