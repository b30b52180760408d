"""What is worth a look in a database of 1,000, of 10,000 and of 100,000 builds of 400 diffs: how it grows.

The check as a function in this process, the command in a process of its own, and the page *Worth a look* as a server
answers it. The databases are those of ``bench_browser.py``; what they hold is constructed.

Run by hand:  python tests/benchmarks/bench_check.py [--sizes 1000 10000 100000] [--turns 3]
"""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
from functools import partial
from pathlib import Path

from bevelbook.plugin.registry import load
from bevelbook.reports.check import check
from bevelbook.store.opened_to_read import open_for_reading

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.bench_browser import filled
from benchmarks.measured import Table, Taken, command, growth, here, in_turn, middle, run

AT_MOST = 3.0


def page(path: Path) -> Taken:
    """The page of what is worth a look, asked for in process; the first answer, which loads files, is left out."""
    from datasette.app import Datasette

    datasette = Datasette([str(path)])
    address = f"/{path.stem}/-/look"

    async def asked() -> None:
        answer = await datasette.client.get(address)
        assert answer.status_code == 200, answer.status_code

    return here(lambda: asyncio.run(asked()))


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sizes", type=int, nargs="+", default=[1000, 10_000, 100_000])
    asked.add_argument("--turns", type=int, default=3)
    given = asked.parse_args()
    registry, table = load(), Table()
    works: dict[str, dict[int, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for size in given.sizes:
            path = Path(folder) / f"builds_{size}.db"
            filled(path, size)

            def checked(path: Path = path) -> Taken:
                connection = open_for_reading(path)
                try:
                    return here(lambda: check(connection, registry))
                finally:
                    connection.close()

            words = [command("bevelbook"), "--db", str(path), "check"]
            ways = {
                "check, the function": checked,
                "check, the command": lambda words=words: run(words, allowed=(0, 1))[0],
                "page of findings": partial(page, path),
            }
            taken = in_turn(ways, given.turns, first_left_out=True, say=False)
            for work, found in taken.items():
                print(f"{work}, {size:,} builds: {middle(found)}", flush=True)
                works.setdefault(work, {})[size] = middle(found).processor_s
    span = f"{min(given.sizes):,} to {max(given.sizes):,} builds"
    for work, by_size in works.items():
        table.figure(work, span, "the dearest size against the cheapest", growth(by_size), " x", AT_MOST)
    table.end()


if __name__ == "__main__":
    main()
