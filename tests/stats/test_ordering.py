"""One order of the oils from all comparisons, and what contradicts. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.reports.bottle_order import bottle_order
from bevelbook.stats.ordering import ThicknessComparison, thickness_order


def test_ratios_are_multiplied_and_pairs_without_a_test_have_no_order() -> None:
    order = thickness_order(
        [ThicknessComparison("a", "b", 1.5), ThicknessComparison("b", "d", 1.2), ThicknessComparison("a", "c", 1.1)]
    )
    (chain,) = order.chains
    assert chain.levels == (("a",), ("b", "c"), ("d",))
    assert chain.undecided == (("b", "c"), ("c", "d"))
    assert chain.ratios == pytest.approx({"a": 1.8, "b": 1.2, "c": 1.8 / 1.1, "d": 1.0})
    assert (order.cycles, order.disagreements) == ((), ())


def test_a_circle_is_set_aside_and_the_rest_is_ordered() -> None:
    order = thickness_order(
        [
            ThicknessComparison(*pair)
            for pair in (("a", "b"), ("b", "a"), ("b", "c"), ("x", "y"), ("y", "z"), ("z", "x"))
        ]
    )
    assert order.cycles == (("a", "b", "a"), ("x", "y", "z", "x"))
    assert [chain.levels for chain in order.chains] == [(("b",), ("c",))]


def test_a_ratio_that_another_way_contradicts_is_named() -> None:
    """1.5 x 1.2 = 1.8; 1.9 is within 10 % of it, 2.2 is not."""
    way = [ThicknessComparison("a", "b", 1.5), ThicknessComparison("b", "c", 1.2)]
    assert thickness_order([*way, ThicknessComparison("a", "c", 1.9)]).disagreements == ()
    (one,) = thickness_order([*way, ThicknessComparison("a", "c", 2.2)]).disagreements
    assert (one.thicker, one.thinner, one.ratio, one.by_way_of_others) == ("a", "b", 1.5, pytest.approx(2.2 / 1.2))


@given(
    st.dictionaries(st.sampled_from("abcdefgh"), st.floats(100, 20000), min_size=2),
    st.lists(st.tuples(st.sampled_from("abcdefgh"), st.sampled_from("abcdefgh")), max_size=20),
)
def test_tests_of_real_oils_never_contradict_and_the_order_agrees_with_each(
    oils: dict[str, float], pairs: list[tuple[str, str]]
) -> None:
    known = [
        ThicknessComparison(a, b, oils[a] / oils[b]) for a, b in pairs if a in oils and b in oils and oils[a] > oils[b]
    ]
    order = thickness_order(known)
    assert (order.cycles, order.disagreements) == ((), ())
    level = {name: place for chain in order.chains for place, names in enumerate(chain.levels) for name in names}
    assert all(level[one.thicker] < level[one.thinner] for one in known)
    for chain in order.chains:
        for name, ratio in chain.ratios.items():
            assert ratio == pytest.approx(oils[name] / oils[chain.reference])


def test_a_bottles_cst_comes_from_a_measured_one_never_from_a_label(connection: sqlite3.Connection, add: Add) -> None:
    """6,000 cSt x 1.5 = 9,000 cSt; the third has no ratio, and its label says nothing."""
    ids = [
        add("bottle", fluid=add("fluid", label=label, viscosity_cst=cst), lot="1", viscosity_cst=measured)
        for label, cst, measured in (("10k", 10000.0, None), ("7k", 7000.0, 6000.0), ("5k", 5000.0, None))
    ]
    add("fluid_comparison", thicker=ids[0], thinner=ids[1], ratio=1.5)
    add("fluid_comparison", thicker=ids[1], thinner=ids[2])
    order = bottle_order(connection)
    assert [(one.name, one.level, one.viscosity_cst) for one in order.chains[0]] == [
        ("10k (1)", 1, 9000.0),
        ("7k (1)", 2, 6000.0),
        ("5k (1)", 3, None),
    ]
    assert list(order.lines()) == ["10k (1), 9,000 cSt by ratio to 7k (1) > 7k (1), 6,000 cSt own measurement > 5k (1)"]
