"""Histories by their seed, played and merged, counted; and one that shows a fault made as short as it goes."""

from __future__ import annotations

import traceback
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import process_time
from typing import Final, NamedTuple

from laptops import Laptop, memory
from meetings import EVERY_WAY, Content, Unequal, Way, dumped, meet_all_ways
from random_histories import History, Player, history_of, player
from steered import steered

from bevelbook.meeting.union import merge_into


class Fault(NamedTuple):
    """What a history showed; ``kind`` is in short what."""

    seed: int
    kind: str
    words: str
    ways: int


@dataclass
class Tally:
    """What was done, summed up."""

    histories: int = 0
    acts: int = 0
    meetings: int = 0
    clashes: int = 0
    clashing: int = 0
    processor_s: float = 0.0
    what: Counter[str] = field(default_factory=Counter)
    faults: list[Fault] = field(default_factory=list)

    def __add__(self, other: Tally) -> Tally:
        return Tally(
            self.histories + other.histories,
            self.acts + other.acts,
            self.meetings + other.meetings,
            self.clashes + other.clashes,
            self.clashing + other.clashing,
            self.processor_s + other.processor_s,
            self.what + other.what,
            self.faults + other.faults,
        )


CONTENTS: Final[tuple[Content, ...]] = (dumped,)
"""What must be equal after meetings in different orders."""


def take_in(laptop: Laptop, sent: Path) -> None:
    """Take in what another laptop sent, by the real way."""
    merge_into(laptop.connection, laptop.path, sent)


def ways_of(seed: int, count: int) -> list[Way]:
    """Some of the ways in which three laptops meet, drawn by the seed; all of them in a drawn order, if so many."""
    return Random(f"ways {seed}").sample(EVERY_WAY, min(count, len(EVERY_WAY)))


class Met:
    """Laptops that play histories and meet, one history after the other."""

    def __init__(self, folder: Path, contents: Iterable[Content] = CONTENTS) -> None:
        self.folder = folder
        self.contents = tuple(contents)
        self.player: Player = player(folder, take_in)

    def meet(self, history: History, ways: int, *, thorough: bool = True) -> int:
        """Play one and merge it; returns how many meetings there were at its end. Raises what went wrong."""
        self.player.play(history)
        with steered(self.player.steering):
            return meet_all_ways(
                self.player,
                ways_of(history.seed, ways),
                contents=self.contents,
                thorough=thorough,
                folder=self.folder,
                random=Random(f"twice {history.seed}"),
            )

    def fault_of(self, history: History, ways: int) -> Fault | None:
        """What a history shows; None where all is well."""
        try:
            self.meet(history, ways)
        except Unequal as fault:
            return Fault(history.seed, fault.kind, str(fault), ways)
        except Exception as fault:
            where = "".join(traceback.format_exc(limit=-3))
            return Fault(history.seed, f"{type(fault).__name__}: {str(fault)[:80]}", where, ways)
        return None

    def close(self) -> None:
        for laptop in self.player.laptops:
            laptop.close()


def meet_histories(seeds: Iterable[int], ways: int) -> Tally:
    """Play and merge the histories of these seeds, each in so many ways."""
    tally = Tally()
    started = process_time()
    with TemporaryDirectory(dir=memory()) as folder:
        met = Met(Path(folder))
        for seed in seeds:
            history = history_of(seed)
            fault = met.fault_of(history, ways)
            log = [line for line in met.player.log if not line.endswith((")",))]
            tally.histories += 1
            tally.acts += len(log)
            tally.what.update(line.split(": ")[1].split(" (")[0] if "meets" not in line else "meet" for line in log)
            tally.meetings += 4 * ways // 2 + 2
            if fault is not None:
                tally.faults.append(fault)
                met.close()
                met = Met(Path(folder))
                continue
            found = met.player.laptops[0].connection.execute("SELECT count(*) FROM clashes").fetchone()[0]
            tally.clashes += found
            tally.clashing += bool(found)
        met.close()
    tally.processor_s = process_time() - started
    return tally


def shortened(fault: Fault, tell: Callable[[str], object] = lambda _line: None) -> str:
    """The shortest history that shows the same fault, in words: each act is left out that can be."""
    with TemporaryDirectory(dir=memory()) as folder:
        history = history_of(fault.seed)
        found = _shows(Path(folder), history, fault) or fault
        ways = fault.ways
        is_shorter = True
        while is_shorter:
            is_shorter = False
            for number in reversed(range(len(history.acts))):
                fewer = history._replace(acts=history.acts[:number] + history.acts[number + 1 :])
                seen = _shows(Path(folder), fewer, fault)
                if seen is not None:
                    history, found, is_shorter = fewer, seen, True
                    tell(f"{len(history.acts)} acts left")
        for simpler in (
            history._replace(clocks_off_s=(0.0, 0.0, 0.0)),
            history._replace(begun=("a", "a", "a")),
        ):
            if (seen := _shows(Path(folder), simpler, fault)) is not None:
                history, found = simpler, seen
        met = Met(Path(folder))
        met.fault_of(history, ways)
        log = "\n".join(f"  {line}" for line in met.player.log)
        met.close()
        beginning = (
            f"  they begin with the team files {', '.join(history.begun)}; clocks off by {history.clocks_off_s} s"
        )
        return f"{beginning}\n{log}\n{found.words}\nacts: {list(map(tuple, history.acts))}"


def _shows(folder: Path, history: History, fault: Fault) -> Fault | None:
    met = Met(folder)
    try:
        found = met.fault_of(history, fault.ways)
    finally:
        met.close()
    return found if found is not None and found.kind == fault.kind else None
