"""Databases, exports and zips as bad lines and bad hands send them, taken through the whole way: each is refused in a
sentence, or two laptops that meet with it in different orders hold the same.

Run by hand:  python tests/benchmarks/flip_what_is_sent.py [--what bytes|rows|older|export|zip] [--count 300] [--seed 1]
It prints the first that fails, with its seed, and what every refusal was about.
"""

from __future__ import annotations

import argparse
import shutil
import sqlite3
import sys
import zipfile
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import process_time
from typing import Final

sys.path.insert(0, str(Path(__file__).parents[1]))

from edited_rows import edit_rows
from flipped import flipped
from meeting.sent_through import outcome, whole_base
from released import DUMPS, released

Make = Callable[[Path, Random], tuple[Path, list[str]]]
AT_MOST_S: Final = 20.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--what", choices=("bytes", "rows", "older", "export", "zip"), default="bytes")
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--demo", action="store_true", help="with the demo in place of one row of each kind")
    asked = parser.parse_args()
    with TemporaryDirectory() as made:
        folder = Path(made)
        base = whole_base(folder, of_demo=asked.demo)
        outcomes: Counter[str] = Counter()
        longest = 0.0
        for seed in range(asked.seed, asked.seed + asked.count):
            began = process_time()
            sent, done = SENT[asked.what](base, folder / "sent", Random(seed))
            said = None
            try:
                said = outcome(sent, base, folder)
            finally:
                if said is None:
                    print(f"seed {seed} of {asked.what}: {done}")
            outcomes[said] += 1
            longest = max(longest, process_time() - began)
            shutil.rmtree(folder / "sent")
        for said, count in outcomes.most_common():
            print(f"{count:6}  {said}")
        print(f"{asked.count} of {asked.what}, the longest {longest:.2f} s of processor time")
        assert longest < AT_MOST_S


def of_bytes(base: Path, folder: Path, draw: Random) -> tuple[Path, list[str]]:
    folder.mkdir()
    path = folder / "sent.db"
    path.write_bytes(flipped(base.with_name("bare.db").read_bytes(), draw))
    return path, []


def of_rows(base: Path, folder: Path, draw: Random) -> tuple[Path, list[str]]:
    folder.mkdir()
    path = Path(shutil.copy(base.with_name("bare.db"), folder / "sent.db"))
    return path, edit_rows(path, draw)


def of_older(base: Path, folder: Path, draw: Random) -> tuple[Path, list[str]]:
    """A database of the first release: rows edited, or bytes flipped."""
    folder.mkdir()
    path = released(folder / "sent.db", draw.choice(DUMPS))
    with closing(sqlite3.connect(path)) as bare:
        bare.execute("PRAGMA journal_mode = DELETE")
        with bare:
            for (name,) in bare.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                bare.execute(f"DROP TRIGGER {name}")
    if draw.random() < 0.7:
        return path, edit_rows(path, draw)
    path.write_bytes(flipped(path.read_bytes(), draw))
    return path, []


def of_export(base: Path, folder: Path, draw: Random) -> tuple[Path, list[str]]:
    export = Path(shutil.copytree(base.with_name("export"), folder / "export"))
    files = sorted(one for one in export.rglob("*") if one.is_file())
    done = []
    for _ in range(draw.choice((1, 1, 2, 4))):
        one = draw.choice(files)
        done.append(one.name)
        if draw.random() < 0.1:
            one.unlink(missing_ok=True)
        elif one.exists() and one.stat().st_size:
            one.write_bytes(flipped(one.read_bytes(), draw))
    return export, done


def of_zip(base: Path, folder: Path, draw: Random) -> tuple[Path, list[str]]:
    folder.mkdir()
    export, path = base.with_name("export"), folder / "sent.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for one in sorted(export.rglob("*")):
            if one.is_file():
                made.write(one, one.relative_to(export).as_posix())
    path.write_bytes(flipped(path.read_bytes(), draw))
    return path, []


SENT: Final = {"bytes": of_bytes, "rows": of_rows, "older": of_older, "export": of_export, "zip": of_zip}

if __name__ == "__main__":
    main()
