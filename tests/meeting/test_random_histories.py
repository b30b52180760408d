"""Random histories of three laptops, by the real ways of writing, that meet in different orders and twice.

24 of them in the suite, each merged in two of the twelve ways, drawn by its seed; every eighth is looked at whole. By
hand, with more of them and in every way: ``python tests/benchmarks/merge_histories.py --count 10000``.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from histories_met import THOROUGH, Met, shortened, two_ways_of
from laptops import Laptop
from meeting_rule import shown, united, unlike_rule, versions_in
from meetings import EVERY_WAY
from random_histories import MEET, Act, History, Player, history_of, player

_COUNT = 24
_BLOCK = 6
_ACTS = (2, 3, 4, 5, 6, 7)
"""How many acts such a history has: fewer than by hand."""
_APART = range(12)
"""The seeds of histories in which nobody meets."""


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, _COUNT, _BLOCK))
def test_three_laptops_hold_the_same_however_they_met_and_nothing_is_lost(first: int, tmp_path: Path) -> None:
    """Some seconds a block: each history is some six acts and five meetings."""
    met = Met(tmp_path)
    for seed in range(first, first + _BLOCK):
        fault = met.fault_of(history_of(seed, _ACTS), two_ways_of(seed), thorough=seed % THOROUGH == 0)
        assert fault is None, f"seed {seed}: {fault.words}\n\nthe shortest that shows it:\n{shortened(fault)}"
    met.close()


def test_a_person_of_two_names_is_erased_on_all_of_them(tmp_path: Path) -> None:
    """Two people that are one have marks for a word of one name with an initial of the other, too."""
    met = Met(tmp_path)
    fault = met.fault_of(history_of(5204), two_ways_of(5204), thorough=False)
    assert fault is None, fault.words
    met.close()


def test_a_build_taken_back_returns_for_what_a_sheet_elsewhere_says_of_its_diff(tmp_path: Path) -> None:
    """The same row of a build is in two sheets; of the one that was not taken back a weighing is left, and the diff has
    no other build: so says the union, and so must the rule."""
    met = Met(tmp_path)
    acts = (
        Act("import", 1, 574888670, 950),
        Act("import", 2, 847206959, 1014),
        Act("take back", 2, 2104478325, 1016),
    )
    fault = met.fault_of(History(1267, (0.0, 0.0, 0.0), ("a", "a", "a"), acts), two_ways_of(1267), thorough=False)
    assert fault is None, fault.words
    found = [row[0] for one in met.player.laptops for row in one.connection.execute("SELECT why FROM clashes")]
    assert "needed" in found
    met.close()


_A_BUILD_GONE: Final = {
    "another build stands under another id of the diff": History(
        26143,
        (0.0, 0.0, 0.0),
        ("a", "a", "-"),
        (
            Act("import", 2, 3658155706, 601),
            Act("meet", 1, 698875119, 1219),
            Act("read again", 1, 2091933663, 1220),
        ),
    ),
    "of two diffs of one name each had a build": History(
        22436,
        (0.0, 0.0, 0.0),
        ("a", "a", "b"),
        (Act("take back", 1, 4017341053, 1256), Act("read again", 0, 2831459653, 1259)),
    ),
    "somebody built the diff again under the id of its sheet": History(
        24400,
        (0.0, 0.0, 0.0),
        ("a", "a", "-"),
        (Act("mend", 2, 2501000448, 620), Act("meet", 1, 3640184713, 920), Act("build", 1, 305360559, 926)),
    ),
}


@pytest.mark.parametrize("case", _A_BUILD_GONE)
def test_a_row_whose_build_was_removed_goes_to_one_of_its_diff_whatever_id_that_has(case: str, tmp_path: Path) -> None:
    """Two diffs of one name are one, so a build of the other is a build of it: none needs to come back."""
    met = Met(tmp_path)
    history = _A_BUILD_GONE[case]
    fault = met.fault_of(history, EVERY_WAY, thorough=False)
    assert fault is None, fault.words
    for one in met.player.laptops:
        assert one.connection.execute("SELECT count(*) FROM clashes WHERE why = 'needed'").fetchone()[0] == 0, case
    met.close()


@pytest.fixture(scope="module")
def apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Player]:
    """Three laptops that never meet."""
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
