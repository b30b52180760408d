"""Histories by their seed, played and merged, counted; and one that shows a fault made as short as it goes."""

from __future__ import annotations

import traceback
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import permutations
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import process_time
from typing import Final, NamedTuple

from canonical import facts_dumped
from laptops import Laptop, memory
from meetings import EVERY_WAY, Content, Unequal, Way, dumped, exported, meet_all_ways
from random_histories import History, Player, history_of, player
from steered import steered

from bevelbook.meeting.union import merge_into


class Fault(NamedTuple):
    """What a history showed; ``kind`` is in short what."""

    history: History
    kind: str
    words: str
    ways: tuple[Way, ...]


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


CONTENTS: Final[tuple[Content, ...]] = (dumped, facts_dumped, exported)
"""What must be equal after meetings in different orders."""


THOROUGH: Final = 8
"""Every so many histories are looked at whole."""


def take_in(laptop: Laptop, sent: Path) -> None:
    """Take in what another laptop sent, by the real way."""
    met = merge_into(laptop.connection, laptop.path, sent)
    assert not met.apart, met.apart


def ways_of(seed: int, count: int) -> list[Way]:
    """Some of the ways in which three laptops meet, drawn by the seed; all of them in a drawn order, if so many."""
    return Random(f"ways {seed}").sample(EVERY_WAY, min(count, len(EVERY_WAY)))


def two_ways_of(seed: int) -> list[Way]:
    """Two of the ways, drawn by the seed: one after the other, and the one that came last takes in the first two, who
    met as before or the other way round."""
    into, first, second = Random(f"ways {seed}").choice(list(permutations(range(3))))
    pair = (into, first) if seed % 2 else (first, into)
    return [Way(into, first, second, others_meet_before=False), Way(second, *pair, others_meet_before=True)]


class Met:
    """Laptops that play histories and meet, one history after the other."""

    def __init__(self, folder: Path, contents: Iterable[Content] = CONTENTS) -> None:
        self.folder = folder
        self.contents = tuple(contents)
        self.player: Player = player(folder, take_in)
        self.meetings = 0
        """Those at the end of the last history."""

    def meet(self, history: History, ways: Sequence[Way], *, thorough: bool = True) -> None:
        """Play one and merge it. Raises what went wrong."""
        self.meetings = 0
        self.player.play(history)
        with steered(self.player.steering):
            self.meetings = meet_all_ways(
                self.player,
                ways,
                contents=self.contents if thorough else self.contents[:1],
                thorough=thorough,
                folder=self.folder,
                random=Random(f"twice {history.seed}"),
            )

    def fault_of(self, history: History, ways: Sequence[Way], *, thorough: bool = True) -> Fault | None:
        """What a history shows; None where all is well."""
        try:
            self.meet(history, ways, thorough=thorough)
        except Unequal as fault:
            return Fault(history, fault.kind, str(fault), fault.ways)
        except Exception as fault:
            self._begin_again()
            where = "".join(traceback.format_exc(limit=-3))
            return Fault(history, f"{type(fault).__name__}: {str(fault)[:80]}", where, tuple(ways))
        return None

    def _begin_again(self) -> None:
        log = self.player.log
        self.close()
        self.player = player(self.folder, take_in)
        self.player.log = log

    def close(self) -> None:
        for laptop in self.player.laptops:
            laptop.close()


def meet_histories(seeds: Iterable[int], ways: int) -> Tally:
    """Play and merge the histories of these seeds, each in so many ways, and look at all of it; 0 for the two that
    :func:`two_ways_of` draws, of which every ``THOROUGH``-th is looked at whole."""
    tally = Tally()
    started = process_time()
    with TemporaryDirectory(dir=memory()) as folder:
        met = Met(Path(folder))
        for seed in seeds:
            chosen = ways_of(seed, ways) if ways else two_ways_of(seed)
            fault = met.fault_of(history_of(seed), chosen, thorough=bool(ways) or seed % THOROUGH == 0)
            log = [line for line in met.player.log if not line.endswith(")")]
            tally.histories += 1
            tally.acts += len(log)
            tally.what.update("meet" if " meets " in line else line.split(": ")[1] for line in log)
            tally.meetings += met.meetings
            if fault is not None:
                tally.faults.append(fault)
                continue
            found = met.player.laptops[chosen[-1].into].connection.execute("SELECT count(*) FROM clashes").fetchone()[0]
            tally.clashes += found
            tally.clashing += bool(found)
        met.close()
    tally.processor_s = process_time() - started
    return tally


def shortened(fault: Fault) -> str:
    """The shortest history that shows the same fault, in words: each act is left out that can be."""
    with TemporaryDirectory(dir=memory()) as folder:
        met = Met(Path(folder))
        history, found = fault.history, fault

        def shows(simpler: History) -> bool:
            nonlocal history, found
            seen = met.fault_of(simpler, fault.ways)
            if seen is None or seen.kind != fault.kind:
                return False
            history, found = simpler, seen
            return True

        is_shorter = True
        while is_shorter:
            is_shorter = False
            for number in reversed(range(len(history.acts))):
                acts = history.acts
                is_shorter |= shows(history._replace(acts=acts[:number] + acts[number + 1 :]))
        shows(history._replace(clocks_off_s=(0.0, 0.0, 0.0)))
        shows(history._replace(begun=("a", "a", "a")))
        met.fault_of(history, fault.ways)
        log = "\n".join(f"  {line}" for line in met.player.log)
        met.close()
        beginning = (
            f"  they begin with the team files {', '.join(history.begun)}; clocks off by {history.clocks_off_s} s"
        )
        again = (
            f"--history {str((history.seed, history.clocks_off_s, history.begun, tuple(map(tuple, history.acts))))!r}"
        )
        return f"{beginning}\n{log}\n{found.words}\n{again}"
