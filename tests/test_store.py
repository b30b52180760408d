"""The database: what it takes, what it refuses, what it remembers."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from uuid import UUID

import pytest
from conftest import FIXED_NOW

from bevelbook.errors import DatabaseError, InputError, UnknownNameError
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.finding import find_id, next_build_label
from bevelbook.store.ids import content_id, new_id
from bevelbook.store.migrations import LAST_STEP, STEP_WHY, renew_triggers_and_views, step_statements
from bevelbook.store.opening import new_database, open_for_reading, open_for_writing, transaction
from bevelbook.store.schema import APPLICATION_ID, columns_of, schema_sql, trigger_sql
from bevelbook.store.views import VIEWS, view_sql
from bevelbook.store.writing import Writer

SCHEMAS = Path(__file__).parent / "schema"


def schema_of(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    rows = connection.execute(
        "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE '%\\_sqlite%' ESCAPE '\\'"
    )
    return {(row[0], row[1]): row[2] for row in rows}


def test_the_steps_make_just_what_the_declarations_say(tmp_path: Path) -> None:
    stepped = new_database(tmp_path / "stepped.db")
    declared = sqlite3.connect(":memory:")
    for statement in (*schema_sql(), *trigger_sql(), *view_sql()):
        declared.execute(statement)
    assert schema_of(stepped) == schema_of(declared)
    stepped.close()
    declared.close()


def test_every_step_says_why_it_is_there() -> None:
    assert list(STEP_WHY) == list(range(1, LAST_STEP + 1))
    assert all(step_statements(number) for number in STEP_WHY)


@pytest.mark.parametrize("dump", sorted(SCHEMAS.glob("*.sql")), ids=lambda path: path.stem)
def test_a_database_of_each_released_schema_with_rows_upgrades_and_keeps_them(dump: Path, tmp_path: Path) -> None:
    path = tmp_path / "old.db"
    old = sqlite3.connect(path)
    old.create_function("bevelbook_hash", 1, lambda text: "h")
    old.executescript(dump.read_text(encoding="utf-8"))
    old.close()
    connection = open_for_writing(path)
    try:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == LAST_STEP
        assert connection.execute("SELECT label FROM builds").fetchall()[0][0] == "rear-a/1"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        found = schema_of(connection)
    finally:
        connection.close()
    fresh = new_database(tmp_path / "fresh.db")
    assert found == schema_of(fresh)
    fresh.close()


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
def test_every_view_answers_and_describes_columns_that_it_has(connection: sqlite3.Connection, view) -> None:  # type: ignore[no-untyped-def]
    columns = [one[0] for one in connection.execute(f"SELECT * FROM {view.name}").description]
    assert set(view.columns) <= set(columns)
    declared = {column for kind in KINDS for column in columns_of(kind)}
    undescribed = set(columns) - set(view.columns) - declared
    assert undescribed == set(), "neither a declared field nor described by the view"


def test_a_database_bears_our_application_id_and_its_step(db: Path) -> None:
    head = db.read_bytes()[:100]
    assert int.from_bytes(head[68:72], "big") == APPLICATION_ID
    assert int.from_bytes(head[60:64], "big") == LAST_STEP


def test_a_new_database_does_not_take_a_name_that_is_taken(db: Path) -> None:
    with pytest.raises(DatabaseError, match="something under that name"):
        new_database(db)


def test_a_new_database_needs_its_folder(tmp_path: Path) -> None:
    with pytest.raises(DatabaseError, match="no such folder"):
        new_database(tmp_path / "nowhere" / "team.db")


def test_what_is_no_database_of_ours_is_refused(tmp_path: Path) -> None:
    for name, content in (("a.txt", b"hello"), ("empty.db", b"")):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(DatabaseError, match="no bevelbook database"):
            open_for_writing(tmp_path / name)
    foreign = sqlite3.connect(tmp_path / "foreign.db")
    foreign.execute("CREATE TABLE t (x)")
    foreign.close()
    with pytest.raises(DatabaseError, match="no bevelbook database"):
        open_for_reading(tmp_path / "foreign.db")
    with pytest.raises(DatabaseError, match="this is a folder"):
        open_for_reading(tmp_path)
    with pytest.raises(DatabaseError, match="no such database"):
        open_for_reading(tmp_path / "none.db")


def test_a_newer_database_is_refused_and_an_older_one_names_the_command(db: Path) -> None:
    connection = sqlite3.connect(db)
    connection.execute(f"PRAGMA user_version = {LAST_STEP + 1}")
    connection.close()
    with pytest.raises(DatabaseError, match="newer version"):
        open_for_writing(db)
    connection = sqlite3.connect(db)
    connection.execute(f"PRAGMA user_version = {LAST_STEP - 1}")
    connection.close()
    with pytest.raises(DatabaseError, match="new --migrate"):
        open_for_reading(db)


def test_an_older_database_is_backed_up_before_it_is_migrated(db: Path) -> None:
    connection = sqlite3.connect(db)
    connection.execute(f"PRAGMA user_version = {LAST_STEP - 1}")
    connection.close()
    open_for_writing(db).close()
    copy = db.with_name(f"team.before-step-{LAST_STEP}.db")
    assert copy.read_bytes()[60:64] == (LAST_STEP - 1).to_bytes(4, "big")


def test_a_locked_database_says_so_and_nothing_changes(db: Path) -> None:
    holder = sqlite3.connect(db, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    connection = open_for_writing(db, busy_seconds=0.1)
    with (
        pytest.raises(DatabaseError, match="database is locked by another program") as caught,
        transaction(connection, db),
    ):
        connection.execute("SELECT 1")
    assert caught.value.code == "locked"
    connection.close()
    holder.rollback()
    holder.close()


def test_a_fault_inside_a_transaction_leaves_nothing(db: Path) -> None:
    connection = open_for_writing(db)
    with pytest.raises(RuntimeError), transaction(connection, db):
        Writer(connection, None).insert(BY_NAME["person"], {"name": "ana"})
        raise RuntimeError
    assert connection.execute("SELECT count(*) FROM people").fetchone()[0] == 0
    connection.close()


def test_after_a_transaction_the_file_is_whole_without_its_log(db: Path) -> None:
    connection = open_for_writing(db)
    with transaction(connection, db):
        Writer(connection, None).insert(BY_NAME["person"], {"name": "ana"})
    copy = db.with_name("copy.db")
    copy.write_bytes(db.read_bytes())
    connection.close()
    reader = open_for_reading(copy)
    assert reader.execute("SELECT name FROM people").fetchone()[0] == "ana"
    reader.close()


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


def test_every_change_and_removal_keeps_the_old_row_with_its_hash(
    writer: Writer, connection: sqlite3.Connection
) -> None:
    venue = writer.insert(BY_NAME["venue"], {"name": "Tannery Hall"})
    assert writer.update(BY_NAME["venue"], venue, {"surface": "carpet"})
    assert not writer.update(BY_NAME["venue"], venue, {"surface": "carpet"})
    connection.execute("DELETE FROM venues WHERE id = ?", (venue,))
    rows = connection.execute("SELECT what, old, content_hash, replaced_by FROM history ORDER BY id").fetchall()
    assert [row["what"] for row in rows] == ["changed", "removed"]
    assert json.loads(rows[0]["old"])["surface"] is None
    assert json.loads(rows[1]["old"])["surface"] == "carpet"
    assert rows[0]["content_hash"] != rows[1]["content_hash"]
    assert rows[0]["replaced_by"] == "ana"


def test_equal_content_has_an_equal_hash_whoever_wrote_it_and_when(connection: sqlite3.Connection) -> None:
    hashes = []
    for by, now in (("ana", FIXED_NOW), ("bo", "2026-06-01T00:00:00.000Z")):
        writer = Writer(connection, by, lambda now=now: now)  # type: ignore[misc]
        writer.insert(BY_NAME["venue"], {"name": "North Quay"}, row_id="same")
        connection.execute("DELETE FROM venues WHERE id = 'same'")
        hashes.append(connection.execute("SELECT content_hash FROM history ORDER BY id DESC").fetchone()[0])
    assert hashes[0] == hashes[1]


def test_triggers_are_renewed_after_a_table_was_altered(connection: sqlite3.Connection) -> None:
    before = schema_of(connection)
    connection.execute("DROP TRIGGER builds_changed")
    connection.execute("CREATE VIEW calc_kept AS SELECT 1 AS one")
    renew_triggers_and_views(connection)
    after = schema_of(connection)
    assert after.pop(("view", "calc_kept"))
    assert after == before


def test_search_follows_insert_update_and_removal(writer: Writer, connection: sqlite3.Connection) -> None:
    def hits(word: str) -> int:
        return len(
            connection.execute("SELECT rowid FROM venues_search WHERE venues_search MATCH ?", (word,)).fetchall()
        )

    venue = writer.insert(BY_NAME["venue"], {"name": "Brickfield", "note": "dusty by noon"})
    assert hits("dusty") == 1
    writer.update(BY_NAME["venue"], venue, {"note": "damp by noon"})
    assert (hits("dusty"), hits("damp")) == (0, 1)
    connection.execute("DELETE FROM venues")
    assert hits("damp") == 0


def test_ids_by_hand_are_version_7_and_rise() -> None:
    first, second = UUID(new_id()), UUID(new_id())
    assert first.version == second.version == 7
    assert first < second


def test_ids_by_content_are_version_8_sort_by_day_and_count_occurrences() -> None:
    first = content_id("2024-02-14", "a")
    assert first == content_id("2024-02-14", "a")
    assert UUID(first).version == 8
    assert UUID(first).variant == "specified in RFC 4122"
    assert first < content_id("2024-02-15", "a")
    assert len({first, content_id("2024-02-14", "a", 1), content_id("2024-02-14", "b")}) == 3


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
    writer.insert(BY_NAME["build"], {"label": "rear-a/2", "diff": diff, "built_on": "2026-05-11"})
    with pytest.raises(InputError, match="2 builds are called that"):
        find_id(connection, BY_NAME["build"], "rear-a/2")


def test_a_declared_default_is_filled_in(writer: Writer, connection: sqlite3.Connection) -> None:
    writer.insert(BY_NAME["fluid"], {"label": "house 7k"})
    writer.insert(BY_NAME["fluid"], {"label": "stiff putty", "medium": "putty"})
    assert [row[0] for row in connection.execute("SELECT medium FROM fluids ORDER BY label")] == ["oil", "putty"]
