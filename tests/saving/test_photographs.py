"""Photographs stored, shown, changed, removed, taken back and checked, by the command line; everything is invented."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from conftest import Begin, Outcome, empty_database
from photographed import save_photograph
from pictures.shots import as_file, corners
from released import released

from bevelbook.declare.errors import InputError
from bevelbook.pictures.prepare import PreparedPicture, prepared_picture
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, KINDS
from bevelbook.records.photos import HUNG_ON
from bevelbook.saving.record import WantedRecord, read_wanted, save
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.pictures import picture_bytes, thumbnail_bytes
from bevelbook.store.schema import FILE_TABLES
from bevelbook.store.structure import structure

Run = Callable[..., Outcome]
PHOTO = BY_NAME["photo"]
GROOVE = as_file(corners(), "JPEG", quality=95)


@pytest.fixture(scope="module")
def picture() -> PreparedPicture:
    return prepared_picture(GROOVE)


@pytest.fixture
def book(bevelbook: Run, begin: Begin, db: Path) -> Callable[..., Outcome]:
    """The command line on a database with one diff, its first build opened, its second one in use."""
    (db.parent / "groove.jpg").write_bytes(GROOVE)

    def run(*words: object) -> Outcome:
        return bevelbook("--db", db, "--by", "ana", *words)

    records = (
        ("diff", "label=rear-a"),
        ("build", "diff=rear-a", "built_on=2026-05-03"),
        ("build_part", "build=rear-a/1", "part=outdrive", "place=lid side"),
        ("opening", "build=rear-a/1", "opened_on=2026-05-09", "oil=grey"),
        ("build", "diff=rear-a", "built_on=2026-05-10"),
        ("fluid", "label=house 7k"),
        ("bottle", "fluid=house 7k", "lot=second"),
    )
    begin(bevelbook, db, *(("--db", db.name, "--by", "ana", "record", *words) for words in records))
    return run


def rows(db: Path, sql: str, *values: object) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(sql, values).fetchall()


def taken(book: Run, *words: str) -> Outcome:
    done = book("record", "photo", "--file", "groove.jpg", *words)
    assert done.code == 0, done.err
    return done


def test_a_photograph_is_a_record_like_others_and_its_picture_is_kept_once(book: Run, db: Path) -> None:
    said = taken(book, "build=rear-a/1", "piece=outdrive", "side=lid side", "note=a groove").out
    assert "Added photo rear-a/1 outdrive lid side" in said
    assert "64 x 32 pixels" in said
    taken(book, "opening=rear-a/1", "piece=oil", "taken_on=2026-05-09")
    taken(book, "build_part=rear-a/1 outdrive lid side", "piece=outdrive", "taken_on=2026-05-09")
    other = db.parent / "same picture.png"
    other.write_bytes(as_file(corners(), "PNG"))
    assert book("record", "photo", "--file", other, "bottle=second", "piece=label").code == 0
    assert rows(db, "SELECT count(*) FROM photos") == [(4,)]
    ((kept, came, jpeg),) = rows(
        db, "SELECT p.id, p.came_sha256, b.jpeg FROM pictures p JOIN picture_bytes b ON b.sha256 = p.id LIMIT 1"
    )
    assert kept == sha256(jpeg).hexdigest()
    assert came == sha256(GROOVE).hexdigest()
    assert rows(db, "SELECT count(*) FROM photos WHERE picture = ?", kept)[0][0] >= 3


def test_the_same_file_again_is_known_at_once_even_if_another_version_would_keep_it_otherwise(
    db: Path, picture: PreparedPicture, registry: Registry
) -> None:
    with closing(open_for_writing(db)) as connection:
        with transaction(connection, db, asked="a test", by="ana"):
            bottle = {"fluid": save(connection, registry, fluid_of(connection), "ana").row_id, "lot": "a"}
            save(connection, registry, read_wanted(connection, WantedRecord(BY_NAME["bottle"], bottle), "ana"), "ana")
        for number, one in enumerate((picture, picture._replace(id="0" * 64, jpeg=b"other"))):
            texts = {"bottle": "a", "piece": "label", "note": str(number)}
            with transaction(connection, db, asked="a test", by="ana"):
                save_photograph(connection, registry, WantedRecord(PHOTO, texts), one, "ana")
        assert [row[0] for row in connection.execute("SELECT DISTINCT picture FROM photos")] == [picture.id]
        assert picture_bytes(connection, picture.id) == picture.jpeg
        assert thumbnail_bytes(connection, picture.id) == picture.thumbnail
        for odd in ("", "0" * 64, picture.id.upper(), picture.id[:-1], f"{picture.id}' OR 1=1 --", "../team.db"):
            assert picture_bytes(connection, odd) is None
            assert thumbnail_bytes(connection, odd) is None


def fluid_of(connection: sqlite3.Connection) -> Any:
    return read_wanted(connection, WantedRecord(BY_NAME["fluid"], {"label": "house 7k"}), "ana")


def test_a_fault_after_the_picture_leaves_neither_picture_nor_photograph(
    db: Path, picture: PreparedPicture, registry: Registry
) -> None:
    with closing(open_for_writing(db)) as connection:
        with pytest.raises(InputError), transaction(connection, db, asked="a test", by="ana"):
            save_photograph(connection, registry, WantedRecord(PHOTO, {"piece": "oil"}), picture, "ana")
        with pytest.raises(RuntimeError), transaction(connection, db, asked="a test", by="ana"):
            fluid = save(connection, registry, fluid_of(connection), "ana").row_id
            texts = {"fluid": fluid, "lot": "a"}
            save(connection, registry, read_wanted(connection, WantedRecord(BY_NAME["bottle"], texts), "ana"), "ana")
            wanted = WantedRecord(PHOTO, {"bottle": "a", "piece": "label"})
            save_photograph(connection, registry, wanted, picture, "ana")
            raise RuntimeError
    for table in ("photos", "pictures", "picture_bytes", "bottles"):
        assert rows(db, f"SELECT count(*) FROM {table}") == [(0,)]


def test_it_hangs_on_exactly_one_thing(book: Run, db: Path) -> None:
    for words, code in (
        ((), "none_of_several"),
        (("build=rear-a/1", "bottle=second"), "several_of_one"),
    ):
        done = book("record", "photo", "--file", "groove.jpg", "piece=oil", *words, "--json")
        assert (done.code, done.json["code"]) == (2, code)
    taken(book, "build=rear-a/1", "piece=oil")
    assert book("record", "photo", "rear-a/1 oil", "bottle=second").code == 2
    assert book("record", "photo", "rear-a/1 oil", "build=").code == 2
    assert book("record", "photo", "rear-a/1 oil", "build=", "bottle=second").code == 0
    (row,) = rows(db, f"SELECT {', '.join(HUNG_ON)} FROM photos")
    assert sum(value is not None for value in row) == 1
    with closing(sqlite3.connect(db)) as connection:
        for change in ("bottle = NULL", "build = (SELECT id FROM builds LIMIT 1)"):
            with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
                connection.execute(f"UPDATE photos SET {change}")


def test_what_is_missing_or_wrong_is_said_and_nothing_is_stored(book: Run, db: Path) -> None:
    (db.parent / "note.jpg").write_text("not a picture", encoding="utf-8")
    for words, code in (
        (("photo", "build=rear-a/1", "piece=oil"), "no_picture_sent"),
        (("photo", "--file", "nowhere.jpg", "build=rear-a/1", "piece=oil"), "no_file"),
        (("photo", "--file", ".", "build=rear-a/1", "piece=oil"), "no_file"),
        (("photo", "--file", "note.jpg", "build=rear-a/1", "piece=oil"), "not_a_picture"),
        (("photo", "--file", "groove.jpg", "build=rear-a/1", "piece=wheel"), "piece_unknown"),
        (("photo", "--file", "groove.jpg", "build=rear-a/1", "piece=oil", "picture=x"), None),
        (("idea", "--file", "groove.jpg", "text=softer"), "not_a_photograph"),
        (("idea", "softer", "--save-as", "x.jpg"), "not_a_photograph"),
        (("photo", "--save-as", "x.jpg"), "not_a_photograph"),
        (("photo", "nobody", "--save-as", "x.jpg"), "unknown_photo"),
    ):
        done = book("record", *words, "--json")
        assert done.code == 2, words
        assert code is None or done.json["code"] == code, words
    assert rows(db, "SELECT (SELECT count(*) FROM photos), (SELECT count(*) FROM pictures)") == [(0, 0)]
    assert not (db.parent / "x.jpg").exists()


def test_the_picture_is_written_into_a_file_again_and_never_over_another(book: Run, db: Path) -> None:
    taken(book, "build=rear-a/1", "piece=outdrive")
    out = db.parent / "out.jpg"
    assert book("record", "photo", "rear-a/1 outdrive", "--save-as", out).code == 0
    assert out.read_bytes() == rows(db, "SELECT jpeg FROM picture_bytes")[0][0]
    again = book("record", "photo", "rear-a/1 outdrive", "--save-as", out, "--json")
    assert (again.code, again.json["code"]) == (2, "file_exists")


def test_changes_removal_and_taking_back_keep_the_picture_for_when_it_comes_back(book: Run, db: Path) -> None:
    taken(book, "build=rear-a/1", "piece=outdrive", "note=groove")
    ((picture,),) = rows(db, "SELECT picture FROM photos")
    assert "side: lid side" in book("record", "photo", "rear-a/1 outdrive", "side=lid side").out
    assert book("take-back").code == 0
    assert rows(db, "SELECT side FROM photos") == [(None,)]
    assert book("record", "photo", "rear-a/1 outdrive", "--remove", "twice").code == 0
    assert rows(db, "SELECT count(*) FROM photos") == [(0,)]
    assert book("take-back").code == 0
    assert rows(db, "SELECT picture, note FROM photos") == [(picture, "groove")]
    asked = [row[0] for row in rows(db, "SELECT asked FROM entries ORDER BY made_at, id")]
    number = 1 + next(place for place, words in enumerate(asked) if "--file" in words)
    assert book("take-back", number).code == 0, "all that came later was taken back"
    assert rows(db, "SELECT count(*) FROM photos") == [(0,)]
    assert rows(db, "SELECT id FROM pictures") == [(picture,)]
    assert book("take-back", len(asked) + 1).code == 0, "the take-back, by its number"
    assert rows(db, "SELECT picture FROM photos") == [(picture,)]
    assert book("check", "--json").json["faults"] == []


def test_what_it_hangs_on_is_not_removed_under_it(book: Run, db: Path) -> None:
    taken(book, "build_part=rear-a/1 outdrive lid side", "piece=outdrive")
    for kind, name in (("build", "rear-a/1"), ("build_part", "rear-a/1 outdrive lid side")):
        done = book("record", kind, name, "--remove", "no")
        assert done.code == 2
        assert "photo rear-a/1 outdrive" in done.err
    assert rows(db, "SELECT count(*) FROM build_parts") == [(1,)]


def test_no_bytes_of_a_picture_are_in_history_or_in_what_is_printed(book: Run, db: Path) -> None:
    done = taken(book, "build=rear-a/1", "piece=outdrive", "note=groove", "--json")
    ((picture,),) = rows(db, "SELECT picture FROM photos")
    assert book("record", "photo", "rear-a/1 outdrive", "note=a deep groove").code == 0
    ((content,),) = rows(db, "SELECT content FROM history WHERE table_name = 'photos'")
    assert json.loads(content)["picture"] == picture
    printed = [done.out, book("history", "photo", "rear-a/1 outdrive", "--json").out, book("history", "--json").out]
    assert max(map(len, (content, *printed))) < 5_000
    assert rows(db, "SELECT count(*) FROM history WHERE table_name IN ('pictures', 'picture_bytes')") == [(0,)]
    columns = [row[2] for kind in KINDS for row in rows(db, f"PRAGMA table_info({kind.table})")]
    assert "BLOB" not in columns


def test_the_search_finds_what_was_written_beside_it(book: Run, db: Path) -> None:
    from bevelbook.reports.search import search_records

    taken(book, "build=rear-a/1", "piece=outdrive", "note=a deep groove at the ring")
    with closing(open_for_reading(db)) as connection:
        assert [one.name for one in search_records(connection, "groov", 5)] == ["photo rear-a/1 outdrive"]


@pytest.mark.parametrize(
    ("done", "said"),
    [
        ("UPDATE picture_bytes SET jpeg = x'ffd8'", "1 photograph (rear-a/1 outdrive) shows a picture that another"),
        ("DELETE FROM picture_bytes", "1 photograph (rear-a/1 outdrive) shows a picture that another"),
        ("DELETE FROM photos; DELETE FROM history", "has lost its photograph"),
        ("DELETE FROM pictures", "photos points to pictures that are gone"),
    ],
)
def test_check_finds_a_picture_that_another_program_changed_or_left_alone(
    book: Run, db: Path, done: str, said: str
) -> None:
    taken(book, "build=rear-a/1", "piece=outdrive")
    ((picture,),) = rows(db, "SELECT picture FROM photos")
    assert book("check", "--json").json["faults"] == []
    with closing(sqlite3.connect(db)) as connection:
        connection.executescript(done)
    faults = book("check", "--json").json["faults"]
    assert any(said in one for one in faults), faults
    saved = book("record", "photo", picture, "--save-as", "out.jpg", "--json")
    if "lost" in said:
        assert saved.code == 0
        assert (db.parent / "out.jpg").read_bytes() == prepared_picture(GROOVE).jpeg
    elif "picture_bytes" in done:
        saved = book("record", "photo", "rear-a/1 outdrive", "--save-as", "out.jpg", "--json")
        assert saved.json["code"] == "picture_damaged"


def test_a_database_of_the_last_release_takes_photographs_once_it_is_upgraded(
    tmp_path: Path, picture: PreparedPicture, registry: Registry
) -> None:
    path = released(tmp_path / "old.db")
    assert not {"photos", "pictures", "picture_bytes"} & {
        row[0] for row in rows(path, "SELECT name FROM sqlite_master")
    }
    with (
        closing(open_for_writing(path)) as connection,
        closing(open_for_reading(empty_database(tmp_path / "new.db"))) as new,
    ):
        for table in ("photos", "pictures", "picture_bytes"):
            assert structure(connection)[table] == structure(new)[table]
        build = connection.execute("SELECT id FROM builds ORDER BY id LIMIT 1").fetchone()[0]
        with transaction(connection, path, asked="a test", by="ana"):
            wanted = WantedRecord(PHOTO, {"build": build, "piece": "outdrive"})
            save_photograph(connection, registry, wanted, picture, "ana")
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert picture_bytes(connection, picture.id) == picture.jpeg


def test_what_leaves_the_team_only_with_its_files_is_marked() -> None:
    """Whoever gives a book away reads the mark: kept files, pictures, and what would point to them."""
    marked = {kind.name for kind in KINDS if kind.with_files}
    assert marked == {"note_file", "picture", "photo"}
    for kind in KINDS:
        if kind.from_file is not None:
            assert kind.with_files
            assert BY_NAME[kind.field(kind.from_file).target or ""].with_files
    assert set(FILE_TABLES) == {"note_bytes", "picture_bytes"}
