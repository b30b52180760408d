"""What the tables take, and what they refuse."""

from __future__ import annotations

import sqlite3

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.facts.views import VIEWS
from bevelbook.notes.note_columns import REFERRED, WORKED_OUT
from bevelbook.records import BY_NAME, FACTS, KINDS
from bevelbook.store.schema import ALL_KINDS, FROM_NOTES, columns_of, index_sql
from bevelbook.store.writing import Writer


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
def test_every_view_answers_and_describes_columns_that_it_has(connection: sqlite3.Connection, view) -> None:  # type: ignore[no-untyped-def]
    columns = [one[0] for one in connection.execute(f"SELECT * FROM {view.name}").description]
    assert set(view.columns) <= set(columns)
    declared = {column for kind in (*KINDS, *FACTS) for column in columns_of(kind)}
    undescribed = set(columns) - set(view.columns) - declared
    assert undescribed == set(), "neither a declared field nor described by the view"


def test_strict_tables_refuse_text_in_a_number_column(writer: Writer) -> None:
    with pytest.raises(InputError, match="does not fit"):
        writer.insert(BY_NAME["scale"], {"name": "pocket", "step_g": "0,01"})


def test_checks_refuse_a_negative_mass_an_unknown_choice_and_a_day_that_is_none(writer: Writer) -> None:
    diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
    build = {"label": "rear-a/1", "diff": diff, "built_on": "2026-05-03"}
    for wrong in ({"dry_mass_g": -1.0}, {"hand_feel": "smoth"}, {"built_on": "2026-02-30"}):
        with pytest.raises(InputError, match="does not fit"):
            writer.insert(BY_NAME["build"], {**build, **wrong})


def test_foreign_keys_are_on(writer: Writer, connection: sqlite3.Connection) -> None:
    with pytest.raises(InputError, match="FOREIGN KEY"):
        writer.insert(BY_NAME["build"], {"label": "x/1", "diff": "nobody", "built_on": "2026-05-03"})


def test_a_declared_default_is_filled_in(writer: Writer, connection: sqlite3.Connection) -> None:
    writer.insert(BY_NAME["fluid"], {"label": "house 7k"})
    writer.insert(BY_NAME["fluid"], {"label": "stiff putty", "medium": "putty"})
    assert [row[0] for row in connection.execute("SELECT medium FROM fluids ORDER BY label")] == ["oil", "putty"]


def test_what_notes_make_is_found_by_its_file_and_line_and_nothing_else_is() -> None:
    made = {*WORKED_OUT, *REFERRED.values()}
    assert made == FROM_NOTES
    assert {kind.name for kind in ALL_KINDS if any("note_line)" in one for one in index_sql(kind))} <= made
