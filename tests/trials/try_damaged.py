"""Taking back, backup and the way back, tried on damaged copies, by hand:

    nice -n 10 python tests/trials/try_damaged.py --count 300 [--seed N] [--one SEED]

Each case is a copy of one small team's file, spoilt in one way. Then: 'check --deep', 'take-back', 'backup', a copy
brought back over a good file, and a good copy brought back over it. Each must end well, or refuse in words with nothing
changed that people wrote. Prints the counts, and each fault with its seed.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
import json
import os
import shutil
import sqlite3
import sys
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Final, NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))

from exported import SHEET
from flipped import flipped
from photographed import picture

from bevelbook.cli import main as command_line
from bevelbook.records import KINDS

_WRITTEN: Final = (*(kind.table for kind in KINDS if not kind.derived), "history", "note_bytes", "picture_bytes")
_NUMBERS: Final = [
    (kind.table, field.name) for kind in KINDS if kind.own for field in kind.fields if field.kind == "quantity"
]


class Ran(NamedTuple):
    """How a command ended."""

    code: int
    out: str
    err: str


def run(path: Path, *words: object) -> Ran:
    """A command in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            command_line(["--db", str(path), "--by", "ana", *map(str, words)])
            code = 0
        except SystemExit as ended:
            code = int(ended.code or 0) if not isinstance(ended.code, str) else 2
    return Ran(code, out.getvalue(), err.getvalue())


def content_of(path: Path) -> dict[str, str] | None:
    """A hash of what people wrote, by table; None where it cannot be read. The file is not touched."""
    found = {}
    with TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.db"
        for end in ("", "-wal"):
            if Path(f"{path}{end}").exists():
                shutil.copy(f"{path}{end}", f"{copy}{end}")
        try:
            with closing(sqlite3.connect(copy)) as connection:
                connection.text_factory = bytes
                for table in _WRITTEN:
                    whole = hashlib.sha256()
                    try:
                        for row in connection.execute(f"SELECT * FROM {table} NOT INDEXED"):
                            whole.update(repr(row).encode())
                    except sqlite3.OperationalError as fault:
                        if "no such table" not in str(fault):
                            raise
                        continue
                    found[table] = whole.hexdigest()
        except sqlite3.Error:
            return None
    return found


def made(path: Path) -> bytes:
    """The file of a small team: a sheet, a photograph, builds, runs, weighings and kept results."""
    folder = path.parent
    (folder / "sheet.csv").write_text(SHEET, encoding="utf-8", newline="")
    (folder / "groove.jpg").write_bytes(picture())
    for words in (
        ("demo",),
        ("import", folder / "sheet.csv"),
        ("record", "photo", "--file", folder / "groove.jpg", "build=rear-a/1", "piece=outdrive"),
        ("record", "venue", "name=The Loft"),
        ("record", "venue", "The Loft", "note=narrow"),
    ):
        done = run(path, *words)
        assert done.code in (0, 1), (words, done)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return path.read_bytes()


def plain(path: Path) -> sqlite3.Connection:
    """A connection as another program has it that puts checks and triggers aside."""
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA ignore_check_constraints = ON")
    return connection


def flip(path: Path, draw: Random) -> str:
    """Bytes turned, moved or cut."""
    path.write_bytes(flipped(path.read_bytes(), draw))
    return "bytes"


def cut(path: Path, draw: Random) -> str:
    """The end cut off."""
    whole = path.read_bytes()
    path.write_bytes(whole[: draw.randrange(len(whole))])
    return "cut"


def part_gone(path: Path, draw: Random) -> str:
    """A table, view, index or trigger dropped."""
    with closing(plain(path)) as connection, connection:
        sort = draw.choice(("table", "view", "index", "trigger"))
        names = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = ? AND sql IS NOT NULL "
            "AND name NOT LIKE '%sqlite!_%' ESCAPE '!' "
            "AND name NOT LIKE '%!_search!_%' ESCAPE '!' ORDER BY name",
            (sort,),
        ).fetchall()
        name = draw.choice(names)[0]
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute(f'DROP {sort} "{name}"')
    return f"{sort} gone"


def other_log(path: Path, draw: Random) -> str:
    """The write-ahead log of another file, or of an older state, beside it."""
    other = path.with_name("other.db")
    shutil.copy(path, other)
    connection = sqlite3.connect(other)
    if draw.random() < 0.5:
        connection.execute("PRAGMA user_version = 3")
    connection.execute("CREATE TABLE x AS SELECT * FROM runs")
    connection.execute("DELETE FROM x")
    connection.commit()
    shutil.copy(f"{other}-wal", f"{path}-wal")
    connection.close()
    other.unlink()
    return "other log"


def endless(path: Path, draw: Random) -> str:
    """A number without an end, or far too large."""
    with closing(plain(path)) as connection, connection:
        table, column = draw.choice(_NUMBERS)
        value = draw.choice((float("inf"), -float("inf"), 1e308, 1e13))
        connection.execute(
            f"UPDATE {table} SET {column} = ? WHERE rowid = (SELECT rowid FROM {table} ORDER BY random() LIMIT 1)",
            (value,),
        )
    return "endless"


def broken_chain(path: Path, draw: Random) -> str:
    """Rows of the history gone, or what they followed changed."""
    with closing(plain(path)) as connection, connection:
        connection.execute(
            draw.choice(
                (
                    "DELETE FROM history WHERE id IN (SELECT id FROM history ORDER BY random() LIMIT 2)",
                    "UPDATE history SET parents = '[\"nothing\"]' WHERE id = (SELECT max(id) FROM history)",
                    "UPDATE history SET content = '{' WHERE id = (SELECT max(id) FROM history WHERE content NOT NULL)",
                    "UPDATE history SET version = 'x' WHERE id IN (SELECT id FROM history ORDER BY random() LIMIT 2)",
                )
            )
        )
    return "chain"


def entries_gone(path: Path, draw: Random) -> str:
    """Some entries gone."""
    with closing(plain(path)) as connection, connection:
        connection.execute(
            "DELETE FROM entries WHERE rowid IN (SELECT rowid FROM entries ORDER BY random() LIMIT ?)",
            (draw.choice((1, 3, 1000)),),
        )
    return "entries gone"


def orphans(path: Path, draw: Random) -> str:
    """Records removed that others refer to, without a word in the history."""
    with closing(plain(path)) as connection, connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        table = draw.choice(("builds", "diffs", "runs", "fluids", "people", "scales", "note_files", "pictures"))
        connection.execute(f"DELETE FROM {table} WHERE rowid IN (SELECT rowid FROM {table} ORDER BY random() LIMIT 2)")
    return "orphans"


WAYS: Final[tuple[Callable[[Path, Random], str], ...]] = (
    flip,
    flip,
    cut,
    part_gone,
    other_log,
    endless,
    broken_chain,
    entries_gone,
    orphans,
)


class Trial:
    """One damaged copy after the other."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        os.environ["XDG_CONFIG_HOME"] = str(folder / "settings")
        first = folder / "made"
        first.mkdir()
        self.whole = made(first / "team.db")
        self.content = content_of(first / "team.db")
        self.counts: Counter[str] = Counter()
        self.faults: list[str] = []

    def case(self, seed: int) -> None:
        """One copy, all commands."""
        draw = Random(seed)
        folder = self.folder / "case"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        spoilt = folder / "team.db"
        spoilt.write_bytes(self.whole)
        way = draw.choice(WAYS)(spoilt, draw)
        self.counts[way] += 1
        kept = {one: Path(f"{spoilt}{one}").read_bytes() for one in ("", "-wal") if Path(f"{spoilt}{one}").exists()}
        is_same = content_of(spoilt) == self.content

        def again() -> None:
            for one in folder.iterdir():
                if one.is_dir():
                    shutil.rmtree(one)
                else:
                    one.unlink()
            for end, held in kept.items():
                Path(f"{spoilt}{end}").write_bytes(held)

        def fault(what: str, done: Ran) -> None:
            self.faults.append(f"{seed} ({way}): {what}: {done.code} {(done.err or done.out)[-400:]!r}")

        is_sound = self._deep(spoilt, way, is_same=is_same, fault=fault)
        again()
        self._take_back(spoilt, way, fault)
        again()
        self._backup(spoilt, way, is_sound=is_sound, fault=fault)
        again()
        self._over_good(spoilt, way, is_sound=is_sound, fault=fault)
        again()
        self._good_over_it(spoilt, way, kept, fault)

    def _ran(self, what: str, way: str, done: Ran, fault: Callable[[str, Ran], None]) -> None:
        self.counts[f"{what}: {done.code}"] += 1
        if "Traceback" in done.err + done.out or "program_failed" in done.err or "fault of the program" in done.err:
            fault(f"{what} failed without words", done)
        if done.code not in (0, 1, 2) or (done.code == 2 and not done.err.strip()):
            fault(f"{what} ended oddly", done)

    def _deep(self, spoilt: Path, way: str, *, is_same: bool, fault: Callable[[str, Ran], None]) -> bool:
        before = {one.name: one.read_bytes() for one in spoilt.parent.iterdir() if not one.name.endswith("-shm")}
        done = run(spoilt, "check", "--deep", "--json")
        self._ran("deep", way, done, fault)
        after = {one.name: one.read_bytes() for one in spoilt.parent.iterdir() if not one.name.endswith("-shm")}
        if {name: held for name, held in after.items() if held} != {
            name: held for name, held in before.items() if held
        }:
            fault("check --deep wrote something", done)
        if done.code == 2:
            return False
        found = json.loads(done.out)
        if (done.code == 0) != found["in_order"]:
            fault("exit code and words of check --deep differ", done)
        if found["in_order"] and not is_same:
            self.counts["deep: not noticed"] += 1
        return bool(found["in_order"])

    def _take_back(self, spoilt: Path, way: str, fault: Callable[[str, Ran], None]) -> None:
        before = content_of(spoilt)
        done = run(spoilt, "take-back")
        self._ran("take-back", way, done, fault)
        if done.code == 2 and content_of(spoilt) != before:
            fault("take-back refused, and changed something", done)
        if done.code != 2 and before is not None:
            after = run(spoilt, "check", "--deep", "--json")
            if after.code == 2:
                fault("after take-back the file cannot be opened", after)

    def _backup(self, spoilt: Path, way: str, *, is_sound: bool, fault: Callable[[str, Ran], None]) -> None:
        before = content_of(spoilt)
        done = run(spoilt, "backup", "--copies", "1", "--json")
        self._ran("backup", way, done, fault)
        copies = [one for one in spoilt.parent.iterdir() if one.name.startswith("team-") and one.suffix == ".db"]
        if done.code == 2:
            if copies:
                fault("backup refused, and a copy is there", done)
            return
        data = json.loads(done.out)
        if content_of(Path(data["copy"])) != before or before is None:
            fault("a copy that is not what the file holds", done)
        if not is_sound and not any(data["faults"].values()):
            self.counts[f"backup without a word: {way}"] += 1

    def _over_good(self, spoilt: Path, way: str, *, is_sound: bool, fault: Callable[[str, Ran], None]) -> None:
        good = spoilt.with_name("good.db")
        good.write_bytes(self.whole)
        done = run(good, "backup", "--bring-back", spoilt, "--json")
        self._ran("over a good file", way, done, fault)
        if done.code == 2:
            if good.read_bytes() != self.whole:
                fault("a damaged copy was refused, and the good file is another", done)
            return
        kept = json.loads(done.out)["kept"]
        if kept is None or content_of(Path(kept)) != self.content:
            fault("the good file is not kept", done)
        if not is_sound and not any(json.loads(done.out)["faults"].values()):
            self.counts[f"brought back without a word: {way}"] += 1

    def _good_over_it(self, spoilt: Path, way: str, held: dict[str, bytes], fault: Callable[[str, Ran], None]) -> None:
        good = spoilt.with_name("good.db")
        good.write_bytes(self.whole)
        done = run(spoilt, "backup", "--bring-back", good, "--other-book", "--json")
        self._ran("good one back", way, done, fault)
        if done.code == 2:
            if spoilt.read_bytes() != held[""]:
                fault("a good copy was refused, and the file is another", done)
            return
        if content_of(spoilt) != self.content:
            fault("what came back is not the good copy", done)
        kept = json.loads(done.out)["kept"]
        if kept is None or Path(kept).stat().st_size == 0 != len(held[""]):
            fault("what was there is not kept", done)


def main() -> int:
    """Run them; 1 if any showed a fault."""
    parser = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0, help="the first seed")
    parser.add_argument("--one", type=int, help="this seed alone")
    given = parser.parse_args()
    seeds = [given.one] if given.one is not None else range(given.seed, given.seed + given.count)
    with TemporaryDirectory() as folder:
        trial = Trial(Path(folder))
        for number, seed in enumerate(seeds, start=1):
            trial.case(seed)
            print(f"\r{number} copies, {len(trial.faults)} faults", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for what, count in sorted(trial.counts.items()):
        print(f"{what}: {count}")
    for one in trial.faults:
        print(one)
    return bool(trial.faults)


if __name__ == "__main__":
    sys.exit(main())
