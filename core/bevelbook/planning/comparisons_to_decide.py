"""Builds that ran in turn and are not decided, where the runs planned for an event may decide them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import Final, NamedTuple

from bevelbook.facts.in_turn import in_turn
from bevelbook.facts.lap_times import is_timed_sql
from bevelbook.facts.places import PLACE
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import rows
from bevelbook.formulas.drift_model import BOTH_TWICE, next_turn
from bevelbook.formulas.lap_standing import compared_runs
from bevelbook.planning.event_to_come import CarToGo
from bevelbook.reports.runs_in_turn import on_track

_SESSIONS: Final = f"""
SELECT DISTINCT x.build, r.run_on, r.venue, r.driver, r.car, {PLACE} AS place
FROM json_each(?) j CROSS JOIN run_diffs x ON x.build = j.value CROSS JOIN runs r ON r.id = x.run
CROSS JOIN builds b ON b.id = x.build CROSS JOIN diffs d ON d.id = b.diff
WHERE {is_timed_sql()}
ORDER BY r.run_on, r.car, place, x.build
"""


class ComparisonToDecide(NamedTuple):
    """Two builds (by id) that ran in turn and are not decided: how many more runs of each may decide it, and in what
    order, such as ``a b b a``. ``runs_planned`` are those of the ``car`` at the event, None where nobody wrote them."""

    a: str
    b: str
    label_a: str
    label_b: str
    car: str
    position: str | None
    more_runs: int
    order: str
    runs_planned: float | None
    words: str


class _PlaceRun(NamedTuple):
    car: str
    position: str | None


def comparisons_to_decide(
    connection: sqlite3.Connection, builds: Sequence[str], cars: Sequence[CarToGo]
) -> tuple[ComparisonToDecide, ...]:
    """The pairs of these builds (by id) that ran in turn in a car that goes and are not decided, the fewest runs first.

    Only where the runs that it still takes, of both together, fit into the runs planned for the car, or where nobody
    wrote how many are planned.
    """
    going = {one.car: one for one in cars}
    found: list[ComparisonToDecide] = []
    for (a, b), place in _ran_together(connection, builds).items():
        if place.car in going:
            found += _still_open(connection, a, b, going[place.car], place.position)
    return tuple(sorted(found, key=lambda one: (one.more_runs, one.label_a, one.label_b)))


def _ran_together(connection: sqlite3.Connection, builds: Sequence[str]) -> dict[tuple[str, str], _PlaceRun]:
    """Pairs of builds that ran on one day, by one driver, in one place of one car, with that place the last time."""
    from json import dumps

    by_session: dict[tuple[object, ...], list[str]] = {}
    for row in rows(connection, _SESSIONS, (dumps(sorted(builds)),)):
        key = tuple(row[name] for name in ("run_on", "venue", "driver", "car", "place"))
        by_session.setdefault(key, []).append(row["build"])
    labels = _labels(connection, builds)
    found: dict[tuple[str, str], _PlaceRun] = {}
    for (*_, car, position), there in by_session.items():
        for one, other in combinations(sorted(there, key=lambda build: (labels[build], build)), 2):
            if car is not None:
                found[one, other] = _PlaceRun(str(car), None if position is None else str(position))
    return found


def _labels(connection: sqlite3.Connection, builds: Sequence[str]) -> Mapping[str, str]:
    from json import dumps

    return dict(
        connection.execute(
            "SELECT b.id, b.label FROM json_each(?) j CROSS JOIN builds b ON b.id = j.value", (dumps(list(builds)),)
        ).fetchall()
    )


def _still_open(
    connection: sqlite3.Connection, a: str, b: str, car: CarToGo, position: str | None
) -> Iterator[ComparisonToDecide]:
    compared = on_track(in_turn(connection, a, b))
    more = None if compared.result is None else compared.result.found.more_runs_needed
    if compared.result is None or not more:
        return
    if car.runs is not None and 2 * more > car.runs:
        return
    turn = " ".join(next_turn(compared_runs(compared.result.given).runs))
    times = more // BOTH_TWICE
    order = turn if times == 1 else f"{turn}, {times} times"
    label_a, label_b = compared.runs.label_a, compared.runs.label_b
    planned = "how many runs are planned is not written down" if car.runs is None else f"{count_of(car.runs)} planned"
    where = f"at the {position} of {car.name}" if position else f"in {car.name}"
    yield ComparisonToDecide(
        a,
        b,
        label_a,
        label_b,
        car.name,
        position,
        more,
        order,
        car.runs,
        f"{label_a} (a) against {label_b} (b): {more} more runs of each may decide it, on one day, by one driver, "
        f"{where}, in the order {order}; {planned}",
    )
