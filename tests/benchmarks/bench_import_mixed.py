"""Import of a file of builds, runs and weighings, and of the same file once more, against the peers of bench_import.py.

Of each build its fill, three days of runs with the diff's temperature, and a weighing. What follows from the rows is
worked out with them. The file imported once more adds nothing.

Run by hand:  python tests/benchmarks/bench_import_mixed.py [--rows 100000] [--turns 3] [--peers BIN]
                  [--before BEVELBOOK]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.bench_import import AGAINST, FLAT, PEAK_MB, imported, peer_ways
from benchmarks.generated_sheets import write_mixed
from benchmarks.measured import Table, Taken, add_peers, command, growth, in_turn, peers, ratio

AT_MOST: Final = {"sqlite-utils": (0.6, 0.6), "bare": (10.0, 10.0)}
AGAIN: Final = "the same file again"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--turns", type=int, default=3)
    parser.add_argument("--before", metavar="BEVELBOOK", help="the command of an earlier version")
    add_peers(parser)
    asked = parser.parse_args()
    table, ours = Table(), command("bevelbook")
    with tempfile.TemporaryDirectory() as folder, peers(asked.peers) as bin_folder:
        notes, db, kept = Path(folder) / "mixed.csv", Path(folder) / "t.db", Path(folder) / "kept.db"
        smaller: dict[int, Taken] = {}
        for rows in (asked.rows // 10,):
            write_mixed(notes, rows)
            smaller[rows], _ = imported(ours, notes, db)
            print(f"  {rows:,} rows: {smaller[rows]}", flush=True)
        write_mixed(notes, asked.rows)
        _, report = imported(ours, notes, kept)
        print(f"  {report['accepted']} accepted, {report['rejected']} rejected, made {report['made']}")
        ways = {
            "import": lambda: imported(ours, notes, db)[0],
            AGAIN: lambda: imported(ours, notes, kept, again=True)[0],
        }
        if asked.before is not None:
            ways["before"] = lambda: imported(asked.before, notes, db)[0]
        taken = in_turn({**ways, **peer_ways(notes, db, bin_folder)}, asked.turns)
    work, size = "import of mixed notes", f"{asked.rows:,} rows"
    for other, against in AGAINST.items():
        if other in taken:
            clock, processor = AT_MOST.get(other, (None, None))
            table.ratio(work, size, against, ratio(taken["import"], taken[other]), clock, processor)
    table.ratio(f"{work}, {AGAIN}", size, "its first import", ratio(taken[AGAIN], taken["import"]), None, None)
    table.ratio(
        f"{work}, {AGAIN}", size, AGAINST["sqlite-utils"], ratio(taken[AGAIN], taken["sqlite-utils"]), None, None
    )
    peak_mb = {rows: one.peak_mb for rows, one in smaller.items()}
    peak_mb[asked.rows] = max(one.peak_mb for name in ("import", AGAIN) for one in taken[name])
    table.figure(f"{work}, memory", size, "itself", peak_mb[asked.rows], " MB", PEAK_MB)
    table.figure(
        f"{work}, memory grows", f"{asked.rows // 10:,} to {asked.rows:,} rows", "itself", growth(peak_mb), " x", FLAT
    )
    table.end()


if __name__ == "__main__":
    main()
