"""Bytes that a year of a team takes, against the same rows in plain tables.

A year: 50 builds of six diffs, opened and weighed, 400 runs with two diffs each and 200 weighings, each run, build,
weighing and opening entered by itself, as at a bench. The peer holds the same records in the same columns, rows alone:
one table a kind, its id the key, no history, index, search or fact. Both files are closed and measured whole, with
nothing packed afterwards; an empty database, which is its schema and one page a table and index, is said beside it.
All is constructed data.
"""

from __future__ import annotations

import argparse
import sqlite3
import sys
import tempfile
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import Final

from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.schema import quoted
from bevelbook.store.writing import Writer

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.measured import Table

AT_MOST: Final = 3.0
DIFFS: Final = 6
FIRST_DAY: Final = date(2026, 1, 3)


def entered(db: Path, builds: int, runs: int, weighings: int) -> None:
    """A year, each act an entry of its own."""
    new_database(db).close()
    with closing(open_for_writing(db)) as connection:

        def act(asked: str, *records: tuple[str, dict[str, object]]) -> list[str]:
            made: list[str] = []
            with transaction(connection, db, asked=asked, by="ana"):
                writer = Writer(connection, "ana")
                for kind, values in records:
                    made.append(writer.insert(BY_NAME[kind], {**values, **({"run": made[0]} if made else {})}))
            return made

        ana, bo = (act(f"record person {name}", ("person", {"name": name}))[0] for name in ("ana", "bo"))
        venue = act("record venue", ("venue", {"name": "North Quay", "surface": "asphalt"}))[0]
        scale = act("record scale", ("scale", {"name": "bench", "step_g": 0.01}))[0]
        fluid = act(
            "record fluid", ("fluid", {"label": "7,000", "viscosity_cst": 7000.0, "viscosity_source": "bottle"})
        )[0]
        diffs = [act("record diff", ("diff", {"label": f"rear-{'abcdef'[i]}"}))[0] for i in range(DIFFS)]
        held: list[str] = []
        for number in range(builds):
            day = FIRST_DAY + timedelta(days=7 * number)
            values: dict[str, object] = {
                "diff": diffs[number % DIFFS],
                "label": f"rear-{'abcdef'[number % DIFFS]}/{number // DIFFS + 1}",
                "built_on": str(day),
                "builder": (ana, bo)[number % 2],
                "fluid": fluid,
                "viscosity_cst": 7000.0,
                "scale": scale,
                "mass_basis": "closed",
                "dry_mass_g": round(41.2 + number / 100, 2),
                "oil_mass_g": 1.35,
                "filled_mass_g": round(42.55 + number / 100, 2),
                "hand_feel": "smooth",
                "note": "turned by hand until it was even, then closed",
            }
            held.append(act("enter build", ("build", values))[0])
            for turn in range(number * runs // builds, (number + 1) * runs // builds):
                run: dict[str, object] = {
                    "venue": venue,
                    "run_on": str(day + timedelta(days=1)),
                    "day_order": turn % 8 + 1,
                    "label": f"{day + timedelta(days=1)}/{turn % 8 + 1}",
                    "driver": (ana, bo)[turn % 2],
                    "grip": "high",
                    "track_temp_c": 24.5,
                    "air_temp_c": 19.0,
                    "runs": 1.0,
                    "best_lap_s": round(31.2 + turn / 1000, 3),
                    "best_five_s": round(31.9 + turn / 1000, 3),
                    "note": "loose on the way out of the last corner",
                }
                pair = [("run_diff", {"build": one, "diff_temp_c": 38.0 + turn % 9}) for one in held[-2:]]
                act("enter run", ("run", run), *pair)
            for turn in range(number * weighings // builds, (number + 1) * weighings // builds):
                act(
                    "enter weighing",
                    (
                        "weighing",
                        {
                            "build": held[-1],
                            "mass_g": round(42.5 - turn % 4 / 100, 2),
                            "weighed_on": str(day + timedelta(days=turn % 4)),
                            "mass_basis": "closed",
                            "scale": scale,
                            "person": ana,
                        },
                    ),
                )
            if number >= DIFFS:
                act(
                    "enter opening",
                    (
                        "opening",
                        {
                            "build": held[number - DIFFS],
                            "opened_on": str(day),
                            "reason": "leak",
                            "leak_place": "joint",
                            "leak_amount": "damp",
                            "closed_mass_g": 42.4,
                            "person": bo,
                            "note": "a trace of oil at the lid",
                        },
                    ),
                )


def copied(db: Path, plain: Path) -> None:
    """The records of a database in plain tables."""
    with closing(sqlite3.connect(plain)) as connection:
        connection.execute("ATTACH ? AS ours", (str(db),))
        for kind in KINDS:
            if kind.own:
                columns = ["id", *kind.columns]
                names = ", ".join(map(quoted, columns))
                connection.execute(f"CREATE TABLE {kind.table} ({names}, PRIMARY KEY (id)) WITHOUT ROWID")
                connection.execute(f"INSERT INTO {kind.table} SELECT {names} FROM ours.{kind.table} ORDER BY id")
        connection.commit()


def used(db: Path) -> dict[str, int]:
    """Bytes of the pages of each part, by what it is for; empty where this SQLite cannot tell."""
    with closing(sqlite3.connect(db)) as connection:
        try:
            rows = connection.execute("SELECT name, sum(pgsize) FROM dbstat GROUP BY name").fetchall()
        except sqlite3.OperationalError:
            return {}
        indexes = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'index'")}
    found: dict[str, int] = {}
    own = {kind.table for kind in KINDS if kind.own}
    for name, size in rows:
        part = (
            "schema"
            if name == "sqlite_schema"
            else "indexes"
            if name in indexes
            else "search"
            if "_search" in name
            else "records"
            if name in own
            else name
        )
        found[part] = found.get(part, 0) + size
    return dict(sorted(found.items(), key=lambda one: -one[1]))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--builds", type=int, default=50)
    parser.add_argument("--runs", type=int, default=400)
    parser.add_argument("--weighings", type=int, default=200)
    asked = parser.parse_args()
    table = Table()
    with tempfile.TemporaryDirectory() as folder:
        db, empty, plain = (Path(folder) / name for name in ("year.db", "empty.db", "plain.db"))
        entered(db, asked.builds, asked.runs, asked.weighings)
        entered(empty, 0, 0, 0)
        copied(db, plain)
        whole, fixed, bare = (one.stat().st_size for one in (db, empty, plain))
        for name, size in used(db).items():
            print(f"  {name}: {size:,}")
        with closing(sqlite3.connect(db)) as connection:
            print("  free pages:", connection.execute("PRAGMA freelist_count").fetchone()[0])
    size = f"{asked.builds} builds, {asked.runs} runs, {asked.weighings} weighings"
    print(f"  whole {whole:,}, without a record {fixed:,}, plain tables {bare:,} bytes")
    table.figure("a year of a team, whole file", size, "plain tables", whole / bare, " x", AT_MOST)
    table.figure("a year of a team, what it adds", size, "plain tables", (whole - fixed) / bare, " x", AT_MOST)
    table.end()


if __name__ == "__main__":
    main()
