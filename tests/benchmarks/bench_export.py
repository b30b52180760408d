"""Export and re-import of a large database against a bare dump and load of its record tables, in turns.

The database is made by an import of a generated sheet (``bench_import.write_mixed``): per build two days of runs, a
weighing and another run. The floor is what Python's own ``csv`` and ``sqlite3`` take to write every record table, by
id, to a CSV file, and to load these into the same tables, which check each row as ours do, with the indexes made after
the rows. Facts, hashes and every other check are left out of it.

Ours are the rows written (``bevelbook export``) and read again into tables with their indexes, every cell and hash
checked (``read_export``); neither has the search. The whole ``bevelbook merge`` of that folder into a new database is
said beside it: it looks at what came from outside as at a stranger's, and works out the facts and the search.

Run by hand:  python tests/benchmarks/bench_export.py [--builds 100000] [--turns 3] [--db FILE]
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.generated_sheets import ROWS_OF_A_BUILD, write_mixed
from benchmarks.measured import Table, Taken, command, empty, ratio, run, together

AT_MOST: Final = 1.5
PEAK_MB: Final = 200
DUMP: Final = """
import csv, sqlite3, sys
from bevelbook.records import KINDS
connection = sqlite3.connect(sys.argv[1])
for table in [kind.table for kind in KINDS if not kind.derived]:
    with open(f"{sys.argv[2]}/{table}.csv", "w", newline="", encoding="utf-8") as file:
        rows = connection.execute(f"SELECT * FROM {table} ORDER BY id")
        out = csv.writer(file)
        out.writerow([column[0] for column in rows.description])
        out.writerows(rows)
"""
LOAD: Final = """
import csv, sqlite3, sys
from bevelbook.records import KINDS
from bevelbook.store.schema import index_sql, table_sql
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("PRAGMA page_size = 8192")
connection.execute("PRAGMA journal_mode = WAL")
connection.execute("BEGIN")
for kind in KINDS:
    connection.execute(table_sql(kind))
for kind in [kind for kind in KINDS if not kind.derived]:
    with open(f"{sys.argv[2]}/{kind.table}.csv", newline="", encoding="utf-8") as file:
        rows = csv.reader(file)
        marks = ", ".join("?" * len(next(rows)))
        values = ([cell or None for cell in row] for row in rows)
        connection.executemany(f"INSERT INTO {kind.table} VALUES ({marks})", values)
    for statement in index_sql(kind):
        connection.execute(statement)
connection.execute("COMMIT")
"""
READ: Final = """
import sys
from pathlib import Path
from bevelbook.interchange.read_export import read_export
read_export(Path(sys.argv[1]), Path(sys.argv[2]), indexed=True)
"""
FACTS: Final = """
import sqlite3, sys
from bevelbook.facts.renew import renew_all
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.row_factory = sqlite3.Row
connection.execute("BEGIN")
renew_all(connection)
connection.execute("COMMIT")
"""
SEARCH: Final = """
import sqlite3, sys
from bevelbook.records import KINDS
from bevelbook.store.schema import search_fill_sql, search_table
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("BEGIN")
for kind in KINDS:
    if kind.searched:
        connection.execute(f"INSERT INTO {search_table(kind)} ({search_table(kind)}) VALUES ('delete-all')")
        connection.execute(search_fill_sql(kind))
connection.execute("COMMIT")
"""


def made(bevelbook: str, folder: Path, builds: int) -> Path:
    """A database with so many builds, with runs and weighings."""
    sheet, db = folder / "season.csv", folder / "season.db"
    write_mixed(sheet, builds * ROWS_OF_A_BUILD)
    run([bevelbook, "--db", str(db), "new"])
    run([bevelbook, "--db", str(db), "import", str(sheet), "--no-rejects", "--json"], allowed=(0, 1))
    sheet.unlink()
    return db


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--builds", type=int, default=100_000)
    parser.add_argument("--turns", type=int, default=3)
    parser.add_argument("--db", type=Path, help="a database that is there, in place of a new one")
    asked = parser.parse_args()
    bevelbook, python, table = command("bevelbook"), sys.executable, Table()
    taken: dict[str, list[Taken]] = {}

    def took(what: str, words: list[str]) -> None:
        one = run(words, allowed=(0, 1))[0]
        taken.setdefault(what, []).append(one)
        print(f"  {what}: {one}", flush=True)

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        season = asked.db or made(bevelbook, folder, asked.builds)
        names = ("bare", "exported", "aside.db", "new.db", "loaded.db")
        bare, exported, aside, new, loaded = (folder / one for one in names)
        for _ in range(asked.turns):
            bare.mkdir()
            empty(new)
            run([bevelbook, "--db", str(new), "new"])
            took("export", [bevelbook, "--db", str(season), "export", str(exported), "--json"])
            took("read again", [python, "-c", READ, str(exported), str(aside)])
            took("bare dump", [python, "-c", DUMP, str(season), str(bare)])
            took("bare load", [python, "-c", LOAD, str(loaded), str(bare)])
            took("merge, all of it", [bevelbook, "--db", str(new), "merge", str(exported), "--json"])
            took("of which facts", [python, "-c", FACTS, str(new)])
            took("of which search", [python, "-c", SEARCH, str(new)])
            empty(aside)
            empty(loaded)
            shutil.rmtree(bare)
    floor = together(taken["bare dump"], taken["bare load"])
    work, size, against = "export and re-import", f"{asked.builds:,} builds", "bare dump and load of the same tables"
    ours = together(taken["export"], taken["read again"])
    table.ratio(f"{work}, without search", size, against, ratio(ours, floor), AT_MOST, AT_MOST)
    whole = together(taken["export"], taken["merge, all of it"])
    table.ratio(f"{work}, facts and search too", size, against, ratio(whole, floor), None, None)
    table.figure(f"{work}, memory", size, "itself", max(one.peak_mb for one in whole), " MB", PEAK_MB)
    table.end()


if __name__ == "__main__":
    main()
