"""What was touched since a day: whole records, with which another database gets all that it would get of the whole.

The histories are random, by the real ways of writing; all names in them are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from laptops import Laptop, memory
from meeting.whole_content import whole_content
from random_histories import NAMES, History, Player, history_of, player
from steered import START

from bevelbook.interchange.part import write_part
from bevelbook.interchange.since import Chosen, chosen_after
from bevelbook.meeting.union import merge_into
from bevelbook.store.soundness import faults

SEEDS = (2, 27)


def take_in(laptop: Laptop, sent: Path) -> None:
    merge_into(laptop.connection, laptop.path, sent)


@pytest.fixture(scope="module")
def together(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Player]:
    """Three laptops, whose clocks are right."""
    assert memory().is_dir()
    made = player(tmp_path_factory.mktemp("laptops"), take_in)
    yield made
    for laptop in made.laptops:
        laptop.close()


def instant_at(minute: int) -> str:
    return (START + timedelta(minutes=minute)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def part_since(laptop: Laptop, instant: str, path: Path) -> Chosen:
    """A database of what a laptop touched since an instant."""
    path.unlink(missing_ok=True)
    chosen = chosen_after(laptop.connection, instant)
    write_part(laptop.connection, path, chosen, with_files=True)
    return chosen


def middle_of(history: History) -> int:
    return len(history.acts) // 2


def played_to_the_middle(player: Player, history: History, into: Laptop, folder: Path) -> bytes:
    """What all three laptops hold together after half of a history; then the rest of it is played on the first."""
    acts = history.acts
    player.play(history._replace(acts=acts[: middle_of(history)]))
    sent = [one.to_send(folder / f"half-{one.name}.db") for one in player.laptops]
    into.put(into.empty)
    for one in sent:
        take_in(into, one)
    return into.kept()


@pytest.fixture(scope="module")
def receiver(tmp_path_factory: pytest.TempPathFactory, together: Player) -> Iterator[Laptop]:
    made = Laptop(tmp_path_factory.mktemp("receiver"), "r", together.steering)
    yield made
    made.close()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_part_gives_all_that_the_whole_gives_to_who_has_what_was_before(
    together: Player, receiver: Laptop, tmp_path: Path, seed: int
) -> None:
    """Half of a history is played, then all of it; what another program did in it stays something to look at."""
    history = history_of(seed)._replace(clocks_off_s=(0.0,) * len(NAMES))
    before = played_to_the_middle(together, history, receiver, tmp_path)
    together.play(history)
    instant = instant_at(history.acts[middle_of(history)].minute)
    for laptop in together.laptops:
        part_since(laptop, instant, tmp_path / "part.db")
        receiver.put(before)
        take_in(receiver, tmp_path / "part.db")
        by_part = whole_content(receiver.connection)
        receiver.put(before)
        take_in(receiver, laptop.to_send(tmp_path / "whole.db"))
        assert by_part == whole_content(receiver.connection), "\n".join(together.log)
        receiver.put(receiver.empty)
        take_in(receiver, tmp_path / "part.db")
        assert [one for one in faults(receiver.connection) if "another program" not in one] == []
        assert receiver.connection.execute("PRAGMA foreign_key_check").fetchall() == []
