"""The steps from an empty file to today's schema: numbered, only ever added to. Each says why it is there.

A step's statements are frozen in ``steps/NNNN.sql``; a test holds the sum of the steps against the declarations.
Triggers and views carry no data: they are dropped and made anew from today's declarations after the last step, inside
the same transaction as that step, because altering a table drops its triggers without a word.
"""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.facts.views import view_sql
from bevelbook.store.schema import trigger_sql

if TYPE_CHECKING:
    from sqlite_utils import Database

LAST_STEP: Final = 2
STEP_WHY: Final = {
    1: "the first schema",
    2: "the last build of a diff and the builds that lost oil by index; the shelf goes by what the scale can tell",
}


def migrate(connection: sqlite3.Connection) -> None:
    """Bring a database to the last step. Each step is one transaction together with the record that it ran."""
    from sqlite_utils import Database, Migrations

    steps = Migrations("bevelbook")
    for number in range(1, LAST_STEP + 1):
        steps(name=f"{number:04d}")(_Step(number))
    steps.apply(Database(connection, execute_plugins=False))


class _Step:
    def __init__(self, number: int) -> None:
        self.number = number
        self.__name__ = f"{number:04d}"

    def __call__(self, db: Database) -> None:
        for statement in step_statements(self.number):
            db.conn.execute(statement)
        if self.number == LAST_STEP:
            renew_triggers_and_views(db.conn)
        db.conn.execute(f"PRAGMA user_version = {self.number}")


def step_statements(number: int) -> list[str]:
    """The frozen statements of a step."""
    from importlib.resources import files

    text = (files("bevelbook.store") / "steps" / f"{number:04d}.sql").read_text(encoding="utf-8")
    return [statement.strip() for statement in text.split(";\n") if statement.strip()]


def renew_triggers_and_views(connection: sqlite3.Connection) -> None:
    """Drop all triggers and views and make them anew; the views of calculators follow their own declarations."""
    old = connection.execute(
        "SELECT type, name FROM sqlite_master "
        "WHERE type = 'trigger' OR (type = 'view' AND name NOT LIKE 'calc\\_%' ESCAPE '\\')"
    ).fetchall()
    for sort, name in old:
        connection.execute(f'DROP {sort.upper()} "{name}"')
    for statement in (*trigger_sql(), *view_sql()):
        connection.execute(statement)
