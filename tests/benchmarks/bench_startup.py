"""Commands from their start to the end of their process, against ``sqlite-utils --version``, in turn in one run.

On a new demo. The peer stands in an environment without our plugin and without what tests need.

Run by hand:  python tests/benchmarks/bench_startup.py [--turns 9] [--peers BIN]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from functools import partial
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.measured import Table, Taken, add_peers, command, in_turn, middle, peers, ratio, run

FILL = ("calc", "fill-target", "--oil-mass", "1.86", "--dry-mass")
WORK = {
    "--help": (("--help",), 0.25),
    "calc, plain numbers": ((*FILL, "12.4"), 0.5),
    "calc, in ounces": ((*FILL, "0.335 oz"), 0.6),
    "calc, with a ±": ((*FILL, "12.4 +/- 0.02"), 0.6),
    "check": (("check",), 1.0),
    "card": (("card", "rear-a"), 1.0),
    "compare": (("compare", "rear-a/2", "rear-a/3"), 1.0),
    "plan": (("plan",), 1.0),
    "plan of an event": (("plan", "quay race"), 1.0),
}
"""What is asked for, and how many times what the peer takes it may take at most."""


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--turns", type=int, default=9)
    add_peers(asked)
    given = asked.parse_args()
    table = Table()
    with tempfile.TemporaryDirectory() as folder, peers(given.peers) as bin_folder:
        ours, db = command("bevelbook"), str(Path(folder) / "demo.db")
        run([ours, "--db", db, "demo"])

        def taken(words: list[str]) -> Taken:
            return run(words, allowed=(0, 1))[0]

        peer = [str(bin_folder / "sqlite-utils"), "--version"]
        for work, (words, at_most) in WORK.items():
            named = words if words[0] in ("--help", "calc") else ("--db", db, *words)
            ways = {work: partial(taken, [ours, *named]), "peer": partial(taken, peer)}
            found = in_turn(ways, given.turns, first_left_out=True, say=False)
            print(f"{work}: {middle(found[work])}; sqlite-utils --version: {middle(found['peer'])}", flush=True)
            table.ratio(work, "", "sqlite-utils --version", ratio(found[work], found["peer"]), at_most, at_most)
    table.end()


if __name__ == "__main__":
    main()
