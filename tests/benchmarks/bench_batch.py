"""A batch of 100,000 calculations kept, against bare inserts of the same rows, in one run.

Run by hand:  python tests/benchmarks/bench_batch.py [COUNT]
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from pathlib import Path

from bevelbook.records import BY_NAME
from bevelbook.registry import load
from bevelbook.store.calculations import COLUMNS
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.schema import columns_of
from bevelbook.tasks.keep import batch

TURNS = 3
AT_MOST = 2.0
NOW = "2026-05-04T10:00:00.000Z"


def filled(path: Path, count: int) -> sqlite3.Connection:
    """A database with one diff and many builds."""
    connection = new_database(path)
    with transaction(connection, path):
        connection.execute(
            "INSERT INTO diffs (id, label, created_at, updated_at) VALUES ('d', 'rear-a', ?, ?)", (NOW, NOW)
        )
        names = (
            "id",
            "label",
            "diff",
            "built_on",
            "dry_mass_g",
            "oil_mass_g",
            "viscosity_cst",
            "created_at",
            "updated_at",
        )
        assert set(names) <= set(columns_of(BY_NAME["build"]))
        connection.executemany(
            f"INSERT INTO builds ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})",
            (
                (f"b{n}", f"rear-a/{n}", "d", "2026-05-03", 9.4 + n % 30 / 100, 1.4 + n % 20 / 100, 7000.0, NOW, NOW)
                for n in range(count)
            ),
        )
    return connection


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    offered = load().calculator("fill-target")
    ratios = []
    for turn in range(TURNS):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "batch.db"
            connection = filled(path, count)
            start = time.perf_counter()
            with transaction(connection, path):
                report = batch(connection, offered, BY_NAME["build"], {}, None, lambda: NOW)
            ours = time.perf_counter() - start
            assert report.new == count
            rows = [tuple(row) for row in connection.execute(f"SELECT {', '.join(COLUMNS)} FROM calculations")]
            bare = filled(Path(folder) / "bare.db", 1)
            start = time.perf_counter()
            with transaction(bare, Path(folder) / "bare.db"):
                bare.executemany(
                    f"INSERT INTO calculations ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})", rows
                )
            peer = time.perf_counter() - start
            connection.close()
            bare.close()
        ratios.append(ours / peer)
        print(f"turn {turn + 1}: batch {ours:.2f} s, bare inserts {peer:.2f} s, {ours / peer:.2f} x")
    print(f"median {statistics.median(ratios):.2f} x (wanted: at most {AT_MOST})")


if __name__ == "__main__":
    main()
