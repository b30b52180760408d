"""Schemas compared by what they come to."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from bevelbook.store.structure import TableStructure, structure

CHECK = 'CHECK ("kind" IS NULL OR "kind" = \'a\')'
ONE = f'CREATE TABLE t (id TEXT PRIMARY KEY NOT NULL, "kind" TEXT {CHECK}, u TEXT) STRICT'


def shape(*statements: str) -> dict[str, TableStructure]:
    with closing(sqlite3.connect(":memory:")) as connection:
        for statement in statements:
            connection.execute(statement)
        return structure(connection)


def test_texts_that_come_to_the_same_are_equal() -> None:
    added = (
        "CREATE TABLE t (id TEXT PRIMARY KEY NOT NULL) STRICT",
        "ALTER TABLE t ADD COLUMN kind TEXT  CHECK (kind IS NULL OR  kind = 'a')",
        "ALTER TABLE t ADD COLUMN [u] TEXT",
    )
    renamed = (ONE.replace("TABLE t", "TABLE s"), "ALTER TABLE s RENAME TO t")
    assert shape(ONE) == shape(*added) == shape(*renamed)


@pytest.mark.parametrize(
    "other",
    [
        ONE.replace("'a'", "'b'"),
        ONE.replace("'a'", "'A'"),
        ONE.replace(" STRICT", ""),
        ONE.replace(" STRICT", " STRICT, WITHOUT ROWID"),
        ONE.replace("u TEXT", "u INTEGER"),
        ONE.replace("u TEXT", "u TEXT NOT NULL"),
        ONE.replace("u TEXT", "u TEXT DEFAULT 'x'"),
        ONE.replace("u TEXT", "u TEXT REFERENCES t(id)"),
        ONE.replace("u TEXT", "v TEXT"),
        ONE.replace("u TEXT", "u TEXT, v TEXT"),
        ONE.replace(", u TEXT", "").replace("NOT NULL,", "NOT NULL, u TEXT,"),
    ],
)
def test_what_differs_in_any_way_is_not(other: str) -> None:
    assert shape(ONE) != shape(other)


@pytest.mark.parametrize(
    "other",
    [
        "CREATE INDEX i ON t (kind, u)",
        "CREATE INDEX i ON t (u)",
        "CREATE INDEX j ON t (kind)",
        "CREATE INDEX i ON t (kind DESC)",
        "CREATE UNIQUE INDEX i ON t (kind)",
        "CREATE INDEX i ON t (kind) WHERE kind IS NOT NULL",
    ],
)
def test_indexes_count(other: str) -> None:
    assert shape(ONE, "CREATE INDEX i ON t (kind)") == shape(ONE, 'create index "i" on "t" ("kind")')
    assert shape(ONE, "CREATE INDEX i ON t (kind)") != shape(ONE, other)


def test_the_words_of_a_column_are_those_its_checks_let_in() -> None:
    made = "CREATE TABLE t (k TEXT CHECK (k = 'it''s' OR k = 'b (c)'), d TEXT CHECK (d IS date(d, '+0 days')))"
    table = shape(made)["t"]
    assert table.words_of("k") == ("it's", "b (c)")
    assert table.words_of("d") == ()
