"""Facts worked out again: for the diffs that a transaction touched, or for all, by the same statements.

Joins and sums are SQL, every judgement is a function of ``formulas``. The facts depend only on the records, so they can
be rebuilt at any time; :func:`stale` finds rows that differ from the records.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.facts.diffs import facts_of_diffs
from bevelbook.facts.impossible import impossible_left_out
from bevelbook.facts.leak import weighed_builds
from bevelbook.facts.oil import OIL_IN_G, OIL_JOINS, blended, viscosity_from_sql, viscosity_sql
from bevelbook.facts.openings import FIRST_OPENING
from bevelbook.facts.parts import seal_uses
from bevelbook.facts.runs import ADD_BEYOND, DRIVEN, LAID_OUT, LAY_OUT, runs_of_build_sql, without_noise
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.facts.views import VIEWS
from bevelbook.formulas.leak_rate import RunsToLimit
from bevelbook.formulas.oil_lost import fill_state
from bevelbook.physics.viscosity import viscosity_at_cst
from bevelbook.records import FACTS, Kind

FACTS_VERSION: Final = "11"
"""Raised whenever a definition of a fact changes: the facts of older databases are then worked out again."""
_ALL_FROM_SHARE: Final = 0.5
"""If a larger share of the builds is touched, working all out is quicker."""
_VISCOSITIES_REMEMBERED: Final = 4096
_LEAK_COLUMNS: Final = (
    "weighed_as",
    "weighings",
    "first_mass_g",
    "last_mass_g",
    "weighed_at_runs",
    "loss_g",
    "loss_uncertainty_g",
    "caution_g",
    "stop_g",
    "limit_from",
    "leak",
    "good_until_runs",
    "bad_from_runs",
    "weighings_apart",
    "stop_low_runs",
    "stop_runs",
    "stop_high_runs",
)


class _Scope(NamedTuple):
    """The diffs and builds to work out: FROM items of SQL, and whether these are all.

    ``build_facts`` is the row ``f`` of each build in the database ``where``.
    """

    diffs: str
    builds: str
    run_diffs: str
    build_facts: str
    is_all: bool

    @property
    def of_builds(self) -> str | None:
        """The builds as a subquery with the column ``build``; None for all."""
        return None if self.is_all else f"(SELECT b.id AS build FROM {self.builds})"


_TOUCHED: Final = _Scope(
    "temp.touched",
    "temp.touched t CROSS JOIN builds b ON b.diff = t.diff",
    "temp.touched t CROSS JOIN builds b ON b.diff = t.diff CROSS JOIN run_diffs x ON x.build = b.id",
    "temp.touched t CROSS JOIN builds b ON b.diff = t.diff CROSS JOIN {where}.build_facts f ON f.build = b.id",
    False,
)
_ALL: Final = _Scope(
    f"(SELECT id AS diff FROM diffs WHERE {stands_alone_sql('diff')})",
    "builds b",
    "run_diffs x",
    "{where}.build_facts f",
    True,
)


def renew_touched(connection: sqlite3.Connection) -> None:
    """Work out the facts of the diffs in ``temp.touched``, inside the caller's transaction, and clear that table."""
    touched = connection.execute("SELECT count(*) FROM temp.touched").fetchone()[0]
    if touched:
        connection.execute("DELETE FROM temp.touched WHERE diff IN (SELECT id FROM one_with WHERE kind = 'diff')")
        _renew(connection, _ALL if _are_most(connection) else _TOUCHED, "main")
        connection.execute("DELETE FROM temp.touched")


def renew_all(connection: sqlite3.Connection) -> None:
    """Work out all facts again, inside the caller's transaction."""
    _renew(connection, _ALL, "main")


def _are_most(connection: sqlite3.Connection) -> bool:
    touched, diffs = connection.execute("SELECT (SELECT count(*) FROM temp.touched), count(*) FROM diffs").fetchone()
    return bool(touched >= _ALL_FROM_SHARE * diffs)


def stale(connection: sqlite3.Connection) -> dict[str, int]:
    """How many rows of each table of facts differ from the records. Writes nothing."""
    with worked_out_again(connection) as differing:
        return differing


@contextmanager
def worked_out_again(connection: sqlite3.Connection) -> Iterator[dict[str, int]]:
    """Work all facts out again, without writing: how many rows of each table differ from the records.

    The connection may be read-only: the comparison uses temporary tables. If anything differs, the caller sees these in
    place of the kept ones, directly and through the views.
    """
    shadows: list[str] = []
    for kind in FACTS:
        connection.execute(f"DROP TABLE IF EXISTS temp.{kind.table}")
        connection.execute(f"CREATE TEMP TABLE {kind.table} AS SELECT * FROM main.{kind.table} WHERE 0")
        connection.execute(f"CREATE UNIQUE INDEX temp.{kind.table}_by_key ON {kind.table} ({kind.columns[0]})")
    try:
        _renew(connection, _ALL, "temp")
        differing = {kind.table: _differing(connection, kind) for kind in FACTS}
        if any(differing.values()):
            held = {row[0] for row in connection.execute("SELECT name FROM temp.sqlite_master WHERE type = 'view'")}
            for view in VIEWS:
                if view.name not in held:  # one that is temporary already reads these too
                    connection.execute(f"CREATE TEMP VIEW {view.name} AS {view.sql.strip()}")
                    shadows.append(view.name)
        else:
            _drop_temporary(connection)
        yield differing
    finally:
        for name in shadows:
            connection.execute(f"DROP VIEW temp.{name}")
        _drop_temporary(connection)


def _drop_temporary(connection: sqlite3.Connection) -> None:
    for kind in FACTS:
        connection.execute(f"DROP TABLE IF EXISTS temp.{kind.table}")


def _differing(connection: sqlite3.Connection, kind: Kind) -> int:
    """Rows that differ between ``main`` and ``temp``, and those that only one of them has."""
    key, *others = kind.columns
    here, there = (", ".join(f"{row}.{column}" for column in others) for row in ("m", "t"))
    return int(
        connection.execute(
            f"SELECT (SELECT count(*) FROM main.{kind.table} m LEFT JOIN temp.{kind.table} t ON t.{key} = m.{key} "
            f"WHERE t.{key} IS NULL OR ({here}) IS NOT ({there})) + (SELECT count(*) FROM temp.{kind.table} t "
            f"WHERE NOT EXISTS (SELECT 1 FROM main.{kind.table} m WHERE m.{key} = t.{key}))"
        ).fetchone()[0]
    )


def _renew(connection: sqlite3.Connection, scope: _Scope, where: str) -> None:
    with impossible_left_out(connection):
        _renew_from_records(connection, scope, where)


def _renew_from_records(connection: sqlite3.Connection, scope: _Scope, where: str) -> None:
    _lend_functions(connection)
    _lay_out(connection, "driven", DRIVEN)
    connection.execute(LAY_OUT.format(run_diffs=scope.run_diffs))
    connection.execute(ADD_BEYOND)
    _lay_out_leaks(connection, scope)
    _lay_out_blends(connection, scope)
    if scope.is_all:
        for kind in FACTS:
            connection.execute(f"DELETE FROM {where}.{kind.table}")
    connection.execute(_build_facts_sql(scope, where))
    connection.execute(_run_diff_facts_sql(scope, where))
    columns = len(FACTS[-1].columns)
    uses = seal_uses(connection, scope.diffs)
    connection.executemany(
        f"INSERT OR REPLACE INTO {where}.diff_facts VALUES ({', '.join('?' * columns)})",
        list(facts_of_diffs(connection, scope.diffs, uses)),
    )


def _lend_functions(connection: sqlite3.Connection) -> None:
    """Register the judgements on the writing connection; once, since SQLite refuses it while a query runs."""
    held = {row[0] for row in connection.execute("SELECT name FROM pragma_function_list WHERE name LIKE 'bevelbook%'")}
    if "bevelbook_fill_state" not in held:
        connection.create_function("bevelbook_fill_state", 6, fill_state, deterministic=True)
        connection.create_function("bevelbook_viscosity_at", 2, _viscosity_at, deterministic=True)


@lru_cache(_VISCOSITIES_REMEMBERED)
def _viscosity_at(viscosity_cst: float | None, temperature_c: float | None) -> float | None:
    """Viscosity at a temperature in cSt; None if either is not known, or outside the range of the law."""
    if viscosity_cst is None or temperature_c is None:
        return None
    try:
        return viscosity_at_cst(viscosity_cst, temperature_c)
    except InputError:
        return None


def _lay_out(connection: sqlite3.Connection, table: str, create: str) -> None:
    """An empty temporary table. It is kept for the next time: emptying one is quicker than making it."""
    connection.execute(create)
    connection.execute(f"DELETE FROM temp.{table}")


def _lay_out_leaks(connection: sqlite3.Connection, scope: _Scope) -> None:
    """Put what each weighed build lost into a temporary table."""
    _lay_out(
        connection,
        "leaks",
        "CREATE TEMP TABLE IF NOT EXISTS leaks "
        f"(build TEXT PRIMARY KEY NOT NULL, {', '.join(_LEAK_COLUMNS)}, first_runs, is_sure) WITHOUT ROWID",
    )
    connection.executemany(
        f"INSERT INTO temp.leaks VALUES ({', '.join('?' * (len(_LEAK_COLUMNS) + 3))})",
        _leak_rows(connection, scope.of_builds),
    )


def _leak_rows(connection: sqlite3.Connection, builds: str | None) -> Iterator[tuple[object, ...]]:
    for one in weighed_builds(connection, builds, runs=LAID_OUT):
        loss, limits = one.loss(), one.limits
        yield (
            one.build,
            one.masses[0].mass_basis,
            len(one.masses),
            loss.first_mass_g,
            loss.last_mass_g,
            loss.last_runs,
            loss.loss_g,
            loss.uncertainty_g,
            limits.caution_g,
            limits.stop_g,
            limits.owner,
            loss.verdict,
            loss.good_until_runs,
            loss.bad_from_runs,
            one.apart_in_words(loss),
            *_low_to_high(one.runs_to_stop(loss)),
            loss.first_runs,
            loss.is_sure,
        )


def _low_to_high(reached: RunsToLimit | None) -> tuple[float | None, float | None, float | None]:
    return (None, None, None) if reached is None else (reached.low, reached.runs, reached.high)


def _lay_out_blends(connection: sqlite3.Connection, scope: _Scope) -> None:
    _lay_out(
        connection,
        "blends",
        "CREATE TEMP TABLE IF NOT EXISTS blends (build TEXT PRIMARY KEY NOT NULL, viscosity_cst REAL) WITHOUT ROWID",
    )
    connection.executemany(
        "INSERT INTO temp.blends VALUES (?, ?)",
        list(blended(connection, scope.of_builds)),
    )


def _build_facts_sql(scope: _Scope, where: str) -> str:
    blend = "bl.viscosity_cst"
    return f"""
    INSERT OR REPLACE INTO {where}.build_facts
    SELECT b.id, b.diff, {runs_of_build_sql("b.id", LAID_OUT)}, o.opened_on, o.reason, o.leak_place,
           {viscosity_sql(blend)}, {viscosity_from_sql(blend)}, {OIL_IN_G},
           {", ".join(f"k.{column}" for column in _LEAK_COLUMNS)}
    FROM {scope.builds} {OIL_JOINS}
    LEFT JOIN temp.blends bl ON bl.build = b.id
    LEFT JOIN temp.leaks k ON k.build = b.id
    LEFT JOIN openings o ON o.id = {FIRST_OPENING}
    ORDER BY b.id
    """


def _run_diff_facts_sql(scope: _Scope, where: str) -> str:
    """Build by build, so that its facts are looked up once and not for each run."""
    before = without_noise("n.runs_after - n.runs")
    return f"""
    INSERT OR REPLACE INTO {where}.run_diff_facts
    SELECT n.run_diff, n.build, {before}, n.runs_after,
           CASE WHEN k.build IS NULL THEN 'unknown' ELSE bevelbook_fill_state(
               {before}, n.runs_after, k.first_runs, k.good_until_runs, k.bad_from_runs, k.is_sure) END,
           CASE WHEN n.diff_temp_c IS NOT NULL THEN bevelbook_viscosity_at(f.viscosity_cst, n.diff_temp_c) END
    FROM {scope.build_facts.format(where=where)} LEFT JOIN temp.leaks k ON k.build = f.build
    CROSS JOIN temp.driven n ON n.build = f.build
    ORDER BY n.run_diff
    """
