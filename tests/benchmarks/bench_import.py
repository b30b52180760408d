"""Import of note rows against two peers on the same file, and against an earlier version, in turn in one run.

Two files: fills only, and a mixed one (fills, runs with the diff's temperature, weighings), of which the facts take
more. The peers: ``sqlite-utils insert --csv``, and a bare ``csv`` reader with ``executemany``. Each runs as a process
of its own, into a new database. Only the import checks units and values, gives ids, keeps the file, fills the search
and works out what follows. The mixed file is imported a second time, which adds nothing.

Run by hand:  python tests/benchmarks/bench_import.py [--rows 1000000] [--mixed-rows 100000] [--turns 3]
                  [--before PATH/TO/bevelbook]
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Final, NamedTuple

AT_MOST: Final = {"fills": {"sqlite-utils": 0.5, "bare": 12.0, "before": 1.25}, "mixed": {"before": 1.25}}
AGAIN: Final = "the same file again"
PEAK_MB: Final = 200
BARE: Final = """
import csv, sqlite3, sys
connection = sqlite3.connect(sys.argv[2])
with open(sys.argv[1], newline="", encoding="utf-8") as file:
    rows = csv.reader(file)
    names = next(rows)
    connection.execute(f"CREATE TABLE notes ({', '.join(names)})")
    connection.executemany(f"INSERT INTO notes VALUES ({', '.join('?' * len(names))})", rows)
connection.commit()
"""
BUILDERS: Final = ("ana", "bo", "cy", "dee")
FIRST_DAY: Final = date(2020, 1, 1)
ROWS_OF_A_BUILD: Final = 5


class Taken(NamedTuple):
    """One run: seconds of the clock, seconds of the processor, and the peak of memory."""

    seconds: float
    processor_s: float
    peak_mb: float


def write_fills(path: Path, rows: int) -> None:
    """Builds of 5,000 diffs over 1,000 days; every 100,000th row has an oil mass that is not a number."""
    with path.open("w", encoding="utf-8") as file:
        file.write("date,builder,unit,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst\n")
        days = [(FIRST_DAY + timedelta(days=n)).isoformat() for n in range(1000)]
        for i in range(rows):
            dry, oil = 20 + (i % 300) / 100, 1 + (i % 80) / 100
            poured = "abc" if i % 100_000 == 99_999 else f"{oil:.2f}"
            builder = BUILDERS[i % 4]
            file.write(
                f"{days[i % 1000]},{builder},U{i % 5000:05d},{dry:.2f},{poured},{dry + oil:.2f},{1000 * (1 + i % 20)}\n"
            )


def write_mixed(path: Path, rows: int) -> None:
    """Builds of 1,000 diffs; each is filled, run twice with the diff's temperature, weighed, and run once more."""
    names = "date builder diff dry_mass_g oil_mass_g total_mass_g viscosity_cst venue grip track_temp_c diff_temp_c "
    names += "runs call result_note"
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, names.split(), restval="", lineterminator="\n")
        out.writeheader()
        for i in range(rows // ROWS_OF_A_BUILD):
            first = FIRST_DAY + timedelta(days=i % 1000 + 6 * (i // 1000) % 365)
            dry, oil = 12 + (i % 300) / 1000, 1.8 + (i % 30) / 1000
            day = [(first + timedelta(days=n)).isoformat() for n in range(ROWS_OF_A_BUILD + 1)]
            of = {"builder": BUILDERS[i % 4], "diff": f"U{i % 1000:04d}"}
            at = {"venue": f"Hall {i % 9}", "grip": ("low", "medium", "high")[i // 7 % 3]}
            out.writerow(
                {**of, "date": day[0], "dry_mass_g": f"{dry:.2f}", "oil_mass_g": f"{oil:.2f}"}
                | {"total_mass_g": f"{dry + oil:.2f}", "viscosity_cst": 1000 * (1 + i % 20)}
            )
            for n in range(2):
                out.writerow(
                    {**of, **at, "date": day[n + 1], "track_temp_c": 20 + n, "diff_temp_c": 40 + i % 30 + n}
                    | {"runs": n + 1, "call": "keep", "result_note": f"felt fine {i} {n}"}
                )
            out.writerow({**of, "date": day[4], "total_mass_g": f"{dry + oil - (i % 3) / 100:.2f}"})
            out.writerow(
                {**of, **at, "date": day[5], "track_temp_c": 25, "runs": 2, "call": "change"}
                | {"result_note": f"loose exit {i}"}
            )


def run(words: Sequence[str], allowed: tuple[int, ...] = (0,)) -> tuple[Taken, str]:
    """Run a process to its end; one of another environment must not find this one's code."""
    own = Path(words[0]).parent == Path(sys.executable).parent
    environment = {name: value for name, value in os.environ.items() if own or name != "PYTHONPATH"}
    start = time.perf_counter()
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment)
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


def empty(db: Path) -> None:
    """Take the database away, with what lies beside it."""
    for old in db.parent.glob(f"{db.name}*"):
        old.unlink()


def imported(bevelbook: str, notes: Path, db: Path, *, again: bool = False) -> tuple[Taken, dict[str, object]]:
    """A file imported: into a new database, or once more into the same."""
    if not again:
        empty(db)
        run([bevelbook, "--db", str(db), "new"])
    taken, out = run([bevelbook, "--db", str(db), "import", str(notes), "--json", "--no-rejects"], allowed=(0, 1))
    return taken, json.loads(out)


class Measured(NamedTuple):
    """What each way took, turn by turn, and what the import reported first."""

    taken: dict[str, list[Taken]]
    report: dict[str, object]


def measured(notes: Path, db: Path, turns: int, before: str | None, *, again: bool) -> Measured:
    """Our import, both peers and the earlier version, in turn."""
    ours = command("bevelbook")
    ways: dict[str, Callable[[], Taken]] = {}
    reports: list[dict[str, object]] = []

    def ours_first() -> Taken:
        taken, report = imported(ours, notes, db)
        reports.append(report)
        return taken

    def peer(words: Sequence[str]) -> Callable[[], Taken]:
        def taken() -> Taken:
            empty(db)
            return run(words)[0]

        return taken

    ways["import"] = ours_first
    if again:
        ways[AGAIN] = lambda: imported(ours, notes, db, again=True)[0]
    if before is not None:
        ways["before"] = lambda: imported(before, notes, db)[0]
        if again:
            ways[f"before, {AGAIN}"] = lambda: imported(before, notes, db, again=True)[0]
    ways["bare"] = peer([sys.executable, "-c", BARE, str(notes), str(db)])
    ways["sqlite-utils"] = peer([command("sqlite-utils"), "insert", str(db), "notes", str(notes), "--csv", "--silent"])
    taken: dict[str, list[Taken]] = {name: [] for name in ways}
    for _ in range(turns):
        for name, way in ways.items():
            one = way()
            taken[name].append(one)
            print(f"  {name}: {one.seconds:.1f} s, processor {one.processor_s:.1f} s, {one.peak_mb:.0f} MB", flush=True)
    return Measured(taken, reports[0])


def ratios(ours: Sequence[Taken], theirs: Sequence[Taken]) -> tuple[float, float]:
    """Medians of the ratios turn by turn, by the clock and by the processor."""
    pairs = list(zip(ours, theirs, strict=True))
    return (
        statistics.median(a.seconds / b.seconds for a, b in pairs),
        statistics.median(a.processor_s / b.processor_s for a, b in pairs),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=1_000_000, help="of the file of fills; 0 leaves it out")
    parser.add_argument("--mixed-rows", type=int, default=100_000, help="of the mixed file; 0 leaves it out")
    parser.add_argument("--turns", type=int, default=3)
    parser.add_argument("--before", metavar="COMMAND", help="the command bevelbook of an earlier version")
    asked = parser.parse_args()
    files = {"fills": (asked.rows, write_fills), "mixed": (asked.mixed_rows, write_mixed)}
    peak, missed = 0.0, False
    with tempfile.TemporaryDirectory() as folder:
        for name, (rows, write) in files.items():
            if not rows:
                continue
            notes, db = Path(folder) / f"{name}.csv", Path(folder) / "t.db"
            write(notes, rows)
            print(f"{name}, {rows:,} rows:")
            found = measured(notes, db, asked.turns, asked.before, again=name == "mixed")
            taken, report = found
            print(f"  {report['accepted']} accepted, {report['rejected']} rejected, made {report['made']}")
            for other in ("before", "sqlite-utils", "bare"):
                if other not in taken:
                    continue
                clock, work = ratios(taken["import"], taken[other])
                most = AT_MOST[name].get(other)
                wanted = "" if most is None else f" (wanted: at most {most})"
                missed |= most is not None and max(clock, work) > most
                print(f"  {clock:.2f} x {other} by the clock, {work:.2f} x by the processor{wanted}")
            if f"before, {AGAIN}" in taken:
                clock, work = ratios(taken[AGAIN], taken[f"before, {AGAIN}"])
                print(f"  {AGAIN}: {clock:.2f} x before by the clock, {work:.2f} x by the processor")
            peak = max(peak, *(one.peak_mb for one in taken["import"]))
    print(f"peak {peak:.0f} MB (wanted: at most {PEAK_MB})")
    if missed or peak > PEAK_MB:
        sys.exit("slower or larger than wanted")


if __name__ == "__main__":
    main()
