"""The runs after which nothing was decided, each with its remark first: what to go through in one sitting."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from itertools import groupby
from operator import itemgetter
from typing import Any, Final, NamedTuple

from bevelbook.display.format import format_figure, wrapped
from bevelbook.facts.lap_times import BEST_FIVE, BEST_LAP, worked_out_beside
from bevelbook.facts.places import place_words
from bevelbook.facts.runs import count_of
from bevelbook.facts.said_nothing import says_nothing
from bevelbook.facts.sql import Row
from bevelbook.reports.questions import runs_without_call

LOST: Final = {"doubtful": "may have lost oil", "lost oil": "had lost oil"}
"""What is said of a diff that was not full."""


class DiffInRun(NamedTuple):
    """A diff in a run: its build, where it was, its oil, and whether it was full."""

    build: str
    build_label: str
    place: str
    oil: str
    fill_state: str

    @property
    def words(self) -> str:
        """The same in words."""
        known = "; ".join(part for part in (self.place, self.oil, LOST.get(self.fill_state)) if part)
        return f"{self.build_label} ({known})" if known else self.build_label


class RunWithoutCall(NamedTuple):
    """A run that has no call: its remark, its conditions, and the diffs in the car."""

    run: str
    label: str
    day: str
    venue: str | None
    remark: str | None
    conditions: str
    diffs: tuple[DiffInRun, ...]

    def lines(self) -> Iterator[str]:
        """The run for people, its remark first."""
        yield from wrapped(f"“{self.remark}”" if self.remark else "(no remark)")
        diffs = "; ".join(one.words for one in self.diffs)
        about = ", ".join(part for part in (self.label, self.venue, self.conditions) if part)
        yield from wrapped("; ".join(part for part in (about, diffs) if part), indent="  ")

    def as_dict(self) -> dict[str, Any]:
        """The run for programs."""
        return {
            "run": self.label,
            "id": self.run,
            "day": self.day,
            "venue": self.venue,
            "remark": self.remark,
            "conditions": self.conditions,
            "diffs": [
                {"build": one.build_label, "place": one.place, "oil": one.oil, "fill_state": one.fill_state}
                for one in self.diffs
            ],
        }


def runs_to_decide(
    connection: sqlite3.Connection, wanted: Mapping[str, object] | None = None, most: int | None = None
) -> list[RunWithoutCall]:
    """The runs that have no call, the newest day first; ``wanted`` as in :func:`questions.runs_without_call`."""
    found = runs_without_call(connection, wanted or {}, most)
    return [_run(list(same)) for _, same in groupby(found, key=itemgetter("run"))]


def _run(same: list[Row]) -> RunWithoutCall:
    first = same[0]
    happened = f"happened: {first['happened']}" if first["happened"] and not says_nothing(first["happened"]) else ""
    remark = "; ".join(text for text in (first["note"], happened) if text)
    return RunWithoutCall(
        first["run"],
        first["run_label"],
        first["run_on"],
        first["venue_name"],
        remark or None,
        ", ".join(_conditions(first)),
        tuple(_diff(row) for row in same if row["build"]),
    )


def _diff(row: Row) -> DiffInRun:
    cst = row["viscosity_cst"]
    oil = ", ".join(part for part in (row["fluid_label"], None if cst is None else f"{cst:,.0f} cSt") if part)
    place = place_words(row["place"], row["place_from"])
    return DiffInRun(row["build"], row["build_label"], place, oil, row["fill_state"] or "unknown")


def _conditions(row: Row) -> Iterator[str]:
    if row["grip"]:
        yield f"{row['grip']} grip"
    if row["track_temp_c"] is not None:
        yield f"track {format_figure(row['track_temp_c'], '°C')} °C"
    if row["air_temp_c"] is not None:
        yield f"air {format_figure(row['air_temp_c'], '°C')} °C"
    if row["runs"] not in (None, 1):
        yield count_of(row["runs"])
    for name, words in ((BEST_FIVE, "best five"), (BEST_LAP, "best lap")):
        if row[name] is not None:
            yield f"{words} {format_figure(row[name], 's')} s{worked_out_beside(row, name)}"
            return
