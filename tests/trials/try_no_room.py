"""Let the disk be full at many points, or allow no writing; see what is said and left, and do it again with room.

Each case runs on a small disk in memory (tmpfs) with so many bytes free, the temporary files on it too or, every other
time, on a disk with room; then on one that is mounted for reading alone. It needs the right to mount. After each: exit
code 2 and words, or done; the book as it was, or all of it; with room the same again ends well, and everything is as it
is elsewhere.

Run by hand:  nice -n 10 python tests/trials/try_no_room.py [CASE...] [--count 20]
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1]))  # where the helpers are, when run by hand

from killed import forked, load_all
from same_rows import same_rows, what_differs
from trials.trial_cases import CASES, Case, case_named, faults_in, in_folder
from trials.try_kills import Undisturbed, files_in, undisturbed

_PAGE: Final = 4096
_ROOM: Final = 64_000_000


@contextmanager
def small_disk(size: int, at: Path) -> Iterator[Path]:
    """A disk in memory of that many bytes."""
    at.mkdir(exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "trial", str(at)], check=True)
    try:
        yield at
    finally:
        os.chdir("/")
        subprocess.run(["umount", str(at)], check=True)


def mounted_again(at: Path, options: str) -> None:
    """Change the size of a disk, or whether it can be written."""
    subprocess.run(["mount", "-o", f"remount,{options}", str(at)], check=True)


def used_by(folder: Path) -> int:
    """How much of a disk in memory its files take."""
    return sum(_PAGE * (-(-one.stat().st_size // _PAGE) + 1) for one in folder.rglob("*"))


def try_here(
    case: Case, made: Path, room: Path, usual: Undisturbed, free: int | None, *, is_apart: bool = False
) -> list[str]:
    """Run it with so many bytes free, or with no writing allowed; then with room. Its temporary files may lie apart,
    on a disk with room."""
    size = _ROOM if free is None else used_by(made) + 12 * _PAGE + free
    with small_disk(size, room / "disk") as disk:
        here = Path(shutil.copytree(made, disk / "here"))
        if is_apart:
            shutil.rmtree(room / "apart", ignore_errors=True)
            (room / "apart").mkdir()
            (disk / "beside").symlink_to(room / "apart")
        else:
            (disk / "beside").mkdir()
        for name in ("xdg_config_home", "xdg_cache_home", "tmpdir", "sqlite_tmpdir"):
            (disk / "beside" / name).mkdir()
        if free is None:
            mounted_again(disk, "ro")
        ended = forked(in_folder(here, case.act), room / "said.txt", says_when=True)
        faults = []
        if ended.code not in case.codes | {2} or "Traceback" in ended.said:
            faults.append(f"ends with {ended.code}: {ended.said[-600:]}")
        if not ended.said.strip() and ended.code:
            faults.append("it says nothing")
        mounted_again(disk, f"rw,size={_ROOM}")
        book = here / case.holds
        if book.exists():
            faults += faults_in(book)
            if faults:
                return faults
            held = same_rows(book, case.between)
            if held not in (usual.before, usual.after) and not (case.has_parts or case.is_new):
                faults.append("neither all nor nothing: " + "\n    ".join(what_differs(usual.after, held)))
            if ended.code == 2 and free is None and held != usual.before:
                faults.append("something was changed")
        elif not case.is_new:
            faults.append("the book is gone")
        if case.says and case.says in ended.said:
            return faults
        again = forked(in_folder(here, case.act), room / "said.txt", says_when=True)
        if again.code not in case.codes | case.again:
            faults.append(f"the repeat ends with {again.code}: {again.said[-600:]}")
        held = same_rows(book) if book.exists() else []
        if held != usual.after:
            faults.append("the repeat differs: " + "\n    ".join(what_differs(usual.after, held)))
        left, missing = files_in(here, case) - usual.files, usual.files - files_in(here, case)
        faults += [f"left behind: {name}" for name in left if not any(one in name for one in case.beside)]
        faults += [f"missing: {name}" for name in missing]
        _said[case.name][f"{ended.code}: {_first_words(ended.said)}" if ended.code == 2 else "done"] += 1
        return faults


_said: dict[str, Counter[str]] = {one.name: Counter() for one in CASES}


def _first_words(said: str) -> str:
    line = next((one for one in said.splitlines() if one.startswith("bevelbook: ")), said[:80])
    return line.removeprefix("bevelbook: ").partition(". ")[0][-90:]


def try_case(case: Case, count: int, room: Path) -> int:
    """Try a case with less and less room; prints what came of it, and returns how many left a fault."""
    made = room / "made" / "in"
    shutil.rmtree(made.parent, ignore_errors=True)
    made.mkdir(parents=True)
    case.make(made)
    usual = undisturbed(case, made, room / "usual")
    needed = used_by(room / "usual") + 2_000_000
    faulty = 0
    sizes = (None, *(_PAGE * (needed * number // count // _PAGE) for number in range(count)))
    for number, free in enumerate(sizes):
        faults = try_here(case, made, room, usual, free, is_apart=number % 2 == 0)
        if faults:
            faulty += 1
            print(
                f"{case.name}: {'read only' if free is None else f'{free:,} bytes free'}:",
                *faults,
                sep="\n  ",
                flush=True,
            )
    said = "; ".join(f"{number} x {words}" for words, number in _said[case.name].most_common())
    print(f"{case.name}: {count} sizes and read only, {faulty} with faults: {said}", flush=True)
    return faulty


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("cases", nargs="*", metavar="CASE", help=", ".join(one.name for one in CASES))
    parser.add_argument("--count", type=int, default=20, help="sizes of the disk for each case")
    asked = parser.parse_args()
    cases = [case_named(name) for name in asked.cases] or list(CASES)
    load_all()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as room:
        faulty = sum(try_case(case, asked.count, Path(room)) for case in cases)
    sys.exit(1 if faulty else 0)


if __name__ == "__main__":
    main()
