"""A small file, whole process: 300 rows imported, against ``sqlite-utils insert --csv`` of the same file, in turn.

Both write into a new database each time; ours is made beforehand, since a team makes it once. What counts is the
processor's time, which other work on the machine changes least.

Run by hand:  python tests/benchmarks/bench_small_import.py [--rows 300] [--turns 10]
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from pathlib import Path
from shutil import copyfile
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.bench_import import Taken, command, empty, ratios, run, write_fills, write_mixed

AT_MOST: Final = 1.5


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=300)
    parser.add_argument("--turns", type=int, default=10)
    asked = parser.parse_args()
    missed = False
    with tempfile.TemporaryDirectory() as folder:
        fresh, db = Path(folder) / "fresh.db", Path(folder) / "t.db"
        run([command("bevelbook"), "--db", str(fresh), "new"])
        for name, write in (("fills", write_fills), ("mixed", write_mixed)):
            notes = Path(folder) / f"{name}.csv"
            write(notes, asked.rows)
            ours, theirs = list[Taken](), list[Taken]()
            for _ in range(asked.turns):
                empty(db)
                copyfile(fresh, db)
                words = [command("bevelbook"), "--db", str(db), "import", str(notes), "--json", "--no-rejects"]
                ours.append(run(words, allowed=(0, 1))[0])
                empty(db)
                theirs.append(
                    run([command("sqlite-utils"), "insert", str(db), "t", str(notes), "--csv", "--silent"])[0]
                )
            clock, work = ratios(ours, theirs)
            took = " and ".join(
                f"{statistics.median(one.processor_s for one in taken):.2f} s" for taken in (ours, theirs)
            )
            print(f"{name}, {asked.rows} rows: processor {took}, {work:.2f} x (wanted: at most {AT_MOST})")
            print(f"  by the clock {clock:.2f} x; peak {max(one.peak_mb for one in ours):.0f} MB")
            missed |= work > AT_MOST
    if missed:
        sys.exit("slower than wanted")


if __name__ == "__main__":
    main()
