"""What a profile says of cells that hold one value for each place in the car, such as 7k/10k for front and rear."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

BOTH: Final = "both"
"""What a profile says of a cell with one value only: it is that of every place."""


class SplitRule(NamedTuple):
    """``at`` is the sign between the values, ``into`` the places in the order of the values, ``columns`` the headings
    of the columns that are split. ``diffs`` gives the diff of each place where no column is split into them.

    >>> rule = split_rule({"at": "/", "into": ["front", "rear"], "columns": ["Oil"], "diffs": {"front": "F-03"}})
    >>> rule.into, rule.is_for_both, rule.words
    (('front', 'rear'), False, 'front and rear')
    """

    at: str
    into: tuple[str, ...]
    columns: tuple[str, ...]
    is_for_both: bool = False
    diffs: Mapping[str, str] = {}

    @property
    def words(self) -> str:
        """The places in words."""
        return f"{', '.join(self.into[:-1])} and {self.into[-1]}"


def split_rule(said: Mapping[str, Any]) -> SplitRule:
    """The rule from the section of a profile, as settings hold it."""
    return SplitRule(
        said["at"],
        tuple(said["into"]),
        tuple(said["columns"]),
        said.get("alone") == BOTH,
        said.get("diffs", {}),
    )
