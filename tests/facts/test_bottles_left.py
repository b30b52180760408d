"""What is left in bottles, against sums written out by hand. All data are constructed."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.facts.bottles_left import BottleLeft, bottles_left


class Shelf:
    """A bottle of 5,000 cSt, what is known of it, and what was taken."""

    def __init__(self, connection: sqlite3.Connection, add: Add, team: Team) -> None:
        self.connection, self.add, self.team = connection, add, team
        self.fluid = add("fluid", label="5k", viscosity_cst=5000.0)
        self.bottle = ""

    def have(self, **values: Any) -> str:
        self.bottle = self.add("bottle", fluid=self.fluid, lot="A", **values)
        return self.bottle

    def check(self, day: str, **values: Any) -> str:
        return self.add("bottle_check", bottle=self.bottle, checked_on=day, **values)

    def fill(self, day: str, **values: Any) -> str:
        return self.team.build(built_on=day, bottle=self.bottle, **values)

    @property
    def left(self) -> BottleLeft:
        (one,) = [one for one in bottles_left(self.connection) if one.bottle == self.bottle]
        return one


@pytest.fixture
def shelf(connection: sqlite3.Connection, add: Add, team: Team) -> Shelf:
    return Shelf(connection, add, team)


def test_the_scale_tells_and_overrules_the_sum_of_pours(shelf: Shelf) -> None:
    """Full 52 g, empty 12 g, 1.9 g poured: by sums 38.1 g. On the scale 41.3 g: 41.3 - 12 = 29.3 g. Then 1.86 g, and
    14.26 - 12.4 = 1.86 g by masses, and 0.3 g of a top-up: 29.3 - 1.86 - 1.86 - 0.3 = 25.28 g."""
    shelf.have(full_mass_g=52.0, empty_mass_g=12.0)
    shelf.fill("2026-01-05", oil_mass_g=1.9)
    one = shelf.left
    assert (one.low_g, one.high_g, one.rests_on) == (None, pytest.approx(38.1), "full and empty mass")
    assert one.words == (
        "at most 38.1 g left: 40 g when full, 1.9 g in 1 build since; "
        "spills and what stayed in the syringe are not counted"
    )
    shelf.check("2026-01-10", mass_g=41.3)
    one = shelf.left
    assert (one.low_g, one.high_g) == (pytest.approx(29.3), pytest.approx(29.3))
    assert one.words == "29.3 g left: 41.3 g on the scale on 2026-01-10, empty 12 g"
    shelf.fill("2026-01-11", oil_mass_g=1.86)
    shelf.fill("2026-01-12", dry_mass_g=12.4, filled_mass_g=14.26)
    shelf.fill("2026-01-13", kind="top-up", oil_mass_g=0.3)
    one = shelf.left
    assert (one.low_g, one.high_g, one.rests_on) == (pytest.approx(25.28), pytest.approx(25.28), "the scale")
    assert one.words == ("about 25.3 g left: 41.3 g on the scale on 2026-01-10, empty 12 g; 4.0 g in 3 builds since")
    assert (one.label, one.fluid_label, one.viscosity_cst) == ("5k, A", "5k", 5000.0)


def test_a_fill_that_was_not_weighed_leaves_the_most_alone(shelf: Shelf) -> None:
    """30 - 10 = 20 g; one build took 2 g, another nobody knows how much: at most 18 g."""
    shelf.have(empty_mass_g=10.0)
    shelf.check("2026-01-10", mass_g=30.0)
    shelf.fill("2026-01-11", oil_mass_g=2.0)
    shelf.fill("2026-01-12")
    one = shelf.left
    assert (one.low_g, one.high_g, one.short) == (None, pytest.approx(18.0), "at most 18.0 g left")
    assert one.words.endswith("2.0 g in 1 build and 1 build without the mass of its oil since")


def test_an_oil_change_without_a_wash_took_less_than_is_in_it(shelf: Shelf) -> None:
    """20 g; 1.8 g in the diff, some of it the old oil: 18.2 to 20 g."""
    shelf.have(empty_mass_g=10.0)
    shelf.check("2026-01-10", mass_g=30.0)
    shelf.fill("2026-01-11", kind="oil change", oil_mass_g=1.8)
    assert (shelf.left.low_g, shelf.left.high_g) == (pytest.approx(18.2), pytest.approx(20.0))
    assert shelf.left.short == "18.2 to 20.0 g left"


def test_a_blend_took_between_what_went_in_and_all_that_was_mixed(shelf: Shelf) -> None:
    """20 g; mixed 6 g of it with 4 g of another, of which 2 g went in: at least 2 * 6 / 10 = 1.2 g, at most 6 g."""
    shelf.have(empty_mass_g=10.0)
    shelf.check("2026-01-10", mass_g=30.0)
    build = shelf.team.build(built_on="2026-01-11", bottle=shelf.bottle, oil_mass_g=2.0)
    shelf.add("blend_part", build=build, bottle=shelf.bottle, viscosity_cst=5000.0, mass_g=6.0)
    shelf.add("blend_part", build=build, viscosity_cst=9000.0, mass_g=4.0)
    assert (shelf.left.low_g, shelf.left.high_g) == (pytest.approx(14.0), pytest.approx(18.8))


def test_a_build_of_the_day_goes_by_when_each_was_written_down(shelf: Shelf) -> None:
    shelf.have(empty_mass_g=10.0)
    check = shelf.check("2026-01-10", mass_g=30.0)
    for at, grams, wanted in (("11", 2.0, 20.0), ("13", 3.0, 17.0)):
        build = shelf.fill("2026-01-10", oil_mass_g=grams)
        for table, row_id, hour in (("bottle_checks", check, "12"), ("builds", build, at)):
            shelf.connection.execute(
                f"UPDATE {table} SET created_at = ? WHERE id = ?", (f"2026-01-10T{hour}:00:00Z", row_id)
            )
        assert shelf.left.high_g == pytest.approx(wanted)


def test_how_full_it_looked_gives_words_and_grams_only_where_full_and_empty_are_known(shelf: Shelf) -> None:
    """Half of 40 g is about 20 g, by eye 12 to 28 g; 2 g since: 10 to 26 g."""
    bottle = shelf.have(empty_mass_g=12.0)
    assert (shelf.left.short, shelf.left.rests_on) == ("not known", "nothing")
    shelf.check("2026-01-10", level="about half")
    one = shelf.left
    assert (one.low_g, one.high_g, one.words) == (None, None, "about half: by eye on 2026-01-10")
    shelf.connection.execute("UPDATE bottles SET full_mass_g = 52.0 WHERE id = ?", (bottle,))
    one = shelf.left
    assert (one.low_g, one.high_g) == (pytest.approx(12.0), pytest.approx(28.0))
    assert one.words == "about half, about 20 g: by eye on 2026-01-10"
    shelf.fill("2026-01-12", oil_mass_g=2.0)
    assert (shelf.left.low_g, shelf.left.high_g) == (pytest.approx(10.0), pytest.approx(26.0))


def test_a_look_after_the_scale_does_not_overrule_it_but_is_said(shelf: Shelf) -> None:
    """30 - 10 = 20 g on the scale; later it looked nearly empty, at most 0.2 * 40 = 8 g: 8 to 20 g."""
    shelf.have(full_mass_g=50.0, empty_mass_g=10.0)
    shelf.check("2026-01-10", mass_g=30.0)
    shelf.check("2026-01-20", level="nearly empty")
    assert (shelf.left.low_g, shelf.left.high_g) == (pytest.approx(8.0), pytest.approx(20.0))
    assert "it looked nearly empty on 2026-01-20" in shelf.left.words
    shelf.check("2026-01-21", mass_g=16.0)
    assert shelf.left.words == "6.0 g left: 16 g on the scale on 2026-01-21, empty 10 g"


def test_more_poured_than_was_in_it_is_not_known(shelf: Shelf) -> None:
    """12 - 10 = 2 g, then 1.86 + 1.9 = 3.76 g: 1.76 g too much."""
    bottle = shelf.have(empty_mass_g=10.0)
    shelf.check("2026-01-10", mass_g=12.0)
    shelf.fill("2026-01-11", oil_mass_g=1.86)
    shelf.fill("2026-01-12", oil_mass_g=1.9)
    one = shelf.left
    assert (one.low_g, one.high_g, one.is_below_none) == (None, None, True)
    assert one.words.startswith("not known: builds took 1.8 g more than was in it")
    shelf.check("2026-01-13", mass_g=8.0)
    one = shelf.left
    assert one.is_below_none, "8 g on the scale, 10 g empty: as another program or two laptops may leave it"
    assert one.words.startswith("not known: it cannot weigh less than empty: put it on the scale again, or correct")
    shelf.connection.execute("UPDATE bottles SET empty = 'yes' WHERE id = ?", (bottle,))
    assert bottles_left(shelf.connection) == []
