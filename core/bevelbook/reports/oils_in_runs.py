"""Runs gathered by the oil in a place of the car, with how each oil did by day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.facts.oil_days import days_kept_of, oil_day
from bevelbook.facts.runs import runs_of_row
from bevelbook.facts.sql import Row
from bevelbook.formulas.oil_days import DaysKept

LOST_OIL: Final = ("doubtful", "lost oil")
"""The fill states of a diff that had lost oil in a run, or may have: such a run says nothing about its oil."""


class OilInRuns(NamedTuple):
    """The diffs in runs with one oil in one place of the car; ``place`` is None where neither the run nor the diff
    says it."""

    place: str | None
    rows: tuple[Row, ...]

    @property
    def by_day(self) -> DaysKept:
        """How they did, by day."""
        return days_kept_of(self.rows)

    @property
    def runs(self) -> float:
        """Runs in all, a note of several counted as so many."""
        return sum(map(runs_of_row, self.rows))

    def of_full_diffs(self) -> OilInRuns:
        """Those of a diff that was known to be full."""
        return self._replace(rows=tuple(row for row in self.rows if row["fill_state"] == "full"))

    def not_known_full(self) -> OilInRuns:
        """The others."""
        return self._replace(rows=tuple(row for row in self.rows if row["fill_state"] != "full"))


def has_lost_oil(row: Mapping[str, Any]) -> bool:
    """Whether the diff had lost oil in this run, or may have."""
    return row["fill_state"] in LOST_OIL


def oils_in_runs(rows: Iterable[Row]) -> list[OilInRuns]:
    """Each oil in each place, front first and the thinnest first, without diffs that had lost oil or whose oil was not
    noted."""
    found: dict[tuple[int, float, str, object], list[Row]] = {}
    for row in rows:
        oil, place = oil_day(row).oil, row["place"]
        if oil is not None and not has_lost_oil(row):
            at = POSITIONS.index(place) if place in POSITIONS else len(POSITIONS)
            thickness = row["viscosity_cst"] if row["viscosity_cst"] is not None else float("inf")
            found.setdefault((at, thickness, row["fluid_label"] or "" if isinstance(oil, str) else "", oil), []).append(
                row
            )
    groups = sorted(found.items(), key=lambda one: one[0][:3])
    return [OilInRuns(of_one[0]["place"], tuple(of_one)) for _, of_one in groups]
