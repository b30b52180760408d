"""Tries one subject with many made cases, by hand: ``PYTHONPATH=tests python -m trials.run SUBJECT --count 100000``.

Each case is made of the seed and its number alone, so that ``--only NUMBER`` plays one again. What a subject is and
what must hold of a case its module says. At the end stand the cases that really ran, the outcomes, the slowest case by
processor time and the most memory that the process held.
"""

from __future__ import annotations

import argparse
import importlib
import os
import random
import resource
import signal
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from time import monotonic, process_time
from types import FrameType
from typing import Final, NamedTuple

SUBJECTS: Final = tuple(sorted(path.stem for path in Path(__file__).parent.glob("of_*.py")))
SLOWEST_S: Final = 2.0
"""No case may take more processor time."""
GIVEN_UP_S: Final = 30.0
"""A case that takes more is stopped."""
MOST_SHOWN: Final = 30
"""Kinds of fault that are shown, each with its first case."""

Case = Callable[[random.Random, Path], str]
"""Makes one case of a random source, tries it, and says in a word how it came out; an empty folder is its own.

Anything that it raises is a fault of what was tried."""


class TookTooLong(BaseException):
    """A case that was stopped: no handler of what is tried takes it for its own."""


class Kind(NamedTuple):
    """Faults of one kind: how many, and the first of them."""

    first: int
    words: str
    count: int = 1


class Trial:
    """What was found so far."""

    def __init__(self) -> None:
        self.ran = 0
        self.outcomes: Counter[str] = Counter()
        self.faults: dict[str, Kind] = {}
        self.slowest_s = 0.0
        self.slowest = 0

    def note(self, number: int, fault: BaseException | str) -> None:
        words = fault if isinstance(fault, str) else _in_words(fault)
        kind = words.split("|")[0]
        held = self.faults.get(kind)
        self.faults[kind] = held._replace(count=held.count + 1) if held else Kind(number, words)


def source_of(seed: int, number: int) -> random.Random:
    """The random source of one case."""
    return random.Random(f"{seed}/{number}")


def case_of(subject: str) -> Case:
    """How one case of a subject is made and tried."""
    return importlib.import_module(f"trials.{subject}").case  # type: ignore[no-any-return]


def try_cases(case: Case, numbers: Sequence[int], seed: int, seconds: float = float("inf")) -> Trial:
    """Try these cases, and stop after so many seconds."""
    trial = Trial()
    begun = monotonic()
    signal.signal(signal.SIGPROF, _stop)
    with tempfile.TemporaryDirectory(prefix="trials-", dir=_memory()) as folder:
        for number in numbers:
            if monotonic() - begun > seconds:
                break
            own = Path(folder) / "case"
            own.mkdir(exist_ok=True)
            before = process_time()
            signal.setitimer(signal.ITIMER_PROF, GIVEN_UP_S)
            try:
                trial.outcomes[case(source_of(seed, number), own)] += 1
            except KeyboardInterrupt:
                break
            except BaseException as fault:
                trial.note(number, fault)
            finally:
                signal.setitimer(signal.ITIMER_PROF, 0)
            took = process_time() - before
            if took > trial.slowest_s:
                trial.slowest_s, trial.slowest = took, number
            if took > SLOWEST_S:
                trial.note(number, f"took over {SLOWEST_S:g} s | {took:.1f} s")
            trial.ran += 1
            _empty(own)
    return trial


def _memory() -> str | None:
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else None


def _empty(folder: Path) -> None:
    from shutil import rmtree

    for path in folder.iterdir():
        path.chmod(0o700)
        if path.is_dir() and not path.is_symlink():
            rmtree(path)
        else:
            path.unlink()


def _stop(signal_number: int, frame: FrameType | None) -> None:
    raise TookTooLong(f"stopped after {GIVEN_UP_S:g} s")


def _in_words(fault: BaseException) -> str:
    """The kind of a fault and where it came from, then, behind a |, its own words."""
    frames = traceback.extract_tb(fault.__traceback__)
    last = next((one for one in reversed(frames) if "bevelbook" in one.filename), frames[-1])
    own = f"{Path(last.filename).name}:{last.lineno} in {last.name}"
    said = str(fault)
    kind = said.split(":")[0][:60] if isinstance(fault, AssertionError) else ""
    return f"{type(fault).__name__} {kind} ({own}) | {said[:1000]}"


def print_trial(subject: str, seed: int, trial: Trial) -> int:
    """Print what was found; gives 1 if anything was."""
    for kind in list(trial.faults.values())[:MOST_SHOWN]:
        print(f"  {kind.count} x, first --seed {seed} --only {kind.first}: {kind.words}")
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    of_children_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    outcomes = ", ".join(f"{word} {count}" for word, count in trial.outcomes.most_common())
    print(
        f"{subject}: {trial.ran} cases ran with seed {seed} ({outcomes}); "
        f"{sum(kind.count for kind in trial.faults.values())} faults of {len(trial.faults)} kinds; "
        f"slowest {trial.slowest_s:.3f} s (case {trial.slowest}); "
        f"most memory {most_mb:.0f} MB, of children {of_children_mb:.0f} MB",
        flush=True,
    )
    return 1 if trial.faults else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("subjects", nargs="*", default=SUBJECTS, help=f"one or more of {', '.join(SUBJECTS)}")
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="the number of the first case")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop a subject after so many")
    parser.add_argument("--only", type=int, help="try this case alone, and show where it fails")
    asked = parser.parse_args()
    found = 0
    for subject in asked.subjects:
        case = case_of(subject)
        if asked.only is not None:
            with tempfile.TemporaryDirectory(prefix="trials-", dir=_memory()) as folder:
                print(case(source_of(asked.seed, asked.only), Path(folder)))
            continue
        trial = try_cases(case, range(asked.first, asked.first + asked.count), asked.seed, asked.seconds)
        found |= print_trial(subject, asked.seed, trial)
    return found


if __name__ == "__main__":
    sys.exit(main())
