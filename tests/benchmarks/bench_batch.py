"""A batch of 100,000 calculations kept, against bare inserts of the same rows, in turn in one run.

Two sets of builds. "weighed": masses as a scale of 0.01 g shows them, with six oils; equal inputs come again and again,
and a batch works them out once. "no two alike": every dry mass differs from every other, so that each row costs a
binding, a formula, a verdict and its JSON. The spreads are constructed.

The peer puts the very rows that the batch made into an equal database (same tables, indexes and builds), with one
``executemany`` in one transaction.

Run by hand:  python tests/benchmarks/bench_batch.py [--count 100000] [--turns 3]
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from bevelbook.calculating.keep import batch
from bevelbook.plugin.registry import load
from bevelbook.records import BY_NAME
from bevelbook.store.calculations import COLUMNS
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.schema import columns_of

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.measured import Table, Taken, here, middle, ratio

AT_MOST = 3.0
NOW = "2026-05-04T10:00:00.000Z"
OILS_CST = (3000.0, 5000.0, 7000.0, 10_000.0, 15_000.0, 20_000.0)
NAMES = ("id", "label", "diff", "built_on", "dry_mass_g", "oil_mass_g", "viscosity_cst", "created_at", "updated_at")
INSERT = f"INSERT INTO calculations ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"

Masses = Iterator[tuple[float, float, float]]


def weighed(count: int) -> Masses:
    """Dry mass, oil mass and viscosity as a scale of 0.01 g and a shelf of six oils give them."""
    chance = random.Random(1)
    for _ in range(count):
        yield round(chance.gauss(12.4, 0.05), 2), round(chance.gauss(1.86, 0.03), 2), chance.choice(OILS_CST)


def no_two_alike(count: int) -> Masses:
    """The same with a dry mass of its own for each build."""
    for number, (_, oil_mass_g, viscosity_cst) in enumerate(weighed(count)):
        yield 9.4 + number * 1e-6, oil_mass_g, viscosity_cst


def filled(path: Path, masses: Masses) -> sqlite3.Connection:
    """A database with one diff and many builds."""
    connection = new_database(path)
    assert set(NAMES) <= set(columns_of(BY_NAME["build"]))
    with transaction(connection, path):
        connection.execute(
            "INSERT INTO diffs (id, label, created_at, updated_at) VALUES ('d', 'rear-a', ?, ?)", (NOW, NOW)
        )
        connection.executemany(
            f"INSERT INTO builds ({', '.join(NAMES)}) VALUES ({', '.join('?' * len(NAMES))})",
            ((f"b{n}", f"rear-a/{n}", "d", "2026-05-03", *three, NOW, NOW) for n, three in enumerate(masses)),
        )
    return connection


def measured(masses: Callable[[int], Masses], count: int) -> tuple[Taken, Taken]:
    """What the batch takes, and what bare inserts of its rows take into an equal database."""
    offered = load().calculator("fill-target")
    with tempfile.TemporaryDirectory() as folder:
        path, bare_path = Path(folder) / "batch.db", Path(folder) / "bare.db"
        connection, bare = filled(path, masses(count)), filled(bare_path, masses(count))

        def kept() -> None:
            with transaction(connection, path):
                report = batch(connection, offered, BY_NAME["build"], {}, None, lambda: NOW)
            assert report.new == count

        def inserted(rows: list[tuple[object, ...]]) -> None:
            with transaction(bare, bare_path):
                bare.executemany(INSERT, rows)

        ours = here(kept)
        rows = [tuple(row) for row in connection.execute(f"SELECT {', '.join(COLUMNS)} FROM calculations")]
        peer = here(partial(inserted, rows))
        connection.close()
        bare.close()
    return ours, peer


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--turns", type=int, default=3)
    asked = parser.parse_args()
    table = Table()
    for words, masses in (("weighed", weighed), ("no two alike", no_two_alike)):
        different = len(set(masses(asked.count)))
        print(f"{words}: {asked.count:,} builds, {different:,} different inputs", flush=True)
        ours, peer = list[Taken](), list[Taken]()
        for _ in range(asked.turns):
            batch_taken, bare_taken = measured(masses, asked.count)
            print(f"  batch: {batch_taken}\n  bare inserts: {bare_taken}", flush=True)
            ours.append(batch_taken)
            peer.append(bare_taken)
        work, size = f"batch kept, {words}", f"{asked.count:,} builds, {different:,} inputs"
        table.ratio(work, size, "bare inserts of its rows", ratio(ours, peer), AT_MOST, AT_MOST)
        table.figure(f"{work}, a row", size, "itself", middle(ours).processor_s / asked.count * 1e6, " µs", None)
    table.end()


if __name__ == "__main__":
    main()
