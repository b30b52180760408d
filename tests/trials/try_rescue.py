"""Damaged copies of databases, rescued: of each the exit code, the rows that came out, and whether they come back.

    python tests/trials/try_rescue.py --count 200 --seed 1

Half of the copies are of the demo, half of a database of 2,000 builds. Each is damaged in one way: bits turned, the
tail cut, pages zeroed or overwritten, pages of one table, the list of tables. Of every fifth what came back is checked
too. What was rescued of the demo meets the whole demo, which must hold what it held. A fault of the program is
printed with its seed.
"""

from __future__ import annotations

import argparse
import io
import json
import resource
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing, redirect_stderr, redirect_stdout
from pathlib import Path
from random import Random
from shutil import rmtree

from bevelbook.cli import main
from bevelbook.records import KINDS

PAGE = 8192
WAYS = ("bits", "many bits", "cut", "zeroed", "overwritten", "one table", "list of tables", "swapped")


def run(words: list[str]) -> tuple[int, str, str]:
    """A command in this process: its exit code, what it printed, and what it said beside."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            main(words)
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else 99
    return code, out.getvalue(), err.getvalue()


def big_database(path: Path, builds: int) -> None:
    """A database with so many builds, made by an import of invented notes."""
    notes = path.with_suffix(".csv")
    lines = ["date,diff,driver,dry mass (g),oil,total mass (g),venue,packs,note"]
    for number in range(builds):
        day = f"2025-{1 + number // 28 % 12:02d}-{1 + number % 28:02d}"
        dry = 12.0 + number % 97 / 100
        lines.append(
            f"{day},diff-{number % 40},ana,{dry:.2f},house {1 + number % 9}k,{dry + 1.86:.2f},hall {number % 7},3,"
            f"invented note {number}"
        )
    notes.write_text("\n".join(lines) + "\n", encoding="utf-8")
    run(["--db", str(path), "new"])
    code, out, err = run(["--db", str(path), "import", str(notes)])
    if code not in (0, 1):
        sys.exit(f"the notes did not come in: {out}{err}")


def damaged(whole: bytes, path: Path, draw: Random) -> tuple[str, bytes]:
    """One of the ways, drawn, and the file after it."""
    held = bytearray(whole)
    pages = len(held) // PAGE
    way = draw.choice(WAYS)
    if way in ("bits", "many bits"):
        for _ in range(draw.randint(1, 20) if way == "bits" else draw.randint(20, 400)):
            held[draw.randrange(len(held))] ^= 1 << draw.randrange(8)
    elif way == "cut":
        del held[draw.randrange(len(held) // 10, len(held)) :]
    elif way in ("zeroed", "overwritten"):
        for _ in range(draw.randint(1, 12)):
            at = draw.randrange(pages) * PAGE
            held[at : at + PAGE] = bytes(PAGE) if way == "zeroed" else draw.randbytes(PAGE)
    elif way == "one table":
        with closing(sqlite3.connect(path)) as connection:
            roots = [
                row[0]
                for row in connection.execute(
                    "SELECT rootpage FROM sqlite_master WHERE type = 'table' AND rootpage > 1"
                )
            ]
        for root in draw.sample(roots, draw.randint(1, 5)):
            held[(root - 1) * PAGE : root * PAGE] = draw.randbytes(PAGE)
    elif way == "list of tables":
        for _ in range(draw.randint(1, 40)):
            held[draw.randrange(PAGE)] ^= 1 << draw.randrange(8)
    else:
        one, other = (draw.randrange(pages) * PAGE for _ in range(2))
        held[one : one + PAGE], held[other : other + PAGE] = held[other : other + PAGE], held[one : one + PAGE]
    return way, bytes(held)


def rows_there(path: Path, tables: list[str]) -> int:
    """The rows that an export of the sound file has."""
    with closing(sqlite3.connect(path)) as connection:
        return sum(connection.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0] for table in tables)


def written_in(path: Path) -> dict[str, set[tuple[object, ...]]]:
    """What was written of the records that a database shows: another of one name changes how one is called."""
    found: dict[str, set[tuple[object, ...]]] = {}
    with closing(sqlite3.connect(path)) as connection:
        written: dict[tuple[str, str], dict[str, object]] = {}
        for table, row_id, column, text in connection.execute("SELECT * FROM as_written ORDER BY 1, 2, 3"):
            written.setdefault((table, row_id), {})[column] = text
        for kind in KINDS:
            if kind.own:
                names = ("id", *kind.columns)
                rows = connection.execute(f"SELECT {', '.join(names)} FROM {kind.table} ORDER BY id").fetchall()
                shown = [dict(zip(names, row, strict=True)) for row in rows]
                found[kind.table] = {tuple((row | written.get((kind.table, row["id"]), {})).values()) for row in shown}
    return found


def main_() -> None:
    """Try them all and print what came of it."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--count", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--builds", type=int, default=2000)
    given = asked.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="bevelbook-rescue-"))
    codes: Counter[str] = Counter()
    shares: dict[str, list[float]] = {}
    faults = 0
    try:
        sources = [folder / "demo.db", folder / "big.db"]
        run(["--db", str(sources[0]), "demo"])
        big_database(sources[1], given.builds)
        from bevelbook.interchange.exported_tables import exported_tables

        tables = [table.name for table in exported_tables()]
        there = [rows_there(one, tables) for one in sources]
        wholes = [one.read_bytes() for one in sources]
        print(f"rows: demo {there[0]}, {given.builds} builds {there[1]}")
        slowest = 0.0
        for number in range(given.count):
            seed = given.seed * 1_000_003 + number
            draw = Random(seed)
            which = number % 2
            way, content = damaged(wholes[which], sources[which], draw)
            path, to, back = folder / "damaged.db", folder / "saved", folder / "back.db"
            path.write_bytes(content)
            begun = time.process_time()
            code, out, err = run(["--db", str(path), "export", "--rescue", str(to), "--json"])
            slowest = max(slowest, time.process_time() - begun)
            if path.read_bytes() != content:
                print(f"seed {seed} {way}: the file was written to")
                faults += 1
            codes[f"rescue {code}"] += 1
            if code not in (0, 1):
                said = err.strip().splitlines()[0] if err.strip() else ""
                nothing = "nothing of a bevelbook database" in said
                if not nothing:
                    faults += 1
                print(f"seed {seed} {way} of {sources[which].name}: exit {code}: {said[:300]}")
            else:
                found = json.loads(out)
                shares.setdefault(way, []).append(sum(found["rows"].values()) / there[which])
                came, out, err = run(["--db", str(back), "new", "--from", str(to / "export")])
                codes[f"back {came}"] += 1
                if came != 0:
                    faults += 1
                    print(f"seed {seed} {way} of {sources[which].name}: does not come back: {err.strip()[:300]}")
                else:
                    looked, _, err = run(["--db", str(back), "check"]) if number % 10 < 2 else (0, "", "")
                    codes[f"check {looked}"] += number % 10 < 2
                    if looked not in (0, 1):
                        faults += 1
                        print(f"seed {seed} {way}: check of what came back: {looked} {err.strip()[:200]}")
                if which == 0:
                    whole = folder / "whole.db"
                    whole.write_bytes(wholes[0])
                    met, _, err = run(["--db", str(whole), "merge", str(to / "export"), "--invented"])
                    codes[f"merge {met}"] += 1
                    after = written_in(whole)
                    changed = [table for table, rows in written_in(sources[0]).items() if not rows <= after[table]]
                    if met not in (0, 1) or changed:
                        faults += 1
                        print(
                            f"seed {seed} {way}: met by the whole one: {met} {', '.join(changed)} {err.strip()[:200]}"
                        )
                    for left in folder.glob("whole*"):
                        left.unlink()
            if number % 20 == 19:
                print(f"{number + 1} copies: {dict(sorted(codes.items()))}, {faults} faults", flush=True)
            rmtree(to, ignore_errors=True)
            for left in folder.glob("back.db*"):
                left.unlink()
        for way, found in sorted(shares.items()):
            found.sort()
            print(
                f"{way}: {len(found)} copies, rows rescued: least {found[0]:.1%}, median {found[len(found) // 2]:.1%}"
            )
        print(dict(sorted(codes.items())))
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{given.count} copies, {faults} faults; slowest rescue {slowest:.1f} s of processor; {memory:.0f} MB")
    finally:
        rmtree(folder, ignore_errors=True)
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main_()
