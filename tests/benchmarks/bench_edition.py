"""An edition of a large database against SQLite's own VACUUM INTO, in turns, each in a process of its own.

The database is made by an import of a generated sheet (``generated_sheets.write_mixed``): per build two days of runs, a
weighing and another run, each by a person of the team. VACUUM INTO copies all tables, the past and the search; it makes
no facts, no versions, and no order.

Run by hand:  python tests/benchmarks/bench_edition.py [--builds 10000] [--turns 3]
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.bench_import import imported
from benchmarks.generated_sheets import ROWS_OF_A_BUILD, write_mixed
from benchmarks.measured import command, empty, run

VACUUM: Final = """
import sqlite3, sys
sqlite3.connect(sys.argv[1]).execute("VACUUM INTO ?", (sys.argv[2],))
"""
EDITION: Final = """
import sys
from contextlib import closing
from pathlib import Path
from bevelbook.edition.edition_copy import EditionParts, edition_copy
from bevelbook.plugin.registry import load
from bevelbook.store.opened_to_read import open_for_reading
path, target, *without = sys.argv[1:]
parts = EditionParts("people" in without, "days" in without)
with closing(open_for_reading(Path(path))) as connection, edition_copy(connection, Path(path), parts, load()) as copy:
    copy.write_file(Path(target))
"""
WAYS: Final = {
    "VACUUM INTO": (VACUUM,),
    "edition": (EDITION,),
    "edition without people": (EDITION, "people"),
    "edition without people and days": (EDITION, "people", "days"),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--builds", type=int, default=10_000)
    parser.add_argument("--turns", type=int, default=3)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        compare(Path(folder), asked.builds, asked.turns)


def compare(folder: Path, builds: int, turns: int) -> None:
    """Print what each way takes: processor time, the ratio to the first, and the most memory."""
    sheet, team = folder / "sheet.csv", folder / "team.db"
    write_mixed(sheet, builds * ROWS_OF_A_BUILD)
    empty(team)
    imported(command("bevelbook"), sheet, team)
    print(f"{builds} builds, {team.stat().st_size / 1e6:.0f} MB")
    taken: dict[str, list[float]] = {way: [] for way in WAYS}
    peak: dict[str, float] = {}
    for _ in range(turns):
        for way, (script, *options) in WAYS.items():
            target = folder / "out.db"
            target.unlink(missing_ok=True)
            one, _ = run((sys.executable, "-c", script, str(team), str(target), *options))
            taken[way].append(one.processor_s)
            peak[way] = one.peak_mb
    floor = statistics.median(taken["VACUUM INTO"])
    for way, seconds in taken.items():
        median = statistics.median(seconds)
        print(f"{way:34s} {median:7.2f} s  {median / floor:6.1f} x  {peak[way]:5.0f} MB")


if __name__ == "__main__":
    main()
