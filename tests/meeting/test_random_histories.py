"""Random histories of three laptops: what is written on one keeps to the rule by which they come together.

By hand, with more of them: ``python tests/benchmarks/merge_histories.py --count 10000``.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from laptops import Laptop, memory
from meeting_rule import shown, united, unlike_rule, versions_in
from random_histories import MEET, Player, history_of, player

_APART = range(40)
"""The seeds of histories in which nobody meets."""


@pytest.fixture(scope="module")
def apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Player]:
    """Three laptops that never meet."""
    assert memory().is_dir()
    made = player(tmp_path_factory.mktemp("laptops"), _never)
    yield made
    for laptop in made.laptops:
        laptop.close()


def _never(_laptop: Laptop, _sent: Path) -> None:
    raise AssertionError("nobody meets in these")


def test_what_is_written_on_one_laptop_keeps_to_the_rule(apart: Player) -> None:
    """A laptop that met itself would show what it shows now: after each act what is shown is what the rule says."""
    acts = 0

    def look(laptop: Laptop) -> None:
        nonlocal acts
        acts += 1
        assert unlike_rule(laptop.connection) == [], "\n".join(apart.log)

    for seed in _APART:
        history = history_of(seed)
        apart.play(history._replace(acts=tuple(act for act in history.acts if act.what != MEET)), on_act=look)
    assert acts > 4 * len(_APART), "most acts are refused: such histories show little"


def test_the_same_acts_give_the_same_rows_again(apart: Player) -> None:
    """Ids, times and versions come from the seed alone: a history that shows a fault shows it each time."""
    history = history_of(5)
    history = history._replace(acts=tuple(act for act in history.acts if act.what != MEET))
    found = []
    for _ in range(2):
        apart.play(history)
        found.append([versions_in(laptop.connection) for laptop in apart.laptops])
    assert found[0] == found[1]
    assert shown(united(*found[0])) == shown(united(*reversed(found[1])))
