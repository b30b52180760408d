"""Questions that pages and commands ask: each a function of a read connection."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import GRIPS, POSITIONS, SCREWS_THAT_DO_NOT_HOLD
from bevelbook.display.days import day_in_words
from bevelbook.facts.answered_results import answered_sql
from bevelbook.facts.builds import newest_first
from bevelbook.facts.lap_times import lap_columns_sql
from bevelbook.facts.oil_days import days_kept_of
from bevelbook.facts.places import PLACE, PLACE_FROM
from bevelbook.facts.runs import LAST_RUN_FIRST, RUN_ORDER, RUNS_OF_A_RUN, count_of
from bevelbook.facts.sql import Row, rows
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.facts.views import LATEST_FIRST
from bevelbook.formulas.left_out import NO_GRIP, NO_PLACE, NO_TEMPERATURE, NO_VENUE, RunsLeftOut
from bevelbook.records import Kind
from bevelbook.reports.water_in_housings import with_water
from bevelbook.store.schema import quoted
from bevelbook.store.sqlite_errors import unread_record

_BUILDS: Final = """
SELECT b.id, b.label, b.built_on, b.kind, b.diff, d.label AS diff_label, b.fluid, f.label AS fluid_label,
       k.viscosity_cst, k.viscosity_from, b.dry_mass_g, k.oil_in_g, b.filled_mass_g, b.hand_feel, b.note,
       p.name AS builder, k.runs, k.loss_g, k.loss_uncertainty_g, k.weighed_as, k.weighed_at_runs, k.leak,
       k.good_until_runs, k.weighings_apart, k.opened_on, k.opened_for, k.leak_place
FROM builds b JOIN build_facts k ON k.build = b.id JOIN diffs d ON d.id = b.diff
LEFT JOIN fluids f ON f.id = b.fluid LEFT JOIN people p ON p.id = b.builder
"""
_RUNS: Final = f"""
SELECT r.id AS run, r.label AS run_label, r.run_on, r.day_order, r.venue, v.name AS venue_name, r.grip, r.grip_trend,
       r.track_temp_c, r.air_temp_c, r.runs, {lap_columns_sql()}, r.call, r.happened, r.note,
       x.id AS run_diff, x.position, x.diff_temp_c, x.temp_taken, x.after_run_s, x.second_diff_temp_c,
       x.second_after_run_s, b.id AS build, b.label AS build_label, b.diff, b.fluid,
       f.label AS fluid_label, k.viscosity_cst, n.fill_state, n.runs_before,
       {PLACE} AS place, {PLACE_FROM} AS place_from, k.loss_g, k.oil_in_g
FROM runs r LEFT JOIN run_diffs x ON x.run = r.id LEFT JOIN builds b ON b.id = x.build
LEFT JOIN diffs d ON d.id = b.diff LEFT JOIN run_diff_facts n ON n.run_diff = x.id
LEFT JOIN build_facts k ON k.build = x.build
LEFT JOIN venues v ON v.id = r.venue LEFT JOIN fluids f ON f.id = b.fluid
"""
TEMPERATURE_BANDS_C: Final = (15.0, 25.0, 35.0)
CONDITIONS_OF: Final = 500
"""Newest runs at a venue of which the conditions are counted."""


NEWEST: Final = 2_000
"""Newest runs that a page looks through for those that lack something."""
_NEWEST_RUNS: Final = f"""
(SELECT id, run_on, day_order, started_at, note_line, venue, grip, track_temp_c, runs, call
FROM runs ORDER BY run_on DESC, id DESC LIMIT {NEWEST})
"""


def record(connection: sqlite3.Connection, kind: Kind, row_id: str) -> Row:
    """One row with all its columns. Raises DatabaseError where it cannot be read."""
    found = rows(connection, f"SELECT * FROM {kind.table} WHERE id = ?", (row_id,))
    if not found:
        raise unread_record(kind.name.replace("_", " "))
    return found[0]


def latest_builds(connection: sqlite3.Connection, count: int) -> list[Row]:
    """The newest builds of all diffs."""
    return with_water(connection, rows(connection, f"{_BUILDS} ORDER BY {newest_first('b')} LIMIT ?", (count,)))


def builds_of(connection: sqlite3.Connection, column: str, row_id: str, count: int) -> list[Row]:
    """The newest builds of a diff, fluid or bottle, each with what it lost; ``column`` is a column of builds."""
    where = f"WHERE b.{quoted(column)} = ? ORDER BY {newest_first('b')} LIMIT ?"
    return with_water(connection, rows(connection, f"{_BUILDS} {where}", (row_id, count)))


def build(connection: sqlite3.Connection, build_id: str) -> Row | None:
    """One build with names and with what it lost."""
    found = with_water(connection, rows(connection, f"{_BUILDS} WHERE b.id = ?", (build_id,)))
    return found[0] if found else None


def builds_by_id(connection: sqlite3.Connection, builds: Sequence[str]) -> dict[str, Row]:
    """Builds (by id) with names and with what they lost."""
    marks = ", ".join("?" * len(builds))
    found = rows(connection, f"{_BUILDS} WHERE b.id IN ({marks})", builds)
    return {row["id"]: row for row in with_water(connection, found)}


def runs_of(connection: sqlite3.Connection, column: str, row_id: str, count: int) -> list[Row]:
    """The newest runs of a build, diff, venue or event, or one run: conditions, oil, how it went."""
    of_each = {
        "build": "run_diffs x CROSS JOIN runs r ON r.id = x.run WHERE x.build = ?",
        "diff": "builds b CROSS JOIN run_diffs x ON x.build = b.id CROSS JOIN runs r ON r.id = x.run WHERE b.diff = ?",
    }
    order = f"{LAST_RUN_FIRST}, x.position, x.id"
    if column in of_each:
        newest = f"SELECT x.id, x.run FROM {of_each[column]} ORDER BY {order} LIMIT ?"
        among = "r.id IN (SELECT run FROM newest) AND x.id IN (SELECT id FROM newest)"
        return rows(
            connection,
            f"WITH newest AS MATERIALIZED ({newest}) {_RUNS} WHERE {among} ORDER BY {order}",
            (row_id, count),
        )
    where = {"venue": "r.venue = ?", "event": "r.event = ?", "run": "r.id = ?"}[column]
    return rows(connection, f"{_RUNS} WHERE {where} ORDER BY {order} LIMIT ?", (row_id, count))


def diffs_in_runs(connection: sqlite3.Connection, runs: Sequence[str]) -> dict[str, list[Row]]:
    """The diffs in runs (by id), by the run: those that were noted, by their place in the car."""
    found: dict[str, list[Row]] = {run: [] for run in runs}
    marks = ", ".join("?" * len(found))
    for row in rows(connection, f"{_RUNS} WHERE r.id IN ({marks}) AND x.build IS NOT NULL ORDER BY x.id", [*found]):
        found[row["run"]].append(row)
    for diffs in found.values():
        diffs.sort(key=lambda row: POSITIONS.index(row["place"]) if row["place"] in POSITIONS else len(POSITIONS))
    return found


def runs_by_id(connection: sqlite3.Connection, runs: Sequence[str]) -> dict[str, list[Row]]:
    """Runs (by id) in the order given, each with a row for each diff in the car, or one without a diff."""
    found: dict[str, list[Row]] = {run: [] for run in runs}
    marks = ", ".join("?" * len(found))
    for row in rows(connection, f"{_RUNS} WHERE r.id IN ({marks}) ORDER BY x.position, x.id", [*found]):
        found[row["run"]].append(row)
    return {run: of_run for run, of_run in found.items() if of_run}


def latest_runs(connection: sqlite3.Connection, count: int) -> list[Row]:
    """The newest runs, one row for each diff in the car."""
    return rows(
        connection,
        f"{_RUNS} WHERE r.id IN (SELECT r.id FROM runs r ORDER BY {LAST_RUN_FIRST} LIMIT ?) "
        f"ORDER BY {LAST_RUN_FIRST}, x.position, x.id",
        (count,),
    )


def fittings_of(connection: sqlite3.Connection, build_id: str) -> list[Row]:
    """The seals of a build."""
    return rows(
        connection,
        "SELECT sf.id, sf.place, sf.seal, s.label AS seal_label, sf.condition, sf.state, sf.note FROM seal_fittings sf "
        "LEFT JOIN seals s ON s.id = sf.seal WHERE sf.build = ? ORDER BY sf.place, sf.id",
        (build_id,),
    )


def openings_of(connection: sqlite3.Connection, column: str, row_id: str, most: int = -1) -> list[Row]:
    """Openings of a build or of a diff, newest first; ``most`` is how many, all without it."""
    of_each = {
        "build": "openings o WHERE o.build = ?",
        "diff": "builds b CROSS JOIN openings o ON o.build = b.id WHERE b.diff = ?",
    }
    order = "o.opened_on DESC, o.id DESC"
    return rows(
        connection,
        "SELECT o.*, b.label AS build_label FROM openings o JOIN builds b ON b.id = o.build "
        f"WHERE o.id IN (SELECT o.id FROM {of_each[column]} ORDER BY {order} LIMIT ?) ORDER BY {order}",
        (row_id, most),
    )


class TimesOpened(NamedTuple):
    """How often a diff was opened, and the day on which a screw was first found that does not hold, if any was."""

    times: int
    screw_gone_on: str | None

    @property
    def in_words(self) -> str:
        """As a sentence says it; nothing for a diff that was never opened."""
        if not self.times:
            return ""
        opened = f"opened {counted(self.times, 'time')}"
        if self.screw_gone_on is None:
            return f"{opened}, no bad screw noted"
        return f"{opened}; first screw that did not hold: {day_in_words(self.screw_gone_on)}"


def times_opened(connection: sqlite3.Connection, diff: str) -> TimesOpened:
    """How often a diff was opened, by its id, and when a screw first did not hold any more."""
    gone = ", ".join("?" * len(SCREWS_THAT_DO_NOT_HOLD))
    counting = f"""
    SELECT count(*), min(o.opened_on) FILTER (WHERE o.screws IN ({gone}))
    FROM openings o JOIN builds b ON b.id = o.build WHERE b.diff = ?
    """
    return TimesOpened(*connection.execute(counting, (*SCREWS_THAT_DO_NOT_HOLD, diff)).fetchone())


def bottles_of(connection: sqlite3.Connection, fluid_id: str) -> list[Row]:
    """The bottles of a fluid with their measurements and how many builds used them."""
    return rows(
        connection,
        "SELECT bo.*, (SELECT count(*) FROM builds b WHERE b.bottle = bo.id) AS builds FROM bottles bo "
        "WHERE bo.fluid = ? ORDER BY bo.opened_on DESC, bo.id DESC",
        (fluid_id,),
    )


def calculations_of(connection: sqlite3.Connection, build_id: str) -> list[Row]:
    """The latest calculation of each calculator for a build and for its seals.

    ``answered`` is 1 where the facts answer its question from the current records.
    """
    newest = (
        f"SELECT c.*, {answered_sql()} AS answered, row_number() OVER (PARTITION BY calculator, subject_id "
        f"ORDER BY {LATEST_FIRST}) AS place FROM calculations c"
    )
    return rows(
        connection,
        f"SELECT * FROM ({newest} WHERE subject_table = 'builds' AND subject_id = :build UNION ALL "
        f"{newest} WHERE subject_table = 'seal_fittings' "
        "AND subject_id IN (SELECT id FROM seal_fittings WHERE build = :build)) "
        "WHERE place = 1 ORDER BY calculator, subject_id",
        {"build": build_id},
    )


def calculations_for(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[Row]:
    """The latest calculation of each calculator for a record; no fact answers one of anything but a build."""
    return rows(
        connection,
        "SELECT *, 0 AS answered FROM latest_calculations WHERE subject_table = ? AND subject_id = ? "
        "ORDER BY calculator, id",
        (kind.table, row_id),
    )


def venues(connection: sqlite3.Connection) -> list[Row]:
    """Every venue with the last day there."""
    return rows(
        connection,
        "SELECT v.id, v.name, v.surface, v.indoor, "
        "(SELECT r.run_on FROM runs r WHERE r.venue = v.id ORDER BY r.run_on DESC LIMIT 1) AS last_on "
        f"FROM venues v WHERE {stands_alone_sql('venue', 'v.id')} ORDER BY v.name, v.id",
    )


def runs_at(connection: sqlite3.Connection, venue_id: str) -> int:
    """How many runs were written down at a venue."""
    return int(connection.execute("SELECT count(*) FROM runs WHERE venue = ?", (venue_id,)).fetchone()[0])


def conditions_at(connection: sqlite3.Connection, venue_id: str, newest: int = CONDITIONS_OF) -> list[Row]:
    """What was run at a venue, by grip and band of track temperature: how many, what was decided, which oils.

    What was decided is under ``by_day``, the oils under ``oils``: by place the thinnest and thickest in cSt. Looks
    at the newest ``CONDITIONS_OF`` runs there.
    """
    of_each = f"""
        SELECT r.id AS run, r.run_on, r.grip, r.call, b.diff, b.fluid, k.viscosity_cst, {RUNS_OF_A_RUN} AS runs,
               coalesce(n.fill_state IN ('doubtful', 'lost oil'), 0) AS lost_oil, {PLACE} AS place,
               CASE WHEN r.track_temp_c IS NULL THEN NULL WHEN r.track_temp_c <= {TEMPERATURE_BANDS_C[0]} THEN 0
                    WHEN r.track_temp_c <= {TEMPERATURE_BANDS_C[1]} THEN 1
                    WHEN r.track_temp_c <= {TEMPERATURE_BANDS_C[2]} THEN 2 ELSE 3 END AS band
        FROM (SELECT * FROM runs WHERE venue = ? ORDER BY run_on DESC, id DESC LIMIT ?) r
        LEFT JOIN run_diffs x ON x.run = r.id LEFT JOIN builds b ON b.id = x.build LEFT JOIN diffs d ON d.id = b.diff
        LEFT JOIN build_facts k ON k.build = x.build LEFT JOIN run_diff_facts n ON n.run_diff = x.id
        """
    by_condition: dict[tuple[str | None, int | None], list[Row]] = {}
    for row in rows(connection, of_each, (venue_id, newest)):
        by_condition.setdefault((row["grip"], row["band"]), []).append(row)
    return [_condition(grip, band, by_condition[grip, band]) for grip, band in sorted(by_condition, key=_in_order)]


def _in_order(condition: tuple[str | None, int | None]) -> tuple[int, str, int]:
    """Low grip first, then the coldest; what is not known comes last of grip and first of temperature."""
    grip, band = condition
    return GRIPS.index(grip) if grip in GRIPS else len(GRIPS), grip or "", -1 if band is None else band


def _condition(grip: str | None, band: int | None, of_one: list[Row]) -> Row:
    """One condition, of the diffs in its runs."""
    runs = {row["run"]: row for row in of_one}
    return {
        "grip": grip,
        "band": band,
        "notes": len(runs),
        "runs": sum(row["runs"] for row in runs.values()),
        "without_call": sum(row["call"] is None for row in runs.values()),
        "on_lost_oil": len({row["run"] for row in of_one if row["lost_oil"]}),
        **_oils_of(of_one),
    }


def _oils_of(of_one: list[Row]) -> Row:
    """What was decided in one condition, and the thinnest and thickest oil by place; an unknown place comes last."""
    places: dict[str | None, list[float]] = {}
    for row in of_one:
        if row["viscosity_cst"] is not None:
            places.setdefault(row["place"], []).append(row["viscosity_cst"])
    in_order = sorted(places, key=lambda place: POSITIONS.index(place) if place in POSITIONS else len(POSITIONS))
    return {
        "by_day": days_kept_of(row for row in of_one if not row["lost_oil"]),
        "oils": {place: (min(places[place]), max(places[place])) for place in in_order},
    }


_CONDITIONS: Final = {
    "venue": ("r.venue", "r.venue = :venue", NO_VENUE),
    "grip": ("r.grip", "r.grip = :grip", NO_GRIP),
    "position": (PLACE, f"{PLACE} = :position", NO_PLACE),
    "track_from": ("r.track_temp_c", "r.track_temp_c > :track_from", NO_TEMPERATURE),
    "track_to": ("r.track_temp_c", "r.track_temp_c <= :track_to", NO_TEMPERATURE),
    "track_known": ("r.track_temp_c", "r.track_temp_c IS NOT NULL", NO_TEMPERATURE),
    "grip_known": ("r.grip", "r.grip IS NOT NULL", NO_GRIP),
}
"""What a run may be asked for: the value, the condition, and why a run without the value is left out."""


def runs_like(
    connection: sqlite3.Connection, wanted: Mapping[str, object], most: int, among: Sequence[str] | None = None
) -> list[Row]:
    """Runs that meet every condition given, newest first; ``among`` are the ids of the runs to look at, if not all.

    ``wanted`` may have venue (id), grip, position, track_from and track_to (°C), and track_known and grip_known (true
    for runs that say so at all). A diff whose place the run does not say counts at its usual place.
    """
    given = {name: wanted[name] for name in _CONDITIONS if wanted.get(name) is not None}
    conditions = [_CONDITIONS[name][1] for name in given]
    if among is not None:
        given |= {f"run_{number}": run for number, run in enumerate(among)}
        conditions.append(f"r.id IN ({', '.join(f':run_{number}' for number in range(len(among)))})")
    where = f"WHERE {' AND '.join(conditions)}" if conditions else ""
    return rows(
        connection,
        f"{_RUNS} {where} ORDER BY {LAST_RUN_FIRST}, x.position, x.id LIMIT :most",
        {**given, "most": most},
    )


def conditions_of_runs_like(connection: sqlite3.Connection, wanted: Mapping[str, object], most: int) -> list[Row]:
    """The same runs, each once, with only their grip and track temperature: what it takes to choose among many."""
    given = {name: wanted[name] for name in _CONDITIONS if wanted.get(name) is not None}
    conditions = [_CONDITIONS[name][1] for name in given if name != "position"]
    if "position" in given:
        conditions.append(
            "EXISTS (SELECT 1 FROM run_diffs x JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff "
            f"WHERE x.run = r.id AND {_CONDITIONS['position'][1]})"
        )
    where = f"WHERE {' AND '.join(conditions)}" if conditions else ""
    return rows(
        connection,
        f"SELECT r.id AS run, r.grip, r.track_temp_c FROM runs r {where} ORDER BY {LAST_RUN_FIRST} LIMIT :most",
        {**given, "most": most},
    )


def left_out_of_runs_like(connection: sqlite3.Connection, wanted: Mapping[str, object]) -> tuple[RunsLeftOut, ...]:
    """The runs of diffs that might meet the conditions, but of which one of the values is not known, by reason.

    Looks at the newest ``NEWEST`` runs.
    """
    given = {name: wanted[name] for name in _CONDITIONS if wanted.get(name) is not None}
    if not given:
        return ()
    may_fit = " AND ".join(f"({_CONDITIONS[name][0]} IS NULL OR {_CONDITIONS[name][1]})" for name in given)
    why = " ".join(f"WHEN {_CONDITIONS[name][0]} IS NULL THEN '{name}'" for name in given)
    found = rows(
        connection,
        f"SELECT why, sum(runs) AS runs FROM (SELECT CASE {why} END AS why, {RUNS_OF_A_RUN} AS runs "
        f"FROM {_NEWEST_RUNS} r "
        "LEFT JOIN run_diffs x ON x.run = r.id LEFT JOIN builds b ON b.id = x.build LEFT JOIN diffs d ON d.id = b.diff "
        f"WHERE {may_fit}) WHERE why IS NOT NULL GROUP BY why ORDER BY runs DESC, why",
        given,
    )
    return tuple(RunsLeftOut(row["runs"], "", _CONDITIONS[row["why"]][2]) for row in found)


def runs_without_call(connection: sqlite3.Connection, wanted: Mapping[str, object], most: int | None) -> list[Row]:
    """Diffs in runs that have no call: the newest day first, a day in its order.

    ``wanted`` may name a venue, a diff and an event (ids) and a day, since. With ``most`` it looks at the newest
    ``NEWEST`` runs and gives so many; else at all.
    """
    clauses = {
        "venue": "r.venue = :venue",
        "diff": "r.id IN (SELECT y.run FROM builds c CROSS JOIN run_diffs y ON y.build = c.id WHERE c.diff = :diff)",
        "since": "r.run_on >= :since",
        "event": "r.event = :event",
    }
    given = {name: wanted[name] for name in clauses if wanted.get(name) is not None}
    where = " AND ".join(["r.call IS NULL", *(clauses[name] for name in given)])
    in_order = RUN_ORDER.replace("r.run_on", "r.run_on DESC", 1)
    return rows(
        connection,
        f"{_RUNS} WHERE r.id IN (SELECT r.id FROM {'runs' if most is None else _NEWEST_RUNS} r "
        f"WHERE {where} ORDER BY {in_order} LIMIT :most) "
        f"ORDER BY {in_order}, x.position, x.id",
        {**given, "most": -1 if most is None else most},
    )


class WithoutCall(NamedTuple):
    """How many notes have no call, the runs in them, and whether older ones were not looked at."""

    notes: int
    runs: float
    is_of_newest: bool

    @property
    def how_many(self) -> str:
        """``46 runs``; where notes are of several runs ``31 notes (46 runs)``, as each note has one call."""
        runs = count_of(self.runs)
        return runs if self.notes == self.runs else f"{counted(self.notes, 'note')} ({runs})"

    @property
    def words(self) -> str:
        """The same in words.

        >>> WithoutCall(1, 1.0, False).words, WithoutCall(31, 46.0, True).words
        ('1 run has no call', '31 notes (46 runs) of the newest 2,000 have no call')
        """
        newest = f" of the newest {NEWEST:,}" if self.is_of_newest else ""
        return f"{self.how_many}{newest} {'has' if self.notes == 1 else 'have'} no call"


def count_without_call(connection: sqlite3.Connection) -> WithoutCall:
    """How many of the newest ``NEWEST`` runs have no call."""
    notes, runs, looked_at = connection.execute(
        "SELECT count(*) FILTER (WHERE call IS NULL), "
        f"coalesce(sum({RUNS_OF_A_RUN}) FILTER (WHERE call IS NULL), 0.0), count(*) FROM {_NEWEST_RUNS} r"
    ).fetchone()
    return WithoutCall(notes, float(runs), looked_at == NEWEST)


def rejected_rows(connection: sqlite3.Connection) -> int:
    """How many rows of imported notes were rejected and did not come in corrected since."""
    found = connection.execute(
        "SELECT count(*) FROM note_rejects WHERE status = 'rejected' AND closed_by IS NULL"
    ).fetchone()
    return int(found[0])


def build_labels(connection: sqlite3.Connection, count: int) -> list[str]:
    """Labels of the newest builds, each once."""
    found = connection.execute(f"SELECT label FROM builds ORDER BY {newest_first()} LIMIT ?", (count,))
    return list(dict.fromkeys(row[0] for row in found))
