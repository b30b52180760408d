"""Eight phones that enter 200 rows each while four read, the server killed once in between.

Every row has to be stored once, and nobody may see that the database is locked. The server is a process of its own; its
processor time and the waits of the phones are said.

Run by hand:  python tests/benchmarks/bench_entry_load.py [--clients 8] [--rows 200] [--readers 4] [--seed 7]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from entry_load import faults_of, quantile, run_load


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--rows", type=int, default=200)
    parser.add_argument("--readers", type=int, default=4)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        done = run_load(Path(folder), clients=asked.clients, rows=asked.rows, readers=asked.readers, seed=asked.seed)
        faults = faults_of(Path(folder) / "book.db", done)
    waits = done.waits_s
    print(f"{len(done.keys)} rows stored in {done.wall_s:.1f} s: {len(done.keys) / done.wall_s:.1f} saves a second")
    print(f"server: {done.server_cpu_s:.1f} s of processor time; {done.reads} pages read meanwhile")
    print(
        f"waits for a save: half within {quantile(waits, 0.5):.2f} s, 95 of 100 within {quantile(waits, 0.95):.2f} s, "
        f"the longest {max(waits):.2f} s"
    )
    longest = max(done.over_restart_s, default=0.0)
    print(f"{len(done.over_restart_s)} forms were sent again over the restart, the longest took {longest:.2f} s")
    print(f"{len(done.opened_again)} forms took too long and were opened again")
    for words in sorted({*done.opened_again}):
        print(f"  {words}")
    for fault in faults:
        print(f"FAULT {fault}")
    print("nothing lost, nothing doubled" if not faults else f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
