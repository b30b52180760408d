"""A record is found by what people call it."""

from __future__ import annotations

import io
import sqlite3
from pathlib import Path

import pytest

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.notes.importing import import_notes
from bevelbook.notes.settings import Settings
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id, next_build_label, next_run_label
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer


def test_a_record_is_found_by_label_by_id_and_a_build_by_its_diff(
    writer: Writer, connection: sqlite3.Connection
) -> None:
    diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
    for number, day in ((1, "2026-05-03"), (2, "2026-05-10")):
        label = f"rear-a/{number}"
        last = writer.insert(BY_NAME["build"], {"label": label, "diff": diff, "built_on": day})
    assert find_id(connection, BY_NAME["diff"], "REAR-A") == diff
    assert find_id(connection, BY_NAME["build"], "rear-a") == last
    assert find_id(connection, BY_NAME["build"], last) == last
    assert next_build_label(connection, diff) == "rear-a/3"
    with pytest.raises(UnknownNameError, match="Did you mean rear-a/2"):
        find_id(connection, BY_NAME["build"], "rear-a/22")
    with pytest.raises(UnknownNameError, match='there is no stock part named "kit"'):
        find_id(connection, BY_NAME["stock_part"], "kit")
    writer.insert(BY_NAME["build"], {"label": "rear-a/2", "diff": diff, "built_on": "2026-05-11"})
    with pytest.raises(InputError, match="2 builds have that name"):
        find_id(connection, BY_NAME["build"], "rear-a/2")


def test_a_label_that_is_made_is_none_that_a_build_moved_elsewhere_still_has(
    writer: Writer, connection: sqlite3.Connection
) -> None:
    here, there = (writer.insert(BY_NAME["diff"], {"label": label}) for label in ("rear-a", "rear-b"))
    builds = [
        writer.insert(BY_NAME["build"], {"label": next_build_label(connection, here), "diff": here, "built_on": day})
        for day in ("2026-05-03", "2026-05-10")
    ]
    writer.update(BY_NAME["build"], builds[1], {"diff": there})
    assert next_build_label(connection, here) == "rear-a/3", "rear-a/2 lives on in the other diff"
    assert next_build_label(connection, there) == "rear-b/3", "its own numbers go on"
    writer.update(BY_NAME["diff"], here, {"label": "front"})
    other = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
    assert next_build_label(connection, other) == "rear-a/3", "so it is with the labels of a diff that was renamed"
    assert next_build_label(connection, here) == "front/2"


def test_a_run_moved_to_another_day_keeps_its_label_to_itself(writer: Writer, connection: sqlite3.Connection) -> None:
    day, other = "2026-05-03", "2026-05-04"
    run = writer.insert(BY_NAME["run"], {"label": next_run_label(connection, day), "run_on": day})
    writer.update(BY_NAME["run"], run, {"run_on": other})
    assert next_run_label(connection, day) == "2026-05-03/2"
    assert next_run_label(connection, other) == "2026-05-04/2"


def test_an_import_repeats_no_label_of_a_build_that_was_moved(db: Path) -> None:
    connection = open_for_writing(db)
    with transaction(connection, db):
        writer = Writer(connection, "ana")
        _, there = (writer.insert(BY_NAME["diff"], {"label": label}) for label in ("rear-a", "rear-b"))
        writer.insert(BY_NAME["build"], {"label": "rear-a/1", "diff": there, "built_on": "2026-05-01"})
        writer.insert(BY_NAME["run"], {"label": "2026-05-03/1", "run_on": "2026-05-01"})
    notes = b"date,diff,dry_mass_g,oil_mass_g,runs\n2026-05-02,rear-a,12.40,1.86,\n2026-05-03,rear-a,,,2\n"
    import_notes(io.BytesIO(notes), "notes.csv", connection, db, Settings(), by="ana")
    labels = [row[0] for row in connection.execute("SELECT label FROM builds UNION ALL SELECT label FROM runs")]
    connection.close()
    assert sorted(labels) == ["2026-05-03/1", "2026-05-03/2", "rear-a/1", "rear-a/2"]


def test_an_accent_typed_in_two_signs_finds_what_was_kept_in_one(
    writer: Writer, connection: sqlite3.Connection
) -> None:
    diff = writer.insert(BY_NAME["diff"], {"label": "zoë"})
    assert find_id(connection, BY_NAME["diff"], "zoe\u0308") == diff
