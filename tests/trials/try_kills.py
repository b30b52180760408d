"""Kill what a command, or a form of a phone, does at many moments; see what is left, and do the same again.

Half of the kills are before steps that change a file, half in between, most of these close to the commit and behind it.
After each: the book is sound and holds all or nothing; the same again ends well, and everything is as without the kill.
With --faults nothing is killed: each step fails once, in each of three ways.

Run by hand:  nice -n 10 python tests/trials/try_kills.py [CASE...] [--count 200] [--seed 1] [--faults]
"""

from __future__ import annotations

import argparse
import errno
import random
import re
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple

sys.path.append(str(Path(__file__).parents[1]))  # where the helpers are, when run by hand

from killed import Ended, Moment, forked, load_all
from same_rows import same_rows, what_differs
from trials.trial_cases import CASES, Case, case_named, faults_in, in_folder

_WITH_A_FAULT: Final = frozenset({0, 1, 2, 130})
_BESIDE_ONE: Final = ("-wal", "-shm", "-journal")
_NUMBERED: Final = re.compile(r"-\d{4}-\d\d-\d\d(?:-\d{4})?(?:-\d+)?")


class Undisturbed(NamedTuple):
    """What a case leaves where nothing ends it: the rows before and after, the files, and how it went."""

    before: list[str]
    after: list[str]
    files: Counter[str]
    ended: Ended


class Tried(NamedTuple):
    """What came of one kill: where it was, whether it was all or nothing, and the faults."""

    where: str
    state: str
    faults: list[str]
    named: list[str]


def files_in(folder: Path, case: Case) -> Counter[str]:
    """The files of a folder by name, and of the temporary files beside it; without days in names."""
    found: Counter[str] = Counter()
    for root in (folder, folder.parent / "beside" / "tmpdir"):
        for one in sorted(root.rglob("*")):
            name = _NUMBERED.sub("-N", str(one.relative_to(root)))
            if one.is_file() and not name.endswith(_BESIDE_ONE):
                found[re.sub(r"(before-(?:merge|step-\d+))-\d+", r"\1", name)] += 1
    return found


def undisturbed(case: Case, made: Path, folder: Path) -> Undisturbed:
    """Do it once. Raises SystemExit where that ends badly."""
    before = [] if case.is_new else same_rows(made / case.holds)
    again = fresh(made, folder)
    ended = forked(in_folder(again, case.act), folder / "said.txt", says_when=True)
    if ended.code not in case.codes:
        raise SystemExit(f"{case.name} ends with {ended.code}:\n{ended.said}")
    faults = faults_in(again / case.holds)
    if faults:
        raise SystemExit(f"{case.name} leaves a book with faults: {faults}")
    return Undisturbed(before, same_rows(again / case.holds), files_in(again, case), ended)


def fresh(made: Path, folder: Path) -> Path:
    """A new copy of a folder."""
    shutil.rmtree(folder, ignore_errors=True)
    return Path(shutil.copytree(made, folder / "here"))


def moments(ended: Ended, count: int, draw: random.Random) -> Iterator[Moment]:
    """So many moments over a run: before a step, and at times; of these half close to a commit."""
    steps = ended.steps
    last = steps[-1][1]
    commits = [place for place, (name, _) in enumerate(steps) if name == "before COMMIT"] or [0]
    for number in range(count):
        way = number % 4
        if way < 2:
            yield Moment(draw.randrange(len(steps) - 1))
        elif way == 2:
            yield Moment(None, draw.uniform(0, last))
        else:
            place = draw.choice(commits)
            long = steps[min(place + 1, len(steps) - 1)][1] - steps[place][1]
            rest = last - steps[place][1]
            yield Moment(place, draw.uniform(0, draw.choice((2 * long, 5 * long, rest))))


def failing(ended: Ended) -> Iterator[Moment]:
    """Each step that fails once: with a full disk, a fault of SQLite, and Ctrl+C."""
    for number in range(len(ended.steps) - 1):
        for fault in (OSError(errno.ENOSPC, "No space left on device"), sqlite3.OperationalError("disk I/O error")):
            yield Moment(number, raises=fault)
        yield Moment(number, raises=KeyboardInterrupt())


def content_of(folder: Path) -> bytes:
    """A hash of all files of a folder, and of the temporary ones beside it."""
    found = sha256()
    for one in sorted(folder.rglob("*")):
        found.update(f"\0{one.relative_to(folder)}\0".encode() + (one.read_bytes() if one.is_file() else b""))
    return found.digest()


def try_one(
    case: Case, made: Path, folder: Path, usual: Undisturbed, moment: Moment, known: dict[bytes, Tried]
) -> Tried:
    """Kill it at that moment, look, and do it again. What is left byte for byte as before is looked at once."""
    here = fresh(made, folder)
    book = here / case.holds
    ended = forked(in_folder(here, case.act), folder / "said.txt", moment, says_when=True)
    where = f"step {moment.step}" if moment.step is not None else "time"
    faults: list[str] = []
    if moment.raises is not None:
        faults += [f"ends with {ended.code}: {ended.said[-600:]}"] if ended.code not in _WITH_A_FAULT else []
    elif not ended.is_killed and ended.code not in case.codes:
        faults.append(f"ends with {ended.code} before the kill: {ended.said[-600:]}")
    left_so = content_of(folder)
    if ended.is_killed and left_so in known:
        return known[left_so]
    state = "none"
    if book.exists() and book.stat().st_size:
        faults += faults_in(book)
        if faults:
            return Tried(where, "damaged", faults, [])
        held = same_rows(book, case.between)
        state = "all" if held == usual.after else "nothing" if held == usual.before else "some of"
        if state == "some of" and not case.has_parts:
            faults.append("neither all nor nothing: " + "\n    ".join(what_differs(usual.after, held)))
    elif not case.is_new:
        faults.append("the book is gone")
    if case.says and case.says in ended.said:
        return Tried(where, f"{state} and said", faults, [])
    again = forked(in_folder(here, case.act), folder / "said.txt", says_when=True)
    if again.code not in case.codes | case.again:
        faults.append(f"the repeat ends with {again.code}: {again.said[-600:]}")
    if book.exists():
        faults += faults_in(book)
        held = same_rows(book)
        if held != usual.after:
            faults.append("the repeat differs: " + "\n    ".join(what_differs(usual.after, held)))
    else:
        faults.append("the repeat leaves no book")
    left, missing = files_in(here, case) - usual.files, usual.files - files_in(here, case)
    named = [name for name in left if any(one in name for one in case.beside)]
    faults += [f"left behind: {name}" for name in left if name not in named]
    faults += [f"missing: {name}" for name in missing]
    tried = Tried(where, state if ended.is_killed or moment.raises else f"not killed, {state}", faults, named)
    if ended.is_killed:
        known[left_so] = tried
    return tried


def try_case(case: Case, count: int, seed: int, room: Path, *, by_faults: bool) -> int:
    """Kill a case so many times, or have each step fail; prints what came of it, and returns how many left a fault."""
    made = room / "made" / "in"
    shutil.rmtree(made.parent, ignore_errors=True)
    made.mkdir(parents=True)
    case.make(made)
    usual = undisturbed(case, made, room / "usual")
    twice = undisturbed(case, made, room / "usual")
    if usual.after != twice.after:
        print(f"{case.name}: two undisturbed runs differ:", *what_differs(usual.after, twice.after), sep="\n  ")
    draw = random.Random(f"{case.name} {seed}")
    states: Counter[str] = Counter()
    known: dict[bytes, Tried] = {}
    copies = 0
    faulty = 0
    tries = list(failing(usual.ended) if by_faults else moments(usual.ended, count, draw))
    for moment in tries:
        tried = try_one(case, made, room / "tried", usual, moment, known)
        states[tried.state] += 1
        copies += bool(tried.named)
        if tried.faults:
            faulty += 1
            step = usual.ended.steps[moment.step][0] if moment.step is not None else ""
            print(f"{case.name}: {moment} {step}:", *tried.faults, sep="\n  ", flush=True)
    said = ", ".join(f"{number} {state}" for state, number in sorted(states.items()))
    what = f"{len(tries)} {'faults' if by_faults else 'kills'}"
    long = f"{usual.ended.steps[-1][1]:.2f} s, {len(usual.ended.steps)} steps"
    left = f"{len(known)} ways to be left, {copies} with one more copy that is kept"
    print(f"{case.name}: {what} ({long}): {said}; {left}; {faulty} with faults", flush=True)
    return faulty


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("cases", nargs="*", metavar="CASE", help=", ".join(one.name for one in CASES))
    parser.add_argument("--count", type=int, default=200, help="kills of each case")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--faults", action="store_true", help="have each step fail in place of kills")
    asked = parser.parse_args()
    cases = [case_named(name) for name in asked.cases] or list(CASES)
    load_all()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as room:
        faulty = sum(try_case(case, asked.count, asked.seed, Path(room), by_faults=asked.faults) for case in cases)
    sys.exit(1 if faulty else 0)


if __name__ == "__main__":
    main()
