"""Random histories of three laptops, merged in every order and grouping and twice, by hand:

    python tests/benchmarks/merge_histories.py --count 10000 [--seed N] [--processes 2] [--ways 12] [--go-on]

Prints what was done, and of the first history that shows a fault the shortest one that still shows it.
"""

from __future__ import annotations

import argparse
import sys
from ast import literal_eval
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[1]))

from histories_met import Met, Tally, meet_histories, shortened, ways_of
from laptops import memory
from meetings import EVERY_WAY
from random_histories import Act, History

_BLOCK = 25


def main() -> int:
    """Run them; 1 if any showed a fault."""
    parser = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0, help="the first seed")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--ways", type=int, default=0, help="in how many of the 12 ways each is merged; 0: two of them")
    parser.add_argument("--go-on", action="store_true", help="count all faults by kind, and shorten the first of each")
    parser.add_argument("--history", help="the one history, as printed of a fault")
    given = parser.parse_args()
    if given.history:
        return play_one(given.history, given.ways)
    started = perf_counter()
    total = Tally()
    blocks = range(given.seed, given.seed + given.count, _BLOCK)
    with ProcessPoolExecutor(given.processes) as pool:
        waiting = [
            pool.submit(meet_histories, range(first, min(first + _BLOCK, given.seed + given.count)), given.ways)
            for first in blocks
        ]
        for done in as_completed(waiting):
            total += done.result()
            print(f"\r{total.histories} histories, {len(total.faults)} faults", end="", file=sys.stderr, flush=True)
            if total.faults and not given.go_on:
                for one in waiting:
                    one.cancel()
                break
    wall_s = perf_counter() - started
    each_ms = 1000 * total.processor_s / max(total.histories, 1)
    print(f"{total.histories} histories of {total.acts} acts that wrote something, {total.meetings} meetings")
    print(f"{wall_s:.0f} s, {total.processor_s:.0f} s of processor time, {each_ms:.0f} ms a history")
    print("acts: " + ", ".join(f"{what} {number}" for what, number in sorted(total.what.items())))
    print(f"clashes left at the end: {total.clashes}; records of which one was in clash: {total.clashing}")
    if not total.faults:
        print("No history was unequal, and nothing was lost.")
        return 0
    print(f"{len(total.faults)} showed a fault: {dict(Counter(one.kind for one in total.faults))}")
    shown: set[str] = set()
    for fault in sorted(total.faults, key=lambda one: one.history.seed):
        if fault.kind not in shown:
            shown.add(fault.kind)
            print(f"\nseed {fault.history.seed}: {fault.words}\n\nthe shortest that shows it:")
            print(shortened(fault))
    return 1


def play_one(text: str, ways: int) -> int:
    """Play and merge one history; 1 if it shows a fault."""
    seed, clocks, begun, acts = literal_eval(text)
    history = History(seed, clocks, begun, tuple(Act(*act) for act in acts))
    with TemporaryDirectory(dir=memory()) as folder:
        met = Met(Path(folder))
        fault = met.fault_of(history, ways_of(seed, ways or len(EVERY_WAY)))
        print("\n".join(met.player.log))
        met.close()
    print(fault.words if fault else "All is well.")
    return int(fault is not None)


if __name__ == "__main__":
    sys.exit(main())
