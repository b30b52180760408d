"""Two databases that meet, half of their rows in common, against the import of the half that is new, in turns.

Both are made by an import of a generated sheet of note rows (``bench_import.write_mixed``): the first has the first two
thirds of it, the second the last two. What is measured is the whole command, with the look at the file that came from
outside; the import of the new third into the first is the peer. Memory is compared with that of a tenth of the rows.

Run by hand:  python tests/benchmarks/bench_merge.py [--rows 100000] [--turns 3]
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.bench_import import ROWS_OF_A_BUILD, Taken, command, empty, run, write_mixed

AT_MOST: Final = 2.0
MEMORY_AT_MOST: Final = 1.5
"""Times the peak of a tenth of the rows."""


def sheets(folder: Path, rows: int) -> tuple[Path, Path, Path]:
    """The first two thirds of a sheet, the last two, and the last one; of ``rows`` rows each of the first two."""
    whole, third = folder / "whole.csv", rows // 2 // ROWS_OF_A_BUILD * ROWS_OF_A_BUILD
    write_mixed(whole, 3 * third)
    heading, *lines = whole.read_text(encoding="utf-8").splitlines(keepends=True)
    found = []
    for name, chosen in (("first", lines[: 2 * third]), ("last", lines[third:]), ("new", lines[2 * third :])):
        path = folder / f"{name}.csv"
        path.write_text("".join((heading, *chosen)), encoding="utf-8")
        found.append(path)
    whole.unlink()
    return found[0], found[1], found[2]


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


def measured(rows: int, turns: int) -> tuple[list[Taken], list[Taken]]:
    """The meeting and the import of the new third, in turns."""
    bevelbook = command("bevelbook")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sheet, other_sheet, new = sheets(folder, rows)
        first = made(bevelbook, sheet, folder / "first.db")
        other = made(bevelbook, other_sheet, folder / "other.db")
        met, imported = [], []
        for _ in range(turns):
            met.append(turn(bevelbook, first, folder / "t.db", ("merge", str(other))))
            imported.append(turn(bevelbook, first, folder / "t.db", ("import", str(new), "--no-rejects")))
            for what, one in (("merge", met[-1]), ("import of the new half", imported[-1])):
                print(
                    f"  {what}: {one.seconds:.1f} s, processor {one.processor_s:.1f} s, {one.peak_mb:.0f} MB",
                    flush=True,
                )
    return met, imported


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=100_000, help="of each of the two databases")
    parser.add_argument("--turns", type=int, default=3)
    asked = parser.parse_args()
    peaks, missed = {}, False
    for rows in (asked.rows // 10, asked.rows):
        print(f"{rows:,} rows each, half of them in common:")
        met, imported = measured(rows, asked.turns)
        clock = statistics.median(a.seconds / b.seconds for a, b in zip(met, imported, strict=True))
        work = statistics.median(a.processor_s / b.processor_s for a, b in zip(met, imported, strict=True))
        peaks[rows] = max(one.peak_mb for one in met)
        wanted = f" (wanted: at most {AT_MOST})" if rows == asked.rows else ""
        missed |= rows == asked.rows and max(clock, work) > AT_MOST
        print(f"  {clock:.2f} x the import by the clock, {work:.2f} x by the processor{wanted}")
    grown = peaks[asked.rows] / peaks[asked.rows // 10]
    print(
        f"peak {peaks[asked.rows]:.0f} MB, {grown:.2f} x that of a tenth of the rows (wanted: at most {MEMORY_AT_MOST})"
    )
    if missed or grown > MEMORY_AT_MOST:
        sys.exit("slower or larger than wanted")


if __name__ == "__main__":
    main()
