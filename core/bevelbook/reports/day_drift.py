"""The lap times of a day in order, with the drift line of each driver."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any, Final

from bevelbook.declare.vocabulary import FILL_STATES
from bevelbook.facts.day_order import first_run_first, how_many_placed_sql, place_columns_sql, places_in_day
from bevelbook.facts.in_turn import ENOUGH, TIMES
from bevelbook.facts.lap_times import (
    BEST_LAP,
    best_five_sql,
    best_lap_sql,
    is_timed_sql,
    lap_columns_sql,
    worked_out_words,
)
from bevelbook.facts.sql import rows as rows_of
from bevelbook.formulas.drift_model import drift_of
from bevelbook.formulas.timed_runs import TimedRun
from bevelbook.reports.oils_in_runs import LOST_OIL
from bevelbook.stats.least_squares import Interval
from bevelbook.stats.spread import mean

Row = Mapping[str, Any]
Rows = Sequence[Row]

LONGEST_NAME: Final = 16
_TIMED: Final = f"""
SELECT r.id AS run, {place_columns_sql()},
       v.name AS venue, p.name AS driver, {lap_columns_sql()},
       (SELECT group_concat(label, ' + ') FROM (
            SELECT b.label FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.run = r.id
            ORDER BY x.position, b.label, b.id)) AS builds,
       (SELECT group_concat(DISTINCT w.fill_state) FROM what_worked w WHERE w.run = r.id) AS doubts
FROM runs r LEFT JOIN venues v ON v.id = r.venue LEFT JOIN people p ON p.id = r.driver
WHERE {is_timed_sql()} AND r.run_on = ? ORDER BY {first_run_first()}
"""
_LAST_DAYS: Final = tuple(
    f"SELECT d.run_on FROM runs d WHERE {time} IS NOT NULL "
    f"GROUP BY d.run_on HAVING {how_many_placed_sql('d')} >= 4 ORDER BY d.run_on DESC LIMIT 1"
    for time in (best_five_sql("d"), best_lap_sql("d"))
)
"""The last day with four runs of each kind of time."""


def drift_of_day(connection: sqlite3.Connection, day: str) -> list[Row]:
    """The timed runs of a day, as :func:`day_with_drift` has them."""
    return list(day_with_drift(rows_of(connection, _TIMED, (day,))))


def drift_of_last_day(connection: sqlite3.Connection) -> list[Row]:
    """The same of the last day that has four timed runs or more whose place in the day is known."""
    last = [row[0] for asked in _LAST_DAYS if (row := connection.execute(asked).fetchone()) is not None]
    return drift_of_day(connection, max(last)) if last else []


def day_and_venue(rows: Rows) -> str:
    """Which day the rows are of, and where."""
    return ", ".join(part for part in (rows[0]["run_on"], rows[0]["venue"]) if part) + "."


def day_with_drift(rows: Rows) -> Iterator[Row]:
    """The runs of a day, driver by driver, with the drift line of each set of builds in the car; a run whose place in
    the day is not known is left out.

    The drift is that of two builds compared: one slope for the driver, with a level for each set of builds, from the
    runs on diffs that are not doubtful. So is the time, ``time_s``: the mean of the best five laps where two runs of
    the day have it, else the best lap; the two are never mixed, and a run without that one is left out.
    """
    counts = {one: sum(row[one] is not None for row in rows) for one in TIMES}
    time = next((one for one in TIMES if counts[one] >= ENOUGH), max(TIMES, key=counts.__getitem__))
    same = [row for row in rows if row[time] is not None]
    places = places_in_day(same)
    placed = [
        {**row, "day_order": places[row["run"]], "time_s": row[time], "time": _which_time(row, time)}
        for row in same
        if row["run"] in places
    ]
    by_time = ", by best lap" if time == BEST_LAP else ""
    by_driver = sorted(placed, key=lambda row: (row["driver"] or "", row["day_order"]))
    for panel_order, (driver, group) in enumerate(groupby(by_driver, lambda row: row["driver"] or "")):
        runs = [{**row, "fill_state": _worst(row["doubts"])} for row in group]
        counted = [row for row in runs if row["fill_state"] not in LOST_OIL]
        timed = [TimedRun(group=row["builds"] or "", order=row["day_order"], time_s=row["time_s"]) for row in counted]
        drift = drift_of(timed) if timed else None
        lines = _lines(counted, drift)
        left_out, name = len(runs) - len(counted), _cut(driver) or "driver not recorded"
        for place, row in enumerate(runs):
            yield {
                **row,
                "panel": f"{name}, {_count(len(counted), left_out)}{by_time}\n{_drift_in_words(drift)}",
                "panel_order": panel_order,
                "drift_decided": "yes" if drift and drift.decided else "no",
                "line_s": lines.get((row["builds"], row["day_order"])) if row in counted else None,
                "drift_s_per_run": drift.value if drift and place == 0 else None,
                "drift_low_s_per_run": drift.low if drift and place == 0 else None,
                "drift_high_s_per_run": drift.high if drift and place == 0 else None,
            }


def _which_time(row: Row, time: str) -> str:
    """Which kind of time a run has, and that it is worked out of its laps where it is."""
    return ", ".join(part for part in (TIMES[time], worked_out_words(row, time)) if part)


def _worst(states: str | None) -> str:
    return max((states or "unknown").split(","), key=FILL_STATES.index)


def _count(counted: int, left_out: int) -> str:
    words = f"{counted} run{'' if counted == 1 else 's'}"
    return f"{words}, {left_out} left out" if left_out else words


def _drift_in_words(drift: Interval | None) -> str:
    if drift is None:
        return "no drift shown: too few runs that count"
    if not drift.decided:
        return f"no drift shown:\n{drift.low:.3f} to {drift.high:.3f} s a run (95 %)"
    near, far = sorted((abs(drift.low), abs(drift.high)))
    word = "faster" if drift.value < 0 else "slower"
    return f"{abs(drift.value):.3f} s a run {word}\n({near:.3f} to {far:.3f}, 95 %)"


def _lines(runs: Iterable[Row], drift: Interval | None) -> dict[tuple[str | None, int], float]:
    """The drift line by set of builds and run of the day."""
    found: dict[tuple[str | None, int], float] = {}
    sets: dict[str | None, list[Row]] = {}
    for row in runs:
        sets.setdefault(row["builds"], []).append(row)
    for builds, of_set in sets.items():
        if drift is None or len(of_set) < 2:
            continue
        middle, level = mean(row["day_order"] for row in of_set), mean(row["time_s"] for row in of_set)
        found |= {
            (builds, row["day_order"]): round(level + drift.value * (row["day_order"] - middle), 4) for row in of_set
        }
    return found


def _cut(name: str) -> str:
    """A name cut to fit a panel on a phone."""
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def _axis(field: str, title: str, **more: Any) -> dict[str, Any]:
    return {"field": field, "type": "quantitative", "title": title, **more}


_HEADER: Final = {
    "labelExpr": r"split(datum.value, '\n')",
    "labelAnchor": "start",
    "labelAlign": "left",
    "labelLimit": 0,
    "labelPadding": 6,
}
"""The words over a panel, in lines."""
ABOUT: Final = (
    "Mean of the best five laps in order, else the best lap, driver by driver. A line is the drift, as where two "
    "builds are compared: one "
    "slope for a driver, a line for each set of diffs in the car, broken if it is not distinguishable from zero. "
    "Hollow points: a diff was not known to be full; where it was doubtful or had lost oil, the run does not count."
)
ABOUT_OF_DAY: Final = (
    "Mean of the best five laps in order, else the best lap. A line is the drift of a driver, one for each set of "
    "diffs in the car, "
    "broken if it is not distinguishable from zero. Hollow: a diff was not known to be full, or was not."
)
COLUMNS: Final = (
    ("run_on", "Day"),
    ("venue", "Venue"),
    ("driver", "Driver"),
    ("day_order", "Run of the day"),
    ("builds", "Builds"),
    ("fill_state", "Full?"),
    ("time_s", "Time [s]"),
    ("time", "Which time"),
    ("line_s", "On the line [s]"),
    ("drift_s_per_run", "Drift [s/run]"),
    ("drift_low_s_per_run", "From [s/run]"),
    ("drift_high_s_per_run", "To [s/run], 95 %"),
)
COLUMNS_OF_DAY: Final = (
    ("day_order", "Run"),
    ("driver", "Driver"),
    ("time_s", "Time [s]"),
    ("time", "Which time"),
    ("line_s", "On the line [s]"),
    ("fill_state", "Full?"),
    ("builds", "Builds"),
)
"""Those of a page that says the day and the drift beside them."""
SPEC: Final[Mapping[str, Any]] = {
    "facet": {
        "field": "panel",
        "type": "nominal",
        "sort": {"field": "panel_order", "op": "min"},
        "title": None,
        "header": _HEADER,
    },
    "columns": 1,
    "spacing": 18,
    "spec": {
        "width": 800,
        "height": 170,
        "encoding": {
            "x": _axis(
                "day_order",
                "run of the day",
                axis={"tickMinStep": 1, "format": "d"},
                scale={"nice": False, "zero": False, "padding": 12},
            )
        },
        "layer": [
            {
                "transform": [
                    {"calculate": "isValid(datum.line_s)", "as": "lined"},
                    {"calculate": "datum.lined ? datum.line_s : datum.time_s", "as": "line_at_s"},
                ],
                "mark": {"type": "line", "strokeWidth": 1.5},
                "encoding": {
                    "y": _axis("line_at_s", "lap time [s]", scale={"zero": False}),
                    "detail": [{"field": "builds", "type": "nominal"}, {"field": "lined", "type": "nominal"}],
                    "opacity": {"condition": {"test": "datum.lined", "value": 1}, "value": 0},
                    "strokeDash": {
                        "field": "drift_decided",
                        "type": "nominal",
                        "scale": {"domain": ["yes", "no"], "range": [[1, 0], [4, 4]]},
                        "legend": None,
                    },
                },
            },
            {
                "mark": {"type": "point", "size": 70, "opacity": 1, "strokeWidth": 1.5},
                "encoding": {
                    "y": _axis("time_s", "lap time [s]", scale={"zero": False}, axis={"tickCount": 4}),
                    "shape": {"field": "builds", "type": "nominal", "title": "diffs", "legend": {"columns": 1}},
                    "fillOpacity": {"condition": {"test": "datum.fill_state === 'full'", "value": 1}, "value": 0},
                },
            },
        ],
    },
}
