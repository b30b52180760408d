"""Whole-process time of starting the command line, against ``sqlite-utils --version``, in turn in one run.

Run by hand:  python tests/benchmarks/bench_startup.py
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path

TURNS = 7
AT_MOST = {"help": 0.5, "calc": 1.0}
COMMANDS = {
    "help": ["bevelbook", "--help"],
    "calc": ["bevelbook", "calc", "fill-target", "--dry-mass", "12.4", "--oil-mass", "1.86"],
    "peer": ["sqlite-utils", "--version"],
}


def located(words: list[str]) -> list[str]:
    """The command of the environment that runs this script."""
    beside = Path(sys.executable).with_name(words[0])
    found = str(beside) if beside.exists() else shutil.which(words[0])
    if found is None:
        raise SystemExit(f"{words[0]} is not installed here")
    return [found, *words[1:]]


def seconds(words: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(words, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def main() -> None:
    commands = {name: located(words) for name, words in COMMANDS.items()}
    taken: dict[str, list[float]] = {name: [] for name in commands}
    for turn in range(TURNS + 1):
        for name, words in commands.items():
            one = seconds(words)
            if turn:
                taken[name].append(one)
    middle = {name: statistics.median(times) for name, times in taken.items()}
    for name, most in AT_MOST.items():
        ratio = statistics.median(a / b for a, b in zip(taken[name], taken["peer"], strict=True))
        print(f"{name}: {middle[name]:.3f} s, {ratio:.2f} x the peer's {middle['peer']:.3f} s (wanted: at most {most})")


if __name__ == "__main__":
    main()
