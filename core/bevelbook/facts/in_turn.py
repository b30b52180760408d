"""Back-to-back runs of two builds: timed, same day, driver, car and place; and why the others cannot be compared."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import NOTHING
from bevelbook.facts.day_order import place_columns_sql, places_in_day
from bevelbook.facts.lap_times import BEST_FIVE, BEST_LAP, worked_out_words
from bevelbook.facts.runs import RUN_ORDER, runs_of_row
from bevelbook.facts.said_nothing import says_nothing
from bevelbook.facts.sql import Row, rows
from bevelbook.formulas.left_out import (
    BOTH_IN_THE_CAR,
    LEFT_OUT,
    NO_ORDER,
    NO_TIME,
    NONE_LEFT,
    OTHER_TIME,
    RunsLeftOut,
    Why,
    another,
    counted_by_reason,
    lost_oil,
    not_recorded,
)

RUNS: Final = "in_turn.runs"
LABEL_A: Final = "in_turn.label_a"
LABEL_B: Final = "in_turn.label_b"
ALSO_CHANGED: Final = "in_turn.also_changed"
NAMES: Final = frozenset({RUNS, LABEL_A, LABEL_B, ALSO_CHANGED})
"""What a calculator may name in ``same_as`` to be filled for a pair of builds."""

TIMES: Final = {BEST_FIVE: "mean of the best five laps", BEST_LAP: "best lap"}
"""Kinds of time in order of preference; a comparison uses times of one kind."""
ENOUGH: Final = 2
"""Timed runs a side needed to use a kind of time."""

DOUBTFUL_SQL: Final = "CASE {0}.fill_state WHEN 'full' THEN 'no' WHEN 'unknown' THEN 'not known' ELSE 'yes' END"
"""Whether a diff had lost oil in a run, in the words of calculators that take runs."""

_RUNS: Final = f"""
SELECT CASE w.build WHEN :a THEN 'a' ELSE 'b' END AS side, w.build, w.run, {place_columns_sql("r")},
       w.venue, w.grip, p.name AS driver, c.name AS car, w.place, w.best_five_s, w.best_lap_s,
       w.best_five_from, w.best_lap_from, r.tyres, r.changed,
       r.runs, w.runs_before,
       {DOUBTFUL_SQL.format("w")} AS doubtful,
       (SELECT count(*) FROM run_diffs x WHERE x.run = w.run AND x.build IN (:a, :b)) AS in_the_car,
       (SELECT group_concat(said, ', ') FROM (
            SELECT coalesce(x.position, 'with') || ' ' || o.label AS said
            FROM run_diffs x JOIN builds o ON o.id = x.build
            WHERE x.run = w.run AND x.build <> w.build ORDER BY 1, x.id)) AS beside
FROM what_worked w JOIN runs r ON r.id = w.run
LEFT JOIN people p ON p.id = r.driver LEFT JOIN cars c ON c.id = r.car
WHERE w.build IN (:a, :b)
ORDER BY {RUN_ORDER}, w.run_diff
"""
_SAME: Final = {"run_on": "day", "venue": "venue", "driver": "driver", "car": "car", "place": "place in the car"}
"""What two runs have in common that are set against each other."""


class RunInTurn(NamedTuple):
    """One timed run of one of the two: its place in the day, its time, and whether the diff was doubtful."""

    group: str
    order: int
    time_s: float
    day: str
    driver: str | None
    doubtful: str


class InTurn(NamedTuple):
    """What two builds did in turn; ``rows`` is empty if that is not enough to compare them.

    ``timed`` is how many runs of each could be compared: those in turn, without any all that could be with another.
    ``left_out`` are the runs that could not.
    """

    rows: tuple[RunInTurn, ...]
    label_a: str
    label_b: str
    days: tuple[str, ...]
    time: str
    also_changed: str | None
    runs_before: tuple[tuple[float, float], ...]
    """For each build the fewest and the most runs it had done before one of these."""
    timed: tuple[int, int] = (0, 0)
    is_never_in_turn: bool = False
    """Whether both have runs that could be compared, but never on one day, by one driver, in one place of one car."""
    left_out: tuple[RunsLeftOut, ...] = ()


def in_turn(connection: sqlite3.Connection, a: str, b: str) -> InTurn:
    """The timed runs of two builds (by id) that can be compared, and how many cannot, each with its reason.

    A session is one day, venue, driver, car and place of the diff; only sessions that both builds ran in count. Runs
    without their place in the day are left out, since the drift of the day could not be separated from the difference;
    so are runs of a diff that had lost oil by then, or may have.
    """
    labels = {"a": _label(connection, a), "b": _label(connection, b)}
    names = {side: str(label).partition(" (")[0] for side, label in labels.items()}
    lost = _lost(connection, a, b)
    fit: list[Row] = []
    left_out: list[tuple[str, Why, float]] = []
    of_both = rows(connection, _RUNS, {"a": a, "b": b})
    places = places_in_day(row for row in of_both if _why_alone(row, lost) is None)
    for row in of_both:
        why = _why_alone(row, lost) or (NO_ORDER if row["run"] not in places else None)
        if why is None:
            fit.append(row)
        else:
            left_out.append((names[row["side"]], why, runs_of_row(row)))
    fit.sort(key=lambda row: (row["run_on"], places[row["run"]], row["run"]))
    found = [row for shared in _sessions(fit) for row in shared]
    in_sessions = {(row["run"], row["side"]) for row in found}
    left_out += [
        (names[row["side"]], _why_apart(row, fit), runs_of_row(row))
        for row in fit
        if (row["run"], row["side"]) not in in_sessions
    ]
    most = max(TIMES, key=lambda kind: min(_counts([row for row in found if row[kind] is not None])))
    kind = next((kind for kind in TIMES if _enough(found, kind)), None)
    timed = [row for row in found if kind and row[kind] is not None]
    days = _days_in_words(timed)
    left_out += [(names[row["side"]], OTHER_TIME, runs_of_row(row)) for row in found if row[kind or most] is None]
    return InTurn(
        tuple(
            RunInTurn(row["side"], places[row["run"]], row[kind], day, row["driver"], row["doubtful"])
            for row, day in zip(timed, days, strict=True)
            if kind
        ),
        labels["a"],
        labels["b"],
        _sessions_in_words(timed, days),
        _time_in_words(timed, kind) if kind else "",
        _also_changed(timed),
        tuple(_span([row["runs_before"] for row in timed if row["side"] == side]) for side in "ab") if timed else (),
        _counts([row for row in found if row[kind or most] is not None] or fit),
        not found and 0 not in _counts(fit),
        counted_by_reason(left_out),
    )


def _time_in_words(timed: Sequence[Row], kind: str) -> str:
    """The kind of time, and in how many of the runs it is worked out of their laps."""
    made = [words for row in timed if (words := worked_out_words(row, kind))]
    if not made:
        return TIMES[kind]
    of = "" if len(made) == len(timed) else f" in {len(made)} of them"
    return f"{TIMES[kind]} ({made[0]}{of})"


def _counts(found: Sequence[Row]) -> tuple[int, int]:
    return sum(row["side"] == "a" for row in found), sum(row["side"] == "b" for row in found)


def _lost(connection: sqlite3.Connection, a: str, b: str) -> dict[str, Why]:
    """For each of the builds, that it lost oil, and how much."""
    found = rows(connection, "SELECT build, loss_g, oil_in_g FROM build_facts WHERE build IN (?, ?)", (a, b))
    return {row["build"]: lost_oil(row["loss_g"], row["oil_in_g"]) for row in found}


def _why_alone(row: Row, lost: Mapping[str, Why]) -> Why | None:
    """Why a run cannot be compared with any other, whenever it was; None if it can."""
    if row["in_the_car"] > 1:
        return BOTH_IN_THE_CAR
    if row["doubtful"] == "yes":
        return lost[row["build"]]
    if all(row[kind] is None for kind in TIMES):
        return NO_TIME
    return None


def _why_apart(row: Row, fit: Sequence[Row]) -> Why:
    """Why a run is in no session of both: what differs from the nearest run of the other build."""
    others = [one for one in fit if one["side"] != row["side"]]
    if not others:
        return NONE_LEFT
    for name, words in _SAME.items():
        alike = [one for one in others if one[name] == row[name]]
        if not alike:
            return not_recorded(words) if row[name] is None or others[0][name] is None else another(words)
        others = alike
    return another("session")


def known_in_turn(found: InTurn) -> dict[str, tuple[Any, str]]:
    """The same by the names that calculators use, each with its origin in words."""
    left_out = {LEFT_OUT: (tuple(one.advice for one in found.left_out), "")} if found.left_out else {}
    if not found.rows:
        return left_out
    known: dict[str, tuple[Any, str]] = {
        RUNS: ([row._asdict() for row in found.rows], f"{found.time}, on the days on which both ran in turn"),
        LABEL_A: (found.label_a, "first build"),
        LABEL_B: (found.label_b, "second build"),
        **left_out,
    }
    if found.also_changed is not None:
        known[ALSO_CHANGED] = (found.also_changed, "what was noted with these runs")
    return known


def _sessions(found: Sequence[Row]) -> Iterator[list[Row]]:
    by_session: dict[tuple[Any, ...], list[Row]] = {}
    for row in found:
        key = tuple(row[name] for name in _SAME)
        by_session.setdefault(key, []).append(row)
    for session in by_session.values():
        if {row["side"] for row in session} == {"a", "b"}:
            yield session


def _enough(found: Sequence[Row], kind: str) -> bool:
    return all(sum(row["side"] == side and row[kind] is not None for row in found) >= ENOUGH for side in "ab")


def _days_in_words(timed: Sequence[Row]) -> list[str]:
    """The day and venue of each run; car and place too where one driver had the two in more than one."""
    cars: dict[tuple[Any, ...], set[tuple[Any, ...]]] = {}
    for row in timed:
        day = tuple(row[name] for name in ("run_on", "venue", "driver"))
        cars.setdefault(day, set()).add((row["car"], row["place"]))
    several = {day for day, of_day in cars.items() if len(of_day) > 1}
    return [
        ", ".join(
            str(row[name])
            for name in (
                ("run_on", "venue", "car", "place")
                if tuple(row[one] for one in ("run_on", "venue", "driver")) in several
                else ("run_on", "venue")
            )
            if row[name]
        )
        for row in timed
    ]


def _sessions_in_words(timed: Sequence[Row], days: Sequence[str]) -> tuple[str, ...]:
    """Each session in words, with its driver and grip."""
    grips: dict[str, list[str]] = {}
    for row, day in zip(timed, days, strict=True):
        session = f"{day}, {row['driver']}" if row["driver"] else day
        grips.setdefault(session, []).append(row["grip"] or "not noted")
    return tuple(f"{session}, {' and '.join(dict.fromkeys(noted))} grip" for session, noted in grips.items())


def _also_changed(timed: Sequence[Row]) -> str | None:
    """What differs between the sides besides the build; "nothing" if every run says so; None if unknown."""
    differences = []
    for name, words in (("tyres", "tyres"), ("beside", "other diffs in the car")):
        sides = [{row[name] for row in timed if row["side"] == side} for side in "ab"]
        if sides[0] != sides[1]:
            differences.append(f"{words} ({_listed(sides[0])} against {_listed(sides[1])})")
    noted = {row["changed"] for row in timed}
    differences += sorted(one for one in noted if one and not says_nothing(one))
    if differences:
        return "; ".join(differences)
    return NOTHING if timed and all(map(says_nothing, noted)) else None


def _listed(values: set[str | None]) -> str:
    return ", ".join(sorted(value or "not noted" for value in values))


def _span(values: Sequence[float]) -> tuple[float, float]:
    return min(values), max(values)


def _label(connection: sqlite3.Connection, build: str) -> str:
    row = rows(
        connection,
        "SELECT b.label, f.label AS fluid, k.viscosity_cst FROM builds b JOIN build_facts k ON k.build = b.id "
        "LEFT JOIN fluids f ON f.id = b.fluid WHERE b.id = ?",
        (build,),
    )[0]
    cst = None if row["viscosity_cst"] is None else f"{row['viscosity_cst']:,.0f} cSt"
    oil = ", ".join(part for part in (row["fluid"], cst) if part)
    return f"{row['label']} ({oil})" if oil else str(row["label"])
