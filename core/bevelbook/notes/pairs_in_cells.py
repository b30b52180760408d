"""Labels of oil such as 7k/10k, which may be the oils of front and rear in one cell."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.late_pattern import late_pattern

OIL_LABEL: Final = "fluid"
PAIRS_IN_CELLS: Final = "pairs_in_cells"
_PAIR: Final = late_pattern(r"[^/]*\d[^/]*/[^/]*\d[^/]*")


def is_pair(label: str) -> bool:
    """Whether a label looks like two, with a digit each.

    >>> is_pair("7k/10k"), is_pair("7k/10k 60/40"), is_pair("w/ 7k")
    (True, False, False)
    """
    return _PAIR.fullmatch(label) is not None
