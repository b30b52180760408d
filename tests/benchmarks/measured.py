"""What the benchmarks share: a command or a function in its own process, turns, ratios, the peers, a row of figures.

What counts is a ratio turn by turn, by the clock and by the processor (user and system, of a process and of those that
it started). The rows that the scripts print form one table, which stands in DEVELOPERS.md. A script ends with 1 if a
row is not met.
"""

from __future__ import annotations

import argparse
import os
import pickle
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import venv
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import metadata
from pathlib import Path
from typing import Any, Final, NamedTuple

COLUMNS: Final = ("work", "size", "against", "by the clock", "by the processor", "at most", "met")
PEERS: Final = ("datasette", "sqlite-utils")
LOADED: Final = 0.5
"""Tasks that wait for a processor, at the beginning, from which a machine does not count as quiet."""


class Taken(NamedTuple):
    """One run: seconds of the clock, seconds of the processor, and the peak of memory."""

    seconds: float
    processor_s: float
    peak_mb: float

    def __str__(self) -> str:
        return f"{self.seconds:.2f} s, processor {self.processor_s:.2f} s, {self.peak_mb:.0f} MB"


class Ratio(NamedTuple):
    """Medians of ratios turn by turn."""

    seconds: float
    processor_s: float


# One run


def run(words: Sequence[str], allowed: tuple[int, ...] = (0,), folder: Path | None = None) -> tuple[Taken, str]:
    """Run a command to its end, and give what it took and printed; ends the script where it ended otherwise.

    A command of another environment must not find the code of this one. The peak is never less than what this script
    itself holds when it starts the command (Linux counts it so): write large files row by row.
    """
    own = Path(words[0]).parent == Path(sys.executable).parent
    environment = {name: value for name, value in os.environ.items() if own or name != "PYTHONPATH"}
    began = time.perf_counter()
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment, cwd=folder)
    assert process.stdout is not None
    out = process.stdout.read()
    _, status, usage = os.wait4(process.pid, 0)
    seconds = time.perf_counter() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    process.stdout.close()
    if process.returncode not in allowed:
        raise SystemExit(f"{' '.join(words[:4])} ended with {process.returncode}")
    return Taken(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024), out


def called(function: Callable[[], Any]) -> tuple[Taken, Any]:
    """Call a function in a process of its own, and give what it took and what it returned, by ``pickle``.

    What it calls for the first time is loaded beforehand, if this script has loaded it.
    """
    reading, writing = os.pipe()
    sys.stdout.flush()
    began = time.perf_counter()
    pid = os.fork()
    if pid == 0:  # the child: no cleaning up of what the script holds
        ended = 1
        try:
            with os.fdopen(writing, "wb") as out:
                pickle.dump(function(), out)
            ended = 0
        finally:
            if ended:
                sys.excepthook(*sys.exc_info())
            os._exit(ended)
    os.close(writing)
    with os.fdopen(reading, "rb") as answer:
        found = answer.read()
    _, status, usage = os.wait4(pid, 0)
    seconds = time.perf_counter() - began
    if status:
        raise SystemExit(f"{function} failed")
    return Taken(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024), pickle.loads(found)


def here(function: Callable[[], object]) -> Taken:
    """Call a function in this process, where what it works on has to be loaded before it is measured."""
    used, began = resource.getrusage(resource.RUSAGE_SELF), time.perf_counter()
    function()
    seconds, now = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_SELF)
    return Taken(seconds, now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime, now.ru_maxrss / 1024)


def command(name: str) -> str:
    """A command of the environment that runs this script."""
    beside = Path(sys.executable).with_name(name)
    found = str(beside) if beside.exists() else shutil.which(name)
    if found is None:
        raise SystemExit(f"{name} is not installed here")
    return found


def empty(db: Path) -> None:
    """Take a database away, with what lies beside it."""
    for old in db.parent.glob(f"{db.name}*"):
        old.unlink()


# Turns and ratios


def in_turn(
    ways: Mapping[str, Callable[[], Taken]], turns: int, *, first_left_out: bool = False, say: bool = True
) -> dict[str, list[Taken]]:
    """Each way once a turn; each turn begins with another of them. The first turn may be there to load files only."""
    taken: dict[str, list[Taken]] = {name: [] for name in ways}
    names = list(ways)
    for turn in range(-first_left_out, turns):
        for name in (*names[turn % len(names) :], *names[: turn % len(names)]):
            one = ways[name]()
            if turn < 0:
                continue
            taken[name].append(one)
            if say:
                print(f"  {name}: {one}", flush=True)
    return taken


def ratio(ours: Sequence[Taken], theirs: Sequence[Taken]) -> Ratio:
    """The medians of the ratios turn by turn, by the clock and by the processor."""
    pairs = list(zip(ours, theirs, strict=True))
    return Ratio(
        statistics.median(a.seconds / b.seconds for a, b in pairs),
        statistics.median(a.processor_s / b.processor_s for a, b in pairs),
    )


def together(*parts: Sequence[Taken]) -> list[Taken]:
    """What several commands took one after the other, turn by turn: sums, and the highest peak."""
    return [
        Taken(sum(one.seconds for one in each), sum(one.processor_s for one in each), max(one.peak_mb for one in each))
        for each in zip(*parts, strict=True)
    ]


def middle(taken: Sequence[Taken]) -> Taken:
    """The median of each figure."""
    return Taken(*(statistics.median(figures) for figures in zip(*taken, strict=True)))


def growth(cost_by_size: Mapping[int, float]) -> float:
    """How many times the dearest size costs what the cheapest one does: 1 is flat. Give it the cost of a row, or of a
    page, or memory, by the number of rows."""
    return max(cost_by_size.values()) / min(cost_by_size.values())


# The peers


def add_peers(parser: argparse.ArgumentParser) -> None:
    """The option that names an environment of the peers."""
    parser.add_argument(
        "--peers",
        type=Path,
        metavar="BIN",
        help="the folder bin of an environment with datasette and sqlite-utils, without bevelbook; made if not given",
    )


@contextmanager
def peers(given: Path | None) -> Iterator[Path]:
    """The folder ``bin`` of an environment with plain Datasette and sqlite-utils, as those that are installed here.

    Without one given it is made in a temporary folder, which takes half a minute.
    """
    if given is not None:
        if missing := [name for name in PEERS if not (given / name).exists()]:
            raise SystemExit(f"{given} has no {' and no '.join(missing)}")
        yield given.absolute()
        return
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        bin_folder = Path(folder) / "bin"
        wanted = []
        for name in PEERS:
            try:
                wanted.append(f"{name}=={metadata.version(name)}")
            except metadata.PackageNotFoundError:
                wanted.append(name)
        run([str(bin_folder / "python"), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", *wanted])
        yield bin_folder


# The table


class Table:
    """The rows of one script; what all scripts print together is one table."""

    def __init__(self) -> None:
        self._load = os.getloadavg()
        self._missed = False
        self._rows: list[tuple[str, ...]] = []

    def ratio(self, work: str, size: str, against: str, found: Ratio, clock: float | None, work_: float | None) -> None:
        """A row of two ratios and what each may be at most; None is only said."""
        limits = [(found.seconds, clock), (found.processor_s, work_)]
        wanted = [most for _, most in limits if most is not None]
        most = " and ".join(f"{most:g}" for most in dict.fromkeys(wanted)) if wanted else ""
        met = all(figure <= limit for figure, limit in limits if limit is not None) if wanted else None
        self._row((work, size, against, f"{found.seconds:.2f}", f"{found.processor_s:.2f}", most), met)

    def figure(self, work: str, size: str, against: str, figure: float, unit: str, most: float | None) -> None:
        """A row of one figure with its unit: memory, time of a row, how it grows."""
        limit = "" if most is None else f"{most:g}{unit}"
        shown = f"{figure:.0f}" if figure >= 100 else f"{figure:.3g}"
        self._row((work, size, against, "", f"{shown}{unit}", limit), None if most is None else figure <= most)

    def at_least(self, work: str, size: str, against: str, figure: float, unit: str, least: float) -> None:
        """A row of one figure that is to be large, such as requests a second."""
        self._row((work, size, against, f"{figure:.3g}{unit}", "", f"at least {least:g}{unit}"), figure >= least)

    def end(self) -> None:
        """Print the rows and how loaded the machine was; ends the script with 1 if a row is not met."""
        print("\n| " + " | ".join(COLUMNS) + " |")
        print("| " + " | ".join("---" for _ in COLUMNS) + " |")
        for row in self._rows:
            print("| " + " | ".join(row) + " |")
        begun, ended = self._load[0], os.getloadavg()[0]
        quiet = "quiet" if begun < LOADED else "NOT quiet: the clock counts little"
        print(f"\nload {begun:.2f} at the beginning, {ended:.2f} at the end, {os.cpu_count()} processors: {quiet}")
        if self._missed:
            sys.exit(1)

    def _row(self, cells: tuple[str, ...], met: bool | None) -> None:
        self._missed |= met is False
        self._rows.append((*cells, {True: "yes", False: "**no**", None: "-"}[met]))
