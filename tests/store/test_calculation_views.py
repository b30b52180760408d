"""The views of kept results: each column has the type of its field, and the value as it was kept."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest
from constructed import kept
from declared_calculator import declared

from bevelbook.declare.fields import choice, date, quantity, record, text, whole
from bevelbook.plugin.registry import Registry
from bevelbook.store.calculations import ensure_views, view_columns, view_names

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


def test_every_column_of_every_calculator_has_the_type_of_its_field(
    connection: sqlite3.Connection, registry: Registry
) -> None:
    """SQLite names the types of such columns from 3.41 on; before, it goes by them and names none."""
    names_types = sqlite3.sqlite_version_info >= (3, 41)
    for offered in registry.calculators.values():
        ensure_views(connection, offered.calculator)
        whole_view, listed = view_names(offered.calculator)
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
