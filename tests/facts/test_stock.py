"""Parts left in stock, against sums written out by hand. All data are constructed."""

from __future__ import annotations

import sqlite3
from itertools import permutations

import pytest
from constructed import Add, Team

from bevelbook.facts.stock import StockLeft, not_counted, stock_left
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id


def left(connection: sqlite3.Connection) -> dict[str, int]:
    return {one.label: one.pieces for one in stock_left(connection)}


def only(connection: sqlite3.Connection) -> StockLeft:
    (one,) = stock_left(connection)
    return one


def change(add: Add, part: str, what: str, pieces: int, day: str) -> str:
    return add("stock_change", stock_part=part, what=what, pieces=pieces, changed_on=day)


def test_a_count_then_deliveries_what_was_taken_out_and_new_rings_of_builds(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """12 counted + 10 delivered - 1 lost - (2 of one build + 1 of the next) = 18; the 4 delivered before the count, and
    the rings of the build before it, are in the count already. Two that went in again take none."""
    ring = add("seal", label="shaft ring")
    box = add("stock_part", label="shaft rings", part="seal", seal=ring, least=8)
    assert (left(connection), [one.label for one in not_counted(connection)]) == ({}, ["shaft rings"])
    change(add, box, "delivered", 4, "2026-01-01")
    assert left(connection) == {}, "what was delivered before any count says nothing"
    change(add, box, "counted", 12, "2026-02-01")
    change(add, box, "delivered", 10, "2026-02-08")
    change(add, box, "taken out", 1, "2026-02-09")
    for day, conditions in (
        ("2026-01-31", ("new", "new")),
        ("2026-02-03", ("new", "new")),
        ("2026-02-10", ("new", "used")),
        ("2026-02-17", ("used", "used")),
    ):
        build = team.build(built_on=day)
        for place, condition in zip(("case-side shaft", "lid-side shaft"), conditions, strict=True):
            add("seal_fitting", build=build, place=place, seal=ring, condition=condition)
    one = only(connection)
    assert (one.pieces, one.delivered, one.taken_out, one.fitted) == (12 + 10 - 1 - (2 + 1), 10, 1, 3)
    assert one.words == "18 left: 12 counted on 2026-02-01; since then 10 delivered, 1 taken out, 3 fitted new"
    assert not one.is_short and not not_counted(connection)
    change(add, box, "counted", 7, "2026-02-20")
    assert only(connection).words == "7 left: 7 counted on 2026-02-20"
    assert only(connection).is_short, "fewer than the 8 that are wanted in the box"


def test_a_build_of_the_day_of_the_count_goes_by_when_each_was_written_down(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """One ring before the count and one after it, both of the day: 5 - 1 = 4. From a sheet the count closed the day."""
    ring = add("seal", label="ring")
    box = add("stock_part", label="rings", part="seal", seal=ring)

    def build(at: str, sheet: str | None = None) -> str:
        made = team.build(built_on="2026-02-01")
        connection.execute(
            "UPDATE builds SET created_at = ?, note_file = ?, note_line = 1 WHERE id = ?", (at, sheet, made)
        )
        add("seal_fitting", build=made, place="joint", seal=ring, condition="new")
        return made

    counted = change(add, box, "counted", 5, "2026-02-01")
    connection.execute("UPDATE stock_changes SET created_at = '2026-02-01T12:00:00Z' WHERE id = ?", (counted,))
    build("2026-02-01T11:59:59Z")
    assert left(connection) == {"rings": 5}
    build("2026-02-01T12:00:01Z")
    assert left(connection) == {"rings": 4}
    sheet = add("note_file", name="a.csv", sha256="0", byte_count=1, read_at="x", accepted=1, rejected=0, skipped=0)
    build("2026-02-05T12:00:00Z", sheet)
    assert left(connection) == {"rings": 4}, "a row of notes of that day was before the count"


def test_parts_by_side_and_both_sides_are_two(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """Side gears, 'both': 6 - 2 = 4. Outdrives: both sides, then the lid side: 4 - 1 = 3 and 4 - 2 = 2."""
    parts = {
        label: add("stock_part", label=label, part=part, side=side)
        for label, part, side in (
            ("gears", "side gear", None),
            ("case outdrives", "outdrive", "case side"),
            ("lid outdrives", "outdrive", "lid side"),
        )
    }
    for label, part in parts.items():
        change(add, part, "counted", 6 if label == "gears" else 4, "2026-01-01")
    first, second = team.build(), team.build()
    for build, part, place, condition in (
        (first, "side gear", "both", "new"),
        (first, "outdrive", "both", "new"),
        (second, "outdrive", "lid side", "new"),
        (second, "side gear", "both", "turned over"),
    ):
        add("build_part", build=build, part=part, place=place, condition=condition)
    assert left(connection) == {"gears": 4, "case outdrives": 3, "lid outdrives": 2}
    add("build_part", build=second, part="outdrive", condition="new")
    assert left(connection) == {"gears": 4, "case outdrives": 3, "lid outdrives": 2}
    assert {one.label: one.unclear for one in stock_left(connection)} == {
        "gears": (),
        "case outdrives": ("1 new outdrive fitted since without its side: not taken off",),
        "lid outdrives": ("1 new outdrive fitted since without its side: not taken off",),
    }


def test_what_nobody_can_tell_is_said_and_not_taken_off(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    ring, wide = add("seal", label="ring"), add("seal", label="wide ring")
    build = None
    for label, values in {
        "rings": {"part": "seal", "seal": ring},
        "bag": {"part": "gasket"},
        "tin": {"part": "gasket"},
        "cloths": {"part": "other"},
    }.items():
        change(add, add("stock_part", label=label, **values), "counted", 10, "2026-01-01")
    build = team.build()
    add("seal_fitting", build=build, place="joint", condition="new")
    add("seal_fitting", build=build, place="case-side shaft", condition="new")
    add("seal_fitting", build=build, place="lid-side shaft", seal=wide, condition="new")
    add("build_part", build=build, part="gasket", condition="new")
    add("build_part", build=build, part="other", condition="new")
    assert {one.label: (one.pieces, one.unclear) for one in stock_left(connection)} == {
        "rings": (10, ("2 new seals of unknown kind fitted since: not taken off",)),
        "bag": (10, ("1 new gasket fitted since: may be bag or tin: not taken off",)),
        "tin": (10, ("1 new gasket fitted since: may be bag or tin: not taken off",)),
        "cloths": (10, ("1 new other part fitted since, which of them is not noted: not taken off",)),
    }


def test_shims_beyond_those_of_the_build_before_are_new(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """Noted first: 2 of 0.1 (new or old, not known). Then 3 of 0.1 and 1 of 0.2: one of each is new. Then one of 0.1
    moved to the other side and one came out: none is new. Then 3 again: one more. 0.1: 20 - 1 - 1 = 18; 0.2: 9 - 1."""
    thin, thick = (
        add("stock_part", label=f"shims {mm}", part="shim", thickness_mm=mm, bore_mm=5, outside_diameter_mm=7)
        for mm in (0.1, 0.2)
    )
    change(add, thin, "counted", 20, "2026-01-01")
    change(add, thick, "counted", 9, "2026-01-01")
    case, lid = "behind case-side gear", "behind lid-side gear"
    for shims in (
        ((case, 0.1, 2),),
        ((case, 0.1, 2), (lid, 0.1, 1), (lid, 0.2, 1)),
        ((lid, 0.1, 2), (lid, 0.2, 1), (case, -0.05, 1)),
        ((lid, 0.1, 3), (lid, 0.2, 1)),
        (),
        ((lid, 0.1, 3), (lid, 0.2, 1)),
    ):
        build = team.build()
        for place, mm, pieces in shims:
            add("build_shim", build=build, place=place, thickness_mm=mm, pieces=pieces, bore_mm=5)
    assert left(connection) == {"shims 0.1": 18, "shims 0.2": 8}
    assert [one.unclear for one in stock_left(connection)] == [
        ("2 shims noted since in a diff of which none were noted before: not taken off",),
        (),
    ]


def test_two_records_of_one_name_are_one_part(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """Two laptops that met: each wrote the part and the kind of seal down; one counted 9, the other was delivered 5."""
    kinds = [add("seal", label=name) for name in ("Shaft ring", "shaft  ring")]
    boxes = [
        add("stock_part", label=name, part="seal", seal=kind)
        for name, kind in zip(("Rings", "rings"), kinds, strict=True)
    ]
    change(add, boxes[1], "counted", 9, "2026-01-01")
    change(add, boxes[0], "delivered", 5, "2026-01-02")
    add("seal_fitting", build=team.build(built_on="2026-01-03"), place="joint", seal=kinds[0], condition="new")
    assert left(connection) == {"Rings": 9 + 5 - 1}
    assert find_id(connection, BY_NAME["stock_part"], "RINGS") == min(boxes), "nobody is asked which of them"


@pytest.mark.parametrize("order", tuple(permutations(range(3))))
def test_more_used_than_counted_is_said_whatever_was_written_first(
    connection: sqlite3.Connection, add: Add, team: Team, order: tuple[int, ...]
) -> None:
    box = add("stock_part", label="gaskets", part="gasket")
    acts = (
        lambda: change(add, box, "counted", 1, "2026-01-01"),
        lambda: change(add, box, "taken out", 2, "2026-01-05"),
        lambda: add("build_part", build=team.build(built_on="2026-01-06"), part="gasket", condition="new"),
    )
    for place in order:
        acts[place]()
    one = only(connection)
    assert (one.pieces, one.is_below_none, one.left_words) == (-2, True, "2 more used than there were: count them")
