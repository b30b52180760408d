"""A small file, whole process: 300 rows imported, against ``sqlite-utils insert --csv`` of the same file, in turn.

Both write into a new database each time; ours is made beforehand, since a team makes it once. What counts is the
processor's time, which other work on the machine changes least.

Run by hand:  python tests/benchmarks/bench_small_import.py [--rows 300] [--turns 10] [--peers BIN]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from shutil import copyfile
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.bench_import import AGAINST
from benchmarks.generated_sheets import write_fills, write_mixed
from benchmarks.measured import Table, Taken, add_peers, command, empty, in_turn, middle, peers, ratio, run

AT_MOST: Final = 1.5


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=300)
    parser.add_argument("--turns", type=int, default=10)
    add_peers(parser)
    asked = parser.parse_args()
    table = Table()
    with tempfile.TemporaryDirectory() as folder, peers(asked.peers) as bin_folder:
        fresh, db, notes = (Path(folder) / name for name in ("fresh.db", "t.db", "notes.csv"))
        run([command("bevelbook"), "--db", str(fresh), "new"])

        def ours() -> Taken:
            empty(db)
            copyfile(fresh, db)
            words = [command("bevelbook"), "--db", str(db), "import", str(notes), "--json", "--no-rejects"]
            return run(words, allowed=(0, 1))[0]

        def theirs() -> Taken:
            empty(db)
            return run([str(bin_folder / "sqlite-utils"), "insert", str(db), "t", str(notes), "--csv", "--silent"])[0]

        for name, write in (("builds", write_fills), ("mixed notes", write_mixed)):
            write(notes, asked.rows)
            taken = in_turn({"import": ours, "sqlite-utils": theirs}, asked.turns, first_left_out=True, say=False)
            print(f"{name}: {middle(taken['import'])}; sqlite-utils {middle(taken['sqlite-utils'])}", flush=True)
            found = ratio(taken["import"], taken["sqlite-utils"])
            table.ratio(f"import of {name}", f"{asked.rows} rows", AGAINST["sqlite-utils"], found, None, AT_MOST)
    table.end()


if __name__ == "__main__":
    main()
