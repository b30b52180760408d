"""Import of a file of builds against two peers on the same file, and against an earlier version, in turn in one run.

The peers: ``sqlite-utils insert --csv``, and a bare ``csv`` reader with ``executemany``. Each runs as a process of its
own, into a new database. Only the import checks units and values, gives ids, keeps the file, fills the search and works
out what follows. A tenth and a hundredth of the rows are imported alone, for memory and for what a row costs.

``bench_import_mixed.py`` does the same with a file of builds, runs and weighings.

Run by hand:  python tests/benchmarks/bench_import.py [--rows 1000000] [--turns 2] [--peers BIN] [--before BEVELBOOK]
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.generated_sheets import write_fills
from benchmarks.measured import Table, Taken, add_peers, command, empty, growth, in_turn, peers, ratio, run

AT_MOST: Final = {"sqlite-utils": (0.5, 0.55), "bare": (8.0, 8.0)}
PEAK_MB: Final = 150
FLAT: Final = 2.0
BARE: Final = """
import csv, sqlite3, sys
connection = sqlite3.connect(sys.argv[2])
with open(sys.argv[1], newline="", encoding="utf-8") as file:
    rows = csv.reader(file)
    names = next(rows)
    connection.execute(f"CREATE TABLE notes ({', '.join(names)})")
    connection.executemany(f"INSERT INTO notes VALUES ({', '.join('?' * len(names))})", rows)
connection.commit()
"""
AGAINST: Final = {
    "sqlite-utils": "`sqlite-utils insert --csv`",
    "bare": "bare `csv` + `executemany`",
    "before": "an earlier version",
}


def imported(bevelbook: str, notes: Path, db: Path, *, again: bool = False) -> tuple[Taken, dict[str, object]]:
    """A file imported: into a new database, or once more into the same."""
    if not again:
        empty(db)
        run([bevelbook, "--db", str(db), "new"])
    taken, out = run([bevelbook, "--db", str(db), "import", str(notes), "--json", "--no-rejects"], allowed=(0, 1))
    return taken, json.loads(out)


def peer_ways(notes: Path, db: Path, bin_folder: Path) -> dict[str, Callable[[], Taken]]:
    """Both peers, each into a new database."""

    def way(*words: str) -> Callable[[], Taken]:
        def taken() -> Taken:
            empty(db)
            return run(words)[0]

        return taken

    return {
        "bare": way(str(bin_folder / "python"), "-c", BARE, str(notes), str(db)),
        "sqlite-utils": way(
            str(bin_folder / "sqlite-utils"), "insert", str(db), "notes", str(notes), "--csv", "--silent"
        ),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--turns", type=int, default=2)
    parser.add_argument("--before", metavar="BEVELBOOK", help="the command of an earlier version")
    add_peers(parser)
    asked = parser.parse_args()
    table, ours = Table(), command("bevelbook")
    with tempfile.TemporaryDirectory() as folder, peers(asked.peers) as bin_folder:
        notes, db = Path(folder) / "fills.csv", Path(folder) / "t.db"
        smaller: dict[int, Taken] = {}
        for rows in (asked.rows // 100, asked.rows // 10):
            write_fills(notes, rows)
            smaller[rows], _ = imported(ours, notes, db)
            print(f"  {rows:,} rows: {smaller[rows]}", flush=True)
        write_fills(notes, asked.rows)
        ways = {"import": lambda: imported(ours, notes, db)[0]}
        if asked.before is not None:
            ways["before"] = lambda: imported(asked.before, notes, db)[0]
        taken = in_turn({**ways, **peer_ways(notes, db, bin_folder)}, asked.turns)
    work, size = "import of builds", f"{asked.rows:,} rows"
    for other, against in AGAINST.items():
        if other in taken:
            clock, processor = AT_MOST.get(other, (None, None))
            table.ratio(work, size, against, ratio(taken["import"], taken[other]), clock, processor)
    peak_mb = {rows: one.peak_mb for rows, one in smaller.items()}
    peak_mb[asked.rows] = max(one.peak_mb for one in taken["import"])
    row_us = {rows: one.processor_s / rows * 1e6 for rows, one in smaller.items() if rows >= 10_000}
    row_us[asked.rows] = min(one.processor_s for one in taken["import"]) / asked.rows * 1e6
    sizes = f"{asked.rows // 100:,} to {asked.rows:,} rows"
    table.figure(f"{work}, memory", size, "itself", peak_mb[asked.rows], " MB", PEAK_MB)
    table.figure(f"{work}, memory grows", sizes, "itself", growth(peak_mb), " x", FLAT)
    table.figure(f"{work}, a row", size, "itself", row_us[asked.rows], " µs", None)
    table.figure(f"{work}, a row grows", sizes, "itself", row_us[asked.rows] / min(row_us.values()), " x", FLAT)
    table.end()


if __name__ == "__main__":
    main()
