"""Import of a million note rows against two peers on the same file, in turn in one run.

The peers: ``sqlite-utils insert --csv``, and a bare ``csv`` reader with ``executemany``. Each runs as a process of its
own, into a new database. Only the import checks units and values, gives ids, keeps the file, and fills the search.

Run by hand:  python tests/benchmarks/bench_import.py [--rows 1000000] [--turns 3]
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

AT_MOST = {"sqlite-utils": 0.5, "bare": 12.0}
PEAK_MB = 200
BARE = """
import csv, sqlite3, sys
connection = sqlite3.connect(sys.argv[2])
connection.execute("CREATE TABLE notes (date, builder, unit, dry_mass_g, oil_mass_g, total_mass_g, viscosity_cst)")
with open(sys.argv[1], newline="", encoding="utf-8") as file:
    rows = csv.reader(file)
    next(rows)
    connection.executemany("INSERT INTO notes VALUES (?, ?, ?, ?, ?, ?, ?)", rows)
connection.commit()
"""


class Taken(NamedTuple):
    """One run: seconds of the clock, seconds of the processor, and the peak of memory."""

    seconds: float
    processor_s: float
    peak_mb: float


def write_notes(path: Path, rows: int) -> None:
    """The file: builds of 5,000 diffs over 1,000 days; every 100,000th row has an oil mass that is no number."""
    with path.open("w", encoding="utf-8") as file:
        file.write("date,builder,unit,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst\n")
        first = date(2020, 1, 1)
        days = [(first + timedelta(days=n)).isoformat() for n in range(1000)]
        for i in range(rows):
            dry, oil = 20 + (i % 300) / 100, 1 + (i % 80) / 100
            poured = "abc" if i % 100_000 == 99_999 else f"{oil:.2f}"
            builder = ("ana", "bo", "cy", "dee")[i % 4]
            file.write(
                f"{days[i % 1000]},{builder},U{i % 5000:05d},{dry:.2f},{poured},{dry + oil:.2f},{1000 * (1 + i % 20)}\n"
            )


def run(words: list[str], allowed: tuple[int, ...] = (0,)) -> tuple[Taken, str]:
    """Run a process to its end."""
    start = time.perf_counter()
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    out = process.stdout.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in allowed:
        raise SystemExit(f"{words[0]} ended with {process.returncode}")
    taken = Taken(time.perf_counter() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)
    return taken, out


def command(name: str) -> str:
    """A command of the environment that runs this script."""
    beside = Path(sys.executable).with_name(name)
    found = str(beside) if beside.exists() else shutil.which(name)
    if found is None:
        raise SystemExit(f"{name} is not installed here")
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--turns", type=int, default=3)
    asked = parser.parse_args()
    taken: dict[str, list[Taken]] = {"import": [], "bare": [], "sqlite-utils": []}
    with tempfile.TemporaryDirectory() as folder:
        notes, db = Path(folder) / "notes.csv", Path(folder) / "t.db"
        write_notes(notes, asked.rows)
        for _ in range(asked.turns):
            for name, each in taken.items():
                for old in Path(folder).glob("t.db*"):
                    old.unlink()
                if name == "import":
                    run([command("bevelbook"), "--db", str(db), "new"])
                    words = [command("bevelbook"), "--db", str(db), "import", str(notes), "--json", "--no-rejects"]
                    one, out = run(words, allowed=(0, 1))
                    report = json.loads(out)
                elif name == "bare":
                    one, _ = run([sys.executable, "-c", BARE, str(notes), str(db)])
                else:
                    one, _ = run([command("sqlite-utils"), "insert", str(db), "notes", str(notes), "--csv", "--silent"])
                each.append(one)
                print(
                    f"{name}: {one.seconds:.1f} s, processor {one.processor_s:.1f} s, {one.peak_mb:.0f} MB", flush=True
                )
    print(f"{report['accepted']} accepted, {report['rejected']} rejected: {[r['line'] for r in report['rejects']]}")
    for name, most in AT_MOST.items():
        clock = statistics.median(a.seconds / b.seconds for a, b in zip(taken["import"], taken[name], strict=True))
        work = statistics.median(
            a.processor_s / b.processor_s for a, b in zip(taken["import"], taken[name], strict=True)
        )
        print(f"{clock:.2f} x {name} by the clock, {work:.2f} x by the processor (wanted: at most {most})")
    peak = max(one.peak_mb for one in taken["import"])
    print(f"peak {peak:.0f} MB (wanted: at most {PEAK_MB})")


if __name__ == "__main__":
    main()
