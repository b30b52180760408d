"""``bevelbook check --deep`` against SQLite's own integrity_check and foreign_key_check of the same file, in turns, and
its memory, at two sizes: builds with runs and weighings (``generated_sheets.write_mixed``) and a kept result for each.

Run by hand:  python tests/benchmarks/bench_check_deep.py [--builds 1000 20000] [--turns 1]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.generated_sheets import ROWS_OF_A_BUILD, write_mixed
from benchmarks.measured import Table, Taken, command, growth, in_turn, middle, ratio, run

FLOOR: Final = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1])
assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
"""


def main() -> None:
    """Measure it, and print a row each for time and memory."""
    parser = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    parser.add_argument("--builds", type=int, nargs="+", default=[1_000, 20_000])
    parser.add_argument("--turns", type=int, default=1)
    given = parser.parse_args()
    table, bevelbook = Table(), command("bevelbook")
    costs: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        for builds in given.builds:
            sheet, db = Path(folder) / "season.csv", Path(folder) / f"season-{builds}.db"
            write_mixed(sheet, builds * ROWS_OF_A_BUILD)
            run([bevelbook, "--db", str(db), "new"])
            run([bevelbook, "--db", str(db), "import", str(sheet), "--no-rejects", "--json"], allowed=(0, 1))
            run([bevelbook, "--db", str(db), "calc", "leak-trend", "--all", "build"], allowed=(0, 1))
            sheet.unlink()

            def ours(db: Path = db) -> Taken:
                return run([bevelbook, "--db", str(db), "check", "--deep", "--json"])[0]

            def floor(db: Path = db) -> Taken:
                return run([sys.executable, "-c", FLOOR, str(db)])[0]

            taken = in_turn({"check --deep": ours, "SQLite alone": floor}, given.turns)
            size = f"{builds:,} builds, {db.stat().st_size / 1e6:.0f} MB"
            found = ratio(taken["check --deep"], taken["SQLite alone"])
            table.ratio("`check --deep`", size, "SQLite's own checks", found, None, None)
            one = middle(taken["check --deep"])
            table.figure("the same: processor", size, "nothing", one.processor_s, " s", None)
            table.figure("the same: memory", size, "nothing", one.peak_mb, " MB", None)
            costs[builds] = one.processor_s / builds
    if len(costs) > 1:
        sizes = " to ".join(f"{one:,}" for one in sorted(costs))
        table.figure("the same: processor a build", sizes, "the cheapest size", growth(costs), "", None)
    table.end()


if __name__ == "__main__":
    main()
