"""The views of kept results: each column has the type of its field, and the value as it was kept."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest
from constructed import kept
from declared_calculator import declared

from bevelbook.declare.errors import DeclarationError
from bevelbook.declare.fields import choice, date, listing, quantity, record, text, whole
from bevelbook.plugin.registry import Registry
from bevelbook.store.calculation_views import (
    ensure_views,
    ensure_views_of_kept,
    kept_under,
    view_columns,
    view_names,
)

COLUMNS = ("double_g", "count_turns", "oil", "thicker", "day")


@record
class FoundOfEachKind:
    double_g: float | None = quantity("g", "Twice the mass", default=None)
    count_turns: int | None = whole("Turns", default=None)
    oil: str | None = text("Oil", default=None)
    thicker: str | None = choice(("yes", "no"), "Thicker or not", default=None)
    day: str | None = date("Day", default=None)


@pytest.fixture
def typed(connection: sqlite3.Connection) -> sqlite3.Connection:
    ensure_views(connection, declared(found=FoundOfEachKind))
    return connection


@pytest.mark.parametrize(
    ("found", "shown"),
    [
        ('{"double_g": 2.5, "count_turns": 3, "oil": "7,000"}', (2.5, 3, "7,000", None, None)),
        ('{"double_g": 1.0e300, "count_turns": 9007199254740993}', (1e300, 9007199254740993, None, None, None)),
        ('{"double_g": 0.30000000000000004, "oil": "007"}', (0.1 + 0.2, None, "007", None, None)),
        ('{"oil": "1e5", "thicker": "yes", "day": "2026-05-04"}', (None, None, "1e5", "yes", "2026-05-04")),
        ('{"double_g": 5, "count_turns": -9223372036854775808}', (5.0, -(2**63), None, None, None)),
        ('{"double_g": null, "oil": null}', (None,) * 5),
        ('{"double_g": "thick", "count_turns": "many", "oil": 7000}', (None, None, "7000", None, None)),
    ],
)
def test_values_are_those_that_were_kept_in_the_type_of_their_field(
    typed: sqlite3.Connection, found: str, shown: tuple[Any, ...]
) -> None:
    kept(typed, calculator="doubling", found=found, subject_table="builds", subject_id="a build")
    (row,) = typed.execute(f"SELECT {', '.join(COLUMNS)} FROM calc_doubling")
    assert tuple(row) == shown
    types = {float: "real", int: "integer", str: "text", type(None): "null"}
    (kinds,) = typed.execute(f"SELECT {', '.join(f'typeof({name})' for name in COLUMNS)} FROM calc_doubling")
    assert tuple(kinds) == tuple(types[type(value)] for value in shown)


def test_a_comparison_goes_by_the_type_of_the_column(typed: sqlite3.Connection) -> None:
    for number, found in enumerate(('{"double_g": 9}', '{"double_g": 10}', '{"oil": "9"}')):
        kept(typed, calculator="doubling", found=found, subject_table="builds", subject_id=str(number))
    assert typed.execute("SELECT count(*) FROM calc_doubling WHERE double_g > '9.5'").fetchone()[0] == 1
    assert typed.execute("SELECT count(*) FROM calc_doubling WHERE oil = 9").fetchone()[0] == 1


@record
class FoundHalf:
    half_g: float = quantity("g", "Half the mass")
    word: str = text("A word", default="none")


@record
class Piece:
    mass_g: float = quantity("g", "Mass of a piece")


@record
class FoundPieces:
    double_g: float = quantity("g", "Twice the mass")
    pieces: tuple[Piece, ...] = listing(Piece, "Pieces", default=())


def columns(connection: sqlite3.Connection, view: str) -> list[str]:
    return [row[0] for row in connection.execute("SELECT name FROM pragma_table_info(?) ORDER BY cid", (view,))]


def sql_of_views(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    found = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'view' AND name GLOB 'calc_*'")
    return sorted(map(tuple, found))


def of_a_build(connection: sqlite3.Connection, version: int, found: str, at: str = "2026-05-01", **more: Any) -> None:
    kept(
        connection,
        calculator="doubling",
        version=version,
        found=found,
        calculated_at=at,
        **{"given": '{"mass_g": 1.0}', "subject_table": "builds", "subject_id": "a build", **more},
    )


def test_one_view_holds_every_kept_row_and_the_other_the_one_of_each_record_that_counts(
    connection: sqlite3.Connection,
) -> None:
    """That is the last of the newest version: one that was kept later by an older plugin does not take its place."""
    ensure_views(connection, declared())
    of_a_build(connection, 2, '{"double_g": 2.0}', "2026-05-02")
    of_a_build(connection, 2, '{"double_g": 3.0}', "2026-05-03")
    of_a_build(connection, 1, '{"double_g": 1.0}', "2026-05-04")
    of_a_build(connection, 1, '{"double_g": 9.0}', "2026-05-04", subject_table=None, subject_id=None)
    asked = "SELECT version, double_g FROM {} ORDER BY calculated_at, double_g"
    every, latest = (connection.execute(asked.format(f"calc_doubling{end}")).fetchall() for end in ("", "_latest"))
    assert [tuple(row) for row in every] == [(2, 2.0), (2, 3.0), (1, 1.0), (1, 9.0)]
    assert [tuple(row) for row in latest] == [(2, 3.0), (1, 9.0)]


def test_outputs_and_inputs_of_older_versions_stay_as_columns_behind_those_of_today(
    connection: sqlite3.Connection,
) -> None:
    given = '{"arm_mm": 2.5, "double_g": 4.0, "turns": 3, "parts": []}'
    of_a_build(connection, 1, '{"double_g": 2.0, "oil": "thin", "thicker": null}', given=given)
    ensure_views(connection, declared(version=2, found=FoundHalf, answer="half_g"))
    today = ["half_g", "word", "mass_g", "volume_cm3"]
    older = ["double_g", "oil", "thicker", "arm_mm", "given_double_g", "turns"]
    for view in ("calc_doubling", "calc_doubling_latest"):
        assert columns(connection, view)[4:-4] == [*today, *older]
        (row,) = connection.execute(f"SELECT {', '.join(older)}, half_g FROM {view}")
        assert tuple(row) == (2.0, "thin", None, 2.5, 4.0, 3, None)
    assert connection.execute("SELECT count(*) FROM calc_doubling WHERE double_g > '1.5'").fetchone()[0] == 1


def test_rows_of_a_listing_outlive_it(connection: sqlite3.Connection) -> None:
    of_a_build(connection, 1, '{"double_g": 2.0}', rows='[{"length_mm": 1.5, "mark": "a"}, {"length_mm": 2.0}]')
    ensure_views(connection, declared(version=2, found=FoundPieces))
    of_a_build(connection, 2, '{"double_g": 2.0}', "2026-05-02", rows='[{"mass_g": 1.0}]')
    asked = "SELECT place, mass_g, length_mm, mark, version FROM {} ORDER BY version, place"
    every = connection.execute(asked.format("calc_doubling_rows")).fetchall()
    assert [tuple(row) for row in every] == [(1, None, 1.5, "a", 1), (2, None, 2.0, None, 1), (1, 1.0, None, None, 2)]
    (latest,) = connection.execute(asked.format("calc_doubling_rows_latest"))
    assert tuple(latest) == (1, 1.0, None, None, 2)
    ensure_views(connection, declared(version=3))
    assert columns(connection, "calc_doubling_rows")[4:-2] == ["mass_g", "length_mm", "mark"]


def test_a_view_does_not_change_with_who_wrote_last(connection: sqlite3.Connection) -> None:
    """Two laptops, one with the older plugin; then neither has it, and the views are made of the rows alone."""
    newer, older = declared(version=2, found=FoundHalf, answer="half_g"), declared()
    ensure_views(connection, newer)
    of_a_build(connection, 2, '{"half_g": 0.5, "word": "none"}')
    ensure_views(connection, older)
    of_a_build(connection, 1, '{"double_g": 2.0}')
    ensure_views(connection, newer)
    held = sql_of_views(connection)
    for one in (older, newer, older):
        ensure_views(connection, one)
        assert sql_of_views(connection) == held
    ensure_views_of_kept(connection)
    assert sql_of_views(connection) == held
    wanted = columns(connection, "calc_doubling")
    for name, _ in held:
        connection.execute(f"DROP VIEW {name}")
    ensure_views_of_kept(connection, [older])
    assert columns(connection, "calc_doubling")[4:-4] == ["half_g", "word", "mass_g", "double_g", "volume_cm3"]
    for name, _ in held:
        connection.execute(f"DROP VIEW {name}")
    ensure_views_of_kept(connection)
    assert set(columns(connection, "calc_doubling")) == set(wanted) - {"volume_cm3"}


def test_a_name_of_a_column_that_is_taken_says_where_the_value_is_from(connection: sqlite3.Connection) -> None:
    of_a_build(connection, 1, '{"version": "second", "double_g": 1.0}', given='{"verdict": "mine", "x y": 1}')
    ensure_views(connection, declared())
    (row,) = connection.execute("SELECT version, found_version, verdict, given_verdict FROM calc_doubling")
    assert tuple(row) == (1, "second", "ok", "mine")


def test_names_that_no_calculator_can_have_and_damaged_rows_make_no_view(connection: sqlite3.Connection) -> None:
    for name in ("doubling-latest", "x; DROP TABLE builds", "Doubling"):
        kept(connection, calculator=name, found='{"double_g": 1.0}')
    kept(connection, calculator="doubling", found="[1, 2]", rows='"none"')
    ensure_views_of_kept(connection)
    assert {name for name, _ in sql_of_views(connection)} <= set(view_names("doubling"))
    with pytest.raises(DeclarationError, match="the last one not 'rows' or 'latest'"):
        declared(name="doubling-rows")


def test_versions_and_fingerprints_are_looked_up_one_by_one(connection: sqlite3.Connection) -> None:
    for number, (version, fingerprint) in enumerate([(2, "b"), (1, None), (2, "a"), (10, None), (2, "b"), (1, None)]):
        of_a_build(connection, version, "{}", fingerprint=fingerprint, subject_id=str(number))
    assert kept_under(connection, "doubling") == [(1, None), (2, "a"), (2, "b"), (10, None)]
    assert kept_under(connection, "halving") == []


def test_every_column_of_every_calculator_has_the_type_of_its_field(
    connection: sqlite3.Connection, registry: Registry
) -> None:
    """SQLite names the types of such columns from 3.41 on; before, it goes by them and names none."""
    names_types = sqlite3.sqlite_version_info >= (3, 41)
    for offered in registry.calculators.values():
        ensure_views(connection, offered.calculator)
        whole_view, _, listed, _ = view_names(offered.calculator.name)
        types = {
            row["name"]: row["type"] for row in connection.execute("SELECT * FROM pragma_table_info(?)", (whole_view,))
        }
        for column, _, field in view_columns(offered.calculator):
            wanted = {"quantity": "REAL", "whole": "INT"}.get(field.kind, "TEXT")
            assert types[column] == (wanted if names_types else ""), (whole_view, column)
        for view in (whole_view, listed):
            found = connection.execute("SELECT sql FROM sqlite_master WHERE name = ?", (view,)).fetchone()
            for part in found[0].split(" AS ") if found else ():
                assert "json_extract(" not in part or "CAST(" in part, (view, part)
