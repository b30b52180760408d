"""Two databases that meet, half of their rows in common, against the import of the half that is new, in turns.

Both are made by an import of a generated sheet of note rows (``bench_import.write_mixed``): the first has the first two
thirds of it, the second the last two. What is measured is the whole command, with the look at the file that came from
outside; the import of the new third into the first is the peer. Memory is compared with that of a tenth of the rows.

Run by hand:  python tests/benchmarks/bench_merge.py [--rows 100000] [--turns 3]
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
from benchmarks.measured import Table, Taken, command, empty, growth, in_turn, ratio, run

AT_MOST: Final = 2.0
MEMORY_AT_MOST: Final = 1.5
"""Times the peak of a tenth of the rows."""


def sheets(folder: Path, rows: int) -> tuple[Path, Path, Path]:
    """The first two thirds of a sheet, the last two, and the last one; of ``rows`` rows each of the first two."""
    whole, third = folder / "whole.csv", rows // 2 // ROWS_OF_A_BUILD * ROWS_OF_A_BUILD
    write_mixed(whole, 3 * third)
    first, last, new = (folder / f"{name}.csv" for name in ("first", "last", "new"))
    with whole.open() as lines, first.open("w") as to_first, last.open("w") as to_last, new.open("w") as to_new:
        heading = next(lines)
        for one in (to_first, to_last, to_new):
            one.write(heading)
        for number, line in enumerate(lines):
            if number < 2 * third:
                to_first.write(line)
            if number >= third:
                to_last.write(line)
            if number >= 2 * third:
                to_new.write(line)
    whole.unlink()
    return first, last, new


def made(bevelbook: str, sheet: Path, db: Path) -> Path:
    """A new database with a sheet."""
    empty(db)
    run([bevelbook, "--db", str(db), "new"])
    run([bevelbook, "--db", str(db), "import", str(sheet), "--no-rejects", "--json"], allowed=(0, 1))
    return db


def turn(bevelbook: str, first: Path, db: Path, words: tuple[str, ...]) -> Taken:
    """A command on a fresh copy of the first database."""
    empty(db)
    shutil.copyfile(first, db)
    return run([bevelbook, "--db", str(db), *words, "--json"], allowed=(0, 1))[0]


def measured(rows: int, turns: int) -> dict[str, list[Taken]]:
    """The meeting and the import of the new third, in turns."""
    bevelbook = command("bevelbook")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sheet, other_sheet, new = sheets(folder, rows)
        first = made(bevelbook, sheet, folder / "first.db")
        other = made(bevelbook, other_sheet, folder / "other.db")
        ways = {
            "merge": lambda: turn(bevelbook, first, folder / "t.db", ("merge", str(other))),
            "import": lambda: turn(bevelbook, first, folder / "t.db", ("import", str(new), "--no-rejects")),
        }
        return in_turn(ways, turns)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=100_000, help="of each of the two databases")
    parser.add_argument("--turns", type=int, default=3)
    asked = parser.parse_args()
    table, peak_mb = Table(), {}
    for rows in (asked.rows // 10, asked.rows):
        print(f"{rows:,} rows each, half of them in common:")
        taken = measured(rows, asked.turns)
        peak_mb[rows] = max(one.peak_mb for one in taken["merge"])
        most = AT_MOST if rows == asked.rows else None
        found = ratio(taken["merge"], taken["import"])
        table.ratio("merge, half in common", f"{rows:,} rows each", "import of the new half", found, most, most)
    size = f"{asked.rows // 10:,} to {asked.rows:,} rows"
    table.figure(
        "merge, half in common, memory", f"{asked.rows:,} rows each", "itself", peak_mb[asked.rows], " MB", None
    )
    table.figure("merge, half in common, memory grows", size, "itself", growth(peak_mb), " x", MEMORY_AT_MOST)
    table.end()


if __name__ == "__main__":
    main()
