"""Every interval and verdict that the tool prints: what it promises, and what was seen in simulations.

Run by hand:  python tests/benchmarks/interval_coverage.py [SUBJECT...] [--count N]

Each case starts from its own fixed number, so that it gives the same figures alone and among others. Ends with exit
code 1 if a share is outside what its text allows. ``coverages/__init__.py`` says how to add a case.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path


def main() -> int:
    from benchmarks.coverages import cases_of, seen, subjects

    known = subjects()
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("subjects", nargs="*", metavar="SUBJECT", help=", ".join(known))
    asked.add_argument("--count", type=int, help="simulations a case, instead of its own number")
    given = asked.parse_args()
    if given.count is not None and given.count < 1:
        asked.error("--count takes a whole number from 1")
    if unknown := [name for name in given.subjects if name not in known]:
        asked.error(f"unknown: {', '.join(unknown)}; there are {', '.join(known)}")
    outside = 0
    print("| subject | case | printed | seen | allowed | simulations | |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for subject in given.subjects or known:
        for case in cases_of(subject):
            found = seen(subject, case, given.count)
            inside = found.is_within(case.allowed)
            outside += not inside
            low, high = (f"{100 * share:g}" for share in case.allowed)
            print(
                f"| {subject} | {case.name} | {case.nominal} | {100 * found.share:.1f} % | {low} to {high} % "
                f"| {found.counted} | {'' if inside else 'OUTSIDE'} |",
                flush=True,
            )
    print(f"\n{outside} outside" if outside else "\nall inside")
    return 1 if outside else 0


if __name__ == "__main__":
    # The folder of this script would hide a library of its name; what it imports is found from tests/.
    sys.path[0] = str(Path(__file__).resolve().parents[1])
    sys.exit(main())
