"""Copies of a book that another program changed without making a version, under whatever is written in it: what stands
in the book that takes one in stays, all of it is named, and again each time. All data are constructed.

What differs is compared with the plain rule of ``meeting_rule.py``.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from random import Random
from typing import Final

import pytest
from histories_met import take_in
from laptops import Laptop
from meeting_rule import (
    Acts,
    LeftOut,
    Versions,
    acts_in,
    kept_apart,
    left_aside,
    left_out_apart,
    left_out_in,
    met,
    versions_in,
)
from meetings import dumped
from random_histories import Player, history_of, player
from steered import steered

from bevelbook.meeting.union import Met, merge_into
from bevelbook.notes.note_columns import WORKED_OUT
from bevelbook.records import BY_TABLE, KINDS, Kind
from bevelbook.store.kept_past import NOT_VERSIONED

_SEEDS: Final = range(10)
_OF_KEPT: Final = {
    "entries": ("made_by", "asked", "reason"),
    "calculations": ("found", "calculated_at", "calculated_by", "package_version"),
    "note_files": ("name", "accepted", "skipped", "read_at"),
    "note_rejects": ("words", "value", "line"),
    "note_extras": ("cells",),
}
_SPOILED: Final = 12
"""Values that are changed in each copy."""


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Player]:
    made = player(tmp_path_factory.mktemp("laptops"), take_in)
    yield made
    for laptop in made.laptops:
        laptop.close()


def _plain_columns(kind: Kind, version: str, values: dict[str, object]) -> list[str]:
    """The columns of a version that another program may change and nothing follows from: texts and numbers, and of what
    a person wrote who wrote it."""
    aside = left_aside(kind, values)
    is_imported = version[14:15] == "8"
    names = [
        field.name
        for field in kind.fields
        if field.kind in ("text", "quantity") and field.name not in aside and field.name in values
        if not (is_imported and field.name in WORKED_OUT.get(kind.name, ()))
    ]
    return names if is_imported else [*names, "updated_by"]


def _other(value: object, random: Random) -> object:
    return value + 1.5 if isinstance(value, float) else f"not {value} {random.randrange(9)}"


def spoil(path: Path, random: Random) -> int:
    """Change some values in a copy: of what records show, and of what they showed once. Returns how many."""
    count = 0
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.row_factory = sqlite3.Row
        shown = [
            (kind, row["id"])
            for kind in KINDS
            if kind.own
            for row in connection.execute(f"SELECT id FROM {kind.table} ORDER BY id")
        ]
        past = connection.execute(
            "SELECT id FROM history WHERE content IS NOT NULL AND version <> ? ORDER BY id", (NOT_VERSIONED,)
        ).fetchall()
        for kind, row_id in random.sample(shown, min(len(shown), _SPOILED)):
            row = dict(connection.execute(f"SELECT * FROM {kind.table} WHERE id = ?", (row_id,)).fetchone())
            names = [one for one in _plain_columns(kind, row["version"], row) if row[one] is not None]
            if names:
                name = random.choice(names)
                new = _other(row[name], random)
                connection.execute(f"UPDATE {kind.table} SET {name} = ? WHERE id = ?", (new, row_id))
                count += 1
        for (number,) in random.sample(past, min(len(past), _SPOILED)):
            table, version, text = connection.execute(
                "SELECT table_name, version, content FROM history WHERE id = ?", (number,)
            ).fetchone()
            values = json.loads(text)
            if not BY_TABLE[table].own or values is None:
                continue
            names = [one for one in _plain_columns(BY_TABLE[table], version, values) if values.get(one) is not None]
            if names:
                name = random.choice(names)
                values[name] = _other(values[name], random)
                connection.execute("UPDATE history SET content = ? WHERE id = ?", (json.dumps(values), number))
                count += 1
        return count + _spoil_kept(connection, random)


def _spoil_kept(connection: sqlite3.Connection, random: Random) -> int:
    """The same to some of what has no versions: entries, kept results and files, as they are and as they were."""
    count = 0
    for table, columns in _OF_KEPT.items():
        ids = [row[0] for row in connection.execute(f"SELECT id FROM {table} ORDER BY id")]
        for row_id in random.sample(ids, min(len(ids), 3)):
            name = random.choice(columns)
            (value,) = connection.execute(f"SELECT {name} FROM {table} WHERE id = ?", (row_id,)).fetchone()
            connection.execute(
                f"UPDATE {table} SET {name} = ? WHERE id = ?", (_other_kept(name, value, random), row_id)
            )
            count += 1
    past = connection.execute(
        "SELECT id, table_name, content FROM history WHERE version = ? AND content <> 'null' "
        "AND table_name IN ('calculations', 'note_files', 'note_rejects', 'note_extras') ORDER BY id",
        (NOT_VERSIONED,),
    ).fetchall()
    for number, table, text in random.sample(past, min(len(past), 3)):
        values = json.loads(text)
        name = random.choice(_OF_KEPT[table])
        values[name] = _other_kept(name, values[name], random)
        connection.execute("UPDATE history SET content = ? WHERE id = ?", (json.dumps(values), number))
        count += 1
    return count


def _other_kept(name: str, value: object, random: Random) -> object:
    if name in ("found", "cells"):
        return json.dumps({"not": random.randrange(9)})
    return value + 1 if isinstance(value, int) else f"{random.choice(('', 'zz '))}not {value}"


def _held(path: Path) -> Versions:
    with closing(sqlite3.connect(path)) as connection:
        connection.row_factory = sqlite3.Row
        return versions_in(connection)


def _named(found: Met) -> set[tuple[tuple[str, str], str, str]]:
    return {
        ((one.kind.table, one.row_id), one.version, column)
        for one in found.apart
        if one.kind.own
        for column in one.columns
    }


def _kept_named(found: Met) -> set[tuple[tuple[str, str], str]]:
    return {((one.kind.table, one.row_id), column) for one in found.apart if not one.kind.own for column in one.columns}


def _acts(path: Path) -> Acts:
    with closing(sqlite3.connect(path)) as connection:
        connection.row_factory = sqlite3.Row
        return acts_in(connection)


def _left_out(path: Path) -> LeftOut:
    with closing(sqlite3.connect(path)) as connection:
        connection.row_factory = sqlite3.Row
        return left_out_in(connection)


def _contents(held: Versions) -> dict[tuple[str, str, str], str | None]:
    return {(*record, name): one.content for record, versions in held.items() for name, one in versions.items()}


def _takes_in(laptop: Laptop, sent: Path) -> Met:
    return merge_into(laptop.connection, laptop.path, sent)


@pytest.mark.parametrize("seed", _SEEDS)
def test_what_stands_in_a_book_stays_and_what_a_spoiled_copy_says_is_named_each_time(
    played: Player, tmp_path: Path, seed: int
) -> None:
    random = Random(f"spoiled {seed}")
    played.play(history_of(seed))
    with steered(played.steering):
        first, second, _ = played.laptops
        _takes_in(first, second.to_send(tmp_path / "second.db"))
        assert _takes_in(first, first.to_send(tmp_path / "own.db")).is_empty
        copy = first.to_send(tmp_path / "copy.db")
        count = spoil(copy, random)
        whole, theirs = versions_in(first.connection), _held(copy)
        before = dumped(first.connection)
        _, apart = met(whole, theirs)
        kept = kept_apart(acts_in(first.connection), _acts(copy))
        kept |= left_out_apart(left_out_in(first.connection), _left_out(copy))
        assert 0 < len(apart) + len(kept) <= count
        assert {record[0] for record, _ in kept} >= {"entries"}
        for _ in range(2):
            found = _takes_in(first, copy)
            assert _named(found) == apart
            assert _kept_named(found) == kept
            assert dumped(first.connection) == before
            assert not found.is_empty and found.is_unchanged
        _takes_in(second, copy)
        held, copied = versions_in(second.connection), _contents(theirs)
        acts, left_out = acts_in(second.connection), left_out_in(second.connection)
        found = _takes_in(second, first.to_send(tmp_path / "sound.db"))
        assert _named(found) == met(held, whole)[1]
        assert _kept_named(found) == kept_apart(acts, acts_in(first.connection)) | left_out_apart(
            left_out, left_out_in(first.connection)
        )
        assert acts_in(second.connection) == acts
        now = _contents(versions_in(second.connection))
        for record, version, _ in _named(found):
            assert now[*record, version] == _contents(held)[*record, version]
        assert now.keys() == copied.keys(), "every version is there, and none that was not"
