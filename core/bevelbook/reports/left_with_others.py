"""What is noted with a record that is one with another, and is not shown with the one that stands for both."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from bevelbook.declare.in_command import in_command
from bevelbook.display.format import format_value
from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.lookup import label_of
from bevelbook.store.told_apart import one_of_two


class LeftWithOther(NamedTuple):
    """A value that only the other record has, with the command that takes it over; or that differs in both."""

    words: str
    command: str | None

    @property
    def line(self) -> str:
        """The same for people."""
        return self.words + (f": '{self.command}' takes it over" if self.command else "")


def left_with_others(
    connection: sqlite3.Connection, kind: Kind, stands: str, others: Iterable[str]
) -> Iterator[LeftWithOther]:
    """What the others have that the one that stands for them does not show."""
    asked = f"SELECT * FROM {kind.table} WHERE id = ?"
    held = connection.execute(asked, (stands,)).fetchone()
    name = label_of(connection, kind, stands)
    for row_id in others:
        row = connection.execute(asked, (row_id,)).fetchone()
        other = _told_apart(connection, kind, row_id, name)
        for field in kind.fields:
            value = row[field.name]
            if field.name == kind.label or value is None or value == held[field.name]:
                continue
            if field.kind == "reference" and field.target:
                shown = typed = label_of(connection, BY_NAME[field.target], value)
            else:
                shown, typed = format_value(value, field), _typed(value, field.unit)
            if held[field.name] is None:
                command = f"bevelbook record {kind.name} {in_command(name)} {in_command(f'{field.stem}={typed}')}"
                yield LeftWithOther(f"{field.words} {shown} is noted with {other} alone", command)
            elif not (field.default is not None and value == field.default):
                yield LeftWithOther(f"{field.words} {shown} of {other} does not hold: {name} has another", None)


def _told_apart(connection: sqlite3.Connection, kind: Kind, row_id: str, name: str) -> str:
    """The name of the other, with whose it is where both have one name: ``cy's rear-b``."""
    label = label_of(connection, kind, row_id)
    who = one_of_two(connection, kind, row_id).who if folded_label(label) == folded_label(name) else None
    return f"{who}'s {label}" if who else label


def _typed(value: object, unit: str | None) -> str:
    return f"{value!r}{unit or ''}" if isinstance(value, float) else str(value)
