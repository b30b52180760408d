"""A batch of 100,000 calculations kept, against bare inserts of the same rows, in turn in one run.

Two sets of builds. "weighed": masses as a scale of 0.01 g shows them, with six oils; equal inputs come again and again,
and a batch works them out once. "no two alike": every dry mass differs from every other, so that each row costs a
binding, a formula, a verdict and its JSON. The spreads are constructed.

The peer puts the very rows that the batch made into an equal database (same tables, indexes and builds), with one
``executemany`` in one transaction.

Run by hand:  python tests/benchmarks/bench_batch.py [COUNT]
"""

from __future__ import annotations

import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from bevelbook.calculating.keep import batch
from bevelbook.plugin.registry import load
from bevelbook.records import BY_NAME
from bevelbook.store.calculations import COLUMNS
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.schema import columns_of

TURNS = 5
AT_MOST = 2.0
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


def measured(masses: Callable[[int], Masses], count: int) -> tuple[float, float]:
    """Seconds of the batch, and of bare inserts of its rows."""
    offered = load().calculator("fill-target")
    with tempfile.TemporaryDirectory() as folder:
        path, bare_path = Path(folder) / "batch.db", Path(folder) / "bare.db"
        connection, bare = filled(path, masses(count)), filled(bare_path, masses(count))
        start = time.perf_counter()
        with transaction(connection, path):
            report = batch(connection, offered, BY_NAME["build"], {}, None, lambda: NOW)
        ours = time.perf_counter() - start
        assert report.new == count
        rows = [tuple(row) for row in connection.execute(f"SELECT {', '.join(COLUMNS)} FROM calculations")]
        start = time.perf_counter()
        with transaction(bare, bare_path):
            bare.executemany(INSERT, rows)
        peer = time.perf_counter() - start
        connection.close()
        bare.close()
    return ours, peer


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    for words, masses in (("weighed", weighed), ("no two alike", no_two_alike)):
        print(f"{words}: {count} builds, {len(set(masses(count)))} different inputs")
        ratios = []
        for turn in range(1, TURNS + 1):
            ours, peer = measured(masses, count)
            ratios.append(ours / peer)
            print(f"  turn {turn}: batch {ours:.2f} s, bare inserts {peer:.2f} s, {ours / peer:.2f} x")
        print(f"  median {statistics.median(ratios):.2f} x (wanted: at most {AT_MOST})")


if __name__ == "__main__":
    main()
